"""Weights from a log's own cases: shrinkage by hand, its limits, and what never changes."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.evidence.catalogue import MODES, load_catalogue
from analysis.evidence.learning import Case, compare, count_cases, learned
from analysis.evidence.observations import Seen

BOOK = load_catalogue()
CODES = [entry.code for entry in BOOK.answers()]


def cases(mode: str, code: str, yes: int, no: int) -> list[Case]:
    """So many cases of a mode in which the sight was seen, and looked for and not seen."""
    return [Case(mode, (Seen(code, "yes"),))] * yes + [Case(mode, (Seen(code, "no"),))] * no


def p_yes(log: list[Case], code: str, mode: str, strength: float = 20) -> float:
    """P(yes | mode) after the log."""
    return learned(BOOK, count_cases(log, BOOK), strength).observations[code].likelihood[mode][0]


def test_beta_by_hand() -> None:
    """Gelman et al., Bayesian Data Analysis sec. 2.4: mean (a + y)/(a + b + n); 0.60 worth 20, 2 of 10 seen: 14/30."""
    assert BOOK.observations["drawn_lips"].likelihood["overload"][0] == pytest.approx(0.60)
    assert p_yes(cases("overload", "drawn_lips", 2, 8), "drawn_lips", "overload") == pytest.approx(14 / 30)


def test_dirichlet_by_hand() -> None:
    """Sec. 3.4 of the same: mean (a_k + n_k)/(sum a + n), for a measure in ranges; doubt counts in parts."""
    file = BOOK.observations["rub_area"].likelihood["overload"]
    log = [Case("overload", (Seen("rub_area", "yes", shares=(0.5, 0.5, 0.0)),))] * 4
    found = learned(BOOK, count_cases(log, BOOK), 20).observations["rub_area"].likelihood["overload"]
    expected = [(20 * p + n) / 24 for p, n in zip(file, (2, 2, 0), strict=True)]
    assert found == pytest.approx(expected)


def test_no_case_leaves_the_file() -> None:
    """Without counts every probability is the file's own."""
    same = learned(BOOK, count_cases([], BOOK), 20)
    for code, entry in BOOK.observations.items():
        for mode in MODES:
            assert same.observations[code].likelihood[mode] == pytest.approx(entry.likelihood[mode])


def test_many_cases_win() -> None:
    """With 2000 cases the log's own share stands, whatever the file said (law of large numbers)."""
    assert p_yes(cases("overload", "powder", 600, 1400), "powder", "overload") == pytest.approx(0.30, abs=0.01)


@given(st.sampled_from(CODES), st.sampled_from(MODES), st.integers(0, 400), st.integers(0, 400), st.floats(1, 100))
def test_it_lies_between_the_file_and_the_log(code: str, mode: str, yes: int, no: int, strength: float) -> None:
    """A shrunk share lies between what the file says and what was counted, within 0.01 to 0.99."""
    after = p_yes(cases(mode, code, yes, no), code, mode, strength)
    file = BOOK.observations[code].likelihood[mode][0]
    counted = yes / (yes + no) if yes + no else file
    assert min(file, counted, 0.99) - 1e-9 <= after <= max(file, counted, 0.01) + 1e-9
    assert 0.01 - 1e-9 <= after <= 0.99 + 1e-9


def test_cant_tell_counts_nowhere_and_a_case_counts_once() -> None:
    """Two faces of one break with one measure are one case; an open answer is none."""
    double = Seen("rub_area", "yes", shares=(1, 0, 0)), Seen("rub_area", "yes", shares=(0, 0, 1))
    counts = count_cases([Case("overload", (Seen("powder", "cant_tell"), *double))], BOOK)
    assert sum(counts["powder"]["overload"]) == 0
    assert counts["rub_area"]["overload"] == [0.5, 0.0, 0.5]


def test_only_the_stated_mode_learns() -> None:
    """Cases of one mode leave the probabilities under the other three as they were."""
    after = learned(BOOK, count_cases(cases("overload", "powder", 50, 0), BOOK), 20).observations["powder"]
    for mode in set(MODES) - {"overload"}:
        assert after.likelihood[mode] == pytest.approx(BOOK.observations["powder"].likelihood[mode])


@pytest.mark.parametrize("strength", [0.0, -1.0, math.nan])
def test_the_file_always_has_a_say(strength: float) -> None:
    """A strength of nothing is refused."""
    with pytest.raises(ValueError, match="no say"):
        learned(BOOK, {}, strength)


def test_a_log_that_differs_from_the_file_does_better_with_its_own_weights() -> None:
    """Where a bench's overloads come without drawn lips and its weak welds with them, the log learns it.

    Drawn at random from turned-round likelihoods; judged on cases kept out of the counts.
    """
    draw = random.Random(7)
    turned = {"overload": 0.05, "layer_delamination": 0.9, "under_extrusion": 0.2, "interference_rub": 0.15}
    log = [
        Case(mode, (Seen("drawn_lips", "yes" if draw.random() < turned[mode] else "no"),))
        for mode in ("overload", "layer_delamination") * 60
    ]
    found = compare(log, BOOK.prior, BOOK, 20)
    assert found.cases == 120
    assert found.log_given > found.file_given + 0.1


def test_a_case_does_not_judge_itself() -> None:
    """One case alone is compared with counts of no case, so both sets of weights give the same."""
    found = compare(cases("overload", "drawn_lips", 1, 0), BOOK.prior, BOOK, 20)
    assert found.log_given == pytest.approx(found.file_given)
