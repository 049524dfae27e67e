"""What the benchmark of verdicts promises: honest answers from the truth alone, and scores that count what they say."""

import ast
import inspect
from dataclasses import replace
from pathlib import Path

import pytest

from analysis.evidence.catalogue import MODES, load_catalogue
from analysis.evidence.observations import Seen
from tests.bench import honest
from tests.bench.honest import RULES, Sights, answer, asked_and_answered, sights_of
from tests.bench.verdict_table import ROWS, Told, confusion, verdict_table

FACES = Path(__file__).parents[1] / "faces"
SOUND = Sights(torn=0.92, rim=False, planes=1, crossed=None, starved=0.0, common_mm=0.0)


def told(truth: str, primary: str, share: float, profile: str = "easy") -> Told:
    """A verdict that gives `share` to one mode and the rest evenly to the others."""
    best = primary if primary in MODES else truth
    rest = (1 - share) / 3
    return Told("face", profile, truth, primary, {m: share if m == best else rest for m in MODES})


class TestHonestPerson:
    def test_the_label_is_never_read(self) -> None:
        """No rule and no sight looks at the mode."""
        tree = ast.parse(inspect.getsource(honest))
        words = {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant)}
        assert not words & {"labels", "primary", "secondary", "gap_pattern", "seed", *MODES}

    def test_every_rule_answers_a_question_that_is_asked(self) -> None:
        """A rule whose observation was renamed would silently answer "can't tell"."""
        assert set(RULES) <= {entry.code for entry in load_catalogue().answers()}

    def test_a_sound_face(self) -> None:
        """Whitened all over, one plane, nothing missing."""
        said = {code: answer(code, SOUND) for code in RULES}
        seen = {code for code, word in said.items() if word == "yes"}
        assert seen == {"whitening_most", "one_layer_plane"}
        assert "cant_tell" not in said.values()

    def test_what_nobody_could_read_off_the_truth(self) -> None:
        """Blows, smells and binding aren't in it."""
        for code in ("overload_seen", "ordinary_load", "chemical_at_origin", "bound_before", "powder"):
            assert answer(code, SOUND) == "cant_tell"

    def test_near_the_border_of_the_words_nothing_is_claimed(self) -> None:
        """Half the contact pale is neither most of it nor not."""
        assert answer("whitening_most", replace(SOUND, torn=0.5)) == "cant_tell"
        assert answer("bare_roads_both", replace(SOUND, torn=0.75)) == "cant_tell"

    def test_starved_face_by_its_truth(self) -> None:
        """Face 25 lacks 16 % of its walls; face 04 lacks nothing."""
        assert answer("thin_roads", sights_of(FACES / "face_25")) == "yes"
        assert answer("thin_roads", sights_of(FACES / "face_04")) == "no"
        assert answer("gaps_mate", sights_of(FACES / "face_04")) == "no"

    @pytest.mark.parametrize(("skip", "most"), [(False, 5), (True, 30)])
    def test_five_are_asked_or_answered(self, skip: bool, most: int) -> None:
        """Five questions, or as many as it takes until five were answered; none twice."""
        given = asked_and_answered([Seen("came_apart", "yes")], SOUND, 5, skip)
        codes = [one.code for one in given]
        assert len(set(codes)) == len(codes) <= most
        counted = [one for one in given if not skip or one.answer != "cant_tell"]
        assert len(counted) == 5


class TestTable:
    def score(self, row: int, cases: list[Told]) -> float | None:
        """One row's score."""
        return ROWS[row][1](cases)

    def test_undetermined_counts_as_wrong(self) -> None:
        """It is no right answer even where the best guess is right."""
        cases = [told("overload", "overload", 0.9), told("overload", "undetermined", 0.55)]
        assert self.score(0, cases) == 0.5
        assert self.score(1, cases) == 0.5
        assert self.score(2, cases) == 1.0

    def test_sure_ones_alone_are_judged_where_sure(self) -> None:
        """Below 80 % a wrong mode doesn't count there; without a sure one there is no figure."""
        wrong = told("overload", "under_extrusion", 0.7)
        assert self.score(3, [wrong, told("overload", "overload", 0.8)]) == 1.0
        assert self.score(3, [wrong]) is None

    def test_brier_of_one_case(self) -> None:
        """0.7 for the true mode, 0.1 for each other: 0.09 + 3 x 0.01."""
        assert self.score(4, [told("overload", "overload", 0.7)]) == pytest.approx(0.12)

    def test_printed_with_profiles_intervals_and_confusion(self) -> None:
        """Each profile's count stands at its head, and each true mode's row adds up."""
        cases = [told("overload", "overload", 0.9), told("layer_delamination", "undetermined", 0.5, "hard")] * 4
        text = "\n".join(verdict_table(cases, "Title"))
        for part in ("easy (4)", "typical (0)", "hard (4)", "all (8)", "[", "0.500"):
            assert part in text
        counts = [[int(v) for v in row.split()[1:]] for row in confusion(cases)[1:]]
        assert [sum(row) for row in counts] == [4, 4]
