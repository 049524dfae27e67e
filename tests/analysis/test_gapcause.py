"""What answers and photo point to as the cause of a gap."""

from itertools import product

import pytest

from analysis.measures.gapcause import CAUSES, QUESTIONS, Hint, confirmed_words, point_to


class TestPointTo:
    @pytest.mark.parametrize(
        ("answers", "hint", "cause"),
        [
            ({}, Hint(), ""),
            ({"model": "no"}, Hint(at_seam=True), "design"),
            ({"toolpath": "no"}, Hint(), ""),
            ({"toolpath": "no", "model": "yes"}, Hint(), "slicing"),
            ({"toolpath": "yes", "seam": "yes"}, Hint(confirmed=0.0), "seam"),
            ({}, Hint(at_seam=True), "seam"),
            ({"seam": "no", "toolpath": "yes"}, Hint(at_seam=True), "extrusion"),
            ({}, Hint(at_seam=True, whole_stretch=True), ""),
            ({"toolpath": "yes"}, Hint(confirmed=0.1), "torn_out"),
            ({"toolpath": "yes"}, Hint(confirmed=0.9), "extrusion"),
            ({"toolpath": "yes", "outside": "yes"}, Hint(), "extrusion"),
        ],
    )
    def test_cases_of_the_trade(self, answers: dict[str, str], hint: Hint, cause: str) -> None:
        """Each way through the questions ends where practice ends (common practice, no source)."""
        assert point_to(answers, hint).cause == cause

    def test_always_says_why(self) -> None:
        """Every combination of answers gives a sentence and a known cause or none; "can't tell" never settles it."""
        for given in product(("yes", "no", "cant_tell"), repeat=len(QUESTIONS)):
            pointer = point_to(dict(zip(QUESTIONS, given, strict=True)), Hint())
            assert pointer.cause in {"", *CAUSES}
            assert pointer.why.endswith((".", ":"))
        assert point_to(dict.fromkeys(QUESTIONS, "cant_tell"), Hint()).cause == ""


def test_confirmed_is_the_likelier_of_the_two() -> None:
    """More than half of a gap confirmed is yes, nothing known is can't tell, never no."""
    assert [confirmed_words(share) for share in (None, 0.0, 0.5, 0.51, 1.0)] == ["cant_tell", "no", "no", "yes", "yes"]
