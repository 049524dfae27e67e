"""Breaks told in words: the verdict that the handbooks' features name is the one that the program names."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from analysis.evidence.catalogue import MODES, load_catalogue
from analysis.evidence.observations import Seen
from analysis.evidence.verdict import UNDETERMINED, Verdict, weigh

BOOK = load_catalogue()
TEXT = (Path(__file__).parents[1] / "cases" / "written_cases.toml").read_text(encoding="utf-8")
FEATURES: dict[str, dict[str, str]] = tomllib.loads(TEXT)["feature"]
CASES: list[dict[str, Any]] = tomllib.loads(TEXT)["case"]
STATUSES = {"from memory", "direction from the source", "common practice, no source"}

every_case = pytest.mark.parametrize("case", CASES, ids=lambda case: case["code"])


def verdict_of(case: dict[str, Any]) -> Verdict:
    """What the program says to the answers alone."""
    return weigh([Seen(entry["seen"], entry["answer"]) for entry in case["features"]])


class TestFile:
    def test_there_are_enough_and_of_every_kind(self) -> None:
        """Sixteen or more; each mode, undetermined ones, contradictions, and the causes that come beside."""
        assert len(CASES) >= 16
        assert len({case["code"] for case in CASES}) == len(CASES)
        for outcome in (*MODES, UNDETERMINED):
            assert sum(case["expected"] == outcome for case in CASES) >= 3
        assert sum("sides" in case for case in CASES) >= 3
        causes = {cause for case in CASES for cause in case.get("causes", ())}
        assert causes >= {"fatigue", "chemical_cracking", "heat_softening", "notch", "moisture", "orientation"}

    @every_case
    def test_each_answer_stands_for_a_feature_with_its_status(self, case: dict[str, Any]) -> None:
        """Every answer is one that is asked for, and its feature says where it comes from."""
        assert len(case["features"]) >= 4
        for entry in case["features"]:
            assert BOOK.observations[entry["seen"]].kind == "answer"
            assert FEATURES[entry["feature"]]["status"] in STATUSES
            assert FEATURES[entry["feature"]]["source"]


def _marked(case: dict[str, Any]) -> Any:
    """A case that the program is known to miss says why, and is to fail until it doesn't."""
    marks = [pytest.mark.xfail(reason=case["falls_short"])] if "falls_short" in case else []
    return pytest.param(case, id=case["code"], marks=marks)


@pytest.mark.parametrize("case", [_marked(case) for case in CASES])
def test_the_expected_mode_is_named(case: dict[str, Any]) -> None:
    """The mode written down before the program was asked, or undetermined with a reason."""
    verdict = verdict_of(case)
    assert verdict.primary == case["expected"], (verdict.probabilities, verdict.undetermined_because)
    assert bool(verdict.undetermined_because) == (case["expected"] == UNDETERMINED)


@every_case
def test_the_contributing_causes_stand_beside(case: dict[str, Any]) -> None:
    """Causes are raised as far as a contributing mode has to be, or spoken against, whatever the mode."""
    raised = {cause.code: cause.weight_db for cause in verdict_of(case).causes}
    for cause in case.get("causes", ()):
        assert raised[cause] >= BOOK.settings["contributing_db"]
    for cause in case.get("not_causes", ()):
        assert raised.get(cause, 0.0) <= 0


def test_few_are_missed() -> None:
    """Most of what the handbooks say comes out; the rest is named in the file, not left out of it."""
    assert sum("falls_short" in case for case in CASES) <= 1


@pytest.mark.parametrize("case", [c for c in CASES if "sides" in c], ids=lambda case: case["code"])
def test_a_contradiction_says_what_speaks_against_what(case: dict[str, Any]) -> None:
    """Something of each side is named in the reason."""
    because = str(verdict_of(case).undetermined_because)
    for side in case["sides"]:
        assert any(BOOK.observations[code].words in because for code in side), because
