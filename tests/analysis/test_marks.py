"""What a few marks do to a measurement: nothing without any, what they say with some, and width where they fight."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from analysis.command_measure import main
from analysis.common.classes import BARE, BONDED, UNKNOWN
from analysis.examine import examine
from analysis.measures.gaps import find_gaps
from analysis.measures.marked import CHECKED, reader_factors
from analysis.roads.walls import find_walls, trace_walls
from analysis.roads.workview import Workview
from analysis.welds.adapting import Adaptation, adapt, likeliest, log_odds
from analysis.welds.bonding import BARE_P, BONDED_P, Reading
from analysis.welds.marks import Mark, MarkRefused, check_marks, disc, spared, untold
from tests.analysis.drawn_face import ROAD_PHOTO_PX, circle, radius_map, view_of
from tests.analysis.test_examine import _request

CENTRE = (500.0, 500.0)
LEFT, RIGHT = (380.0, 500.0), (640.0, 500.0)


@pytest.fixture(scope="module")
def view() -> Workview:
    return view_of(circle(CENTRE, 300))


@pytest.fixture(scope="module")
def reading(view: Workview) -> Reading:
    """Contact everywhere; the left half is thought likelier bonded than the right, both over-read by one unit."""
    cols = np.arange(view.inside.shape[1])
    odds = np.where(cols < view.from_photo(np.array(CENTRE))[0], 1.5, 0.5) * np.ones(view.inside.shape)
    share = 1 / (1 + np.exp(-odds))
    classes = np.zeros((*view.inside.shape, 4), np.float32)
    classes[..., BONDED_P], classes[..., BARE_P] = share, 1 - share
    none = np.zeros(view.inside.shape, np.float32)
    return Reading(classes * view.inside[..., None], none, none, 0.0)


def mark(place: tuple[float, float], code: int) -> Mark:
    return Mark(*place, 0.3 * ROAD_PHOTO_PX, code)


def bonded_at(view: Workview, reading: Reading, place: tuple[float, float]) -> float:
    here = disc(view, mark(place, BONDED))
    return float(reading.classes[..., BONDED_P][here].mean())


class TestAdapt:
    def test_no_marks_change_nothing(self, view: Workview, reading: Reading) -> None:
        """Not a bit: the very same reading comes back."""
        same, found = adapt(view, reading, ())
        assert same is reading
        assert found is None

    def test_marks_are_heeded_where_they_stand_and_elsewhere(self, view: Workview, reading: Reading) -> None:
        """One of each kind on a face that is over-read: the bare one falls, so do places like it far from any mark."""
        moved, found = adapt(view, reading, [mark(LEFT, BONDED), mark(RIGHT, BARE)])
        assert bonded_at(view, moved, RIGHT) < 0.5 < bonded_at(view, moved, LEFT)
        far = (600.0, 720.0)
        assert bonded_at(view, moved, far) < bonded_at(view, reading, far) - 0.02
        assert found is not None
        assert (found.bonded, found.bare, found.off) == (1, 1, 0)

    @settings(max_examples=15)
    @given(st.lists(st.tuples(st.integers(300, 700), st.integers(300, 700)), min_size=1, max_size=6))
    def test_more_bonded_marks_never_mean_less_bonded(self, places: list[tuple[int, int]]) -> None:
        """Whatever lies where, marks that all say bonded don't lower the bonded area under them."""
        view = view_of(circle(CENTRE, 300))
        classes = np.zeros((*view.inside.shape, 4), np.float32)
        classes[..., BONDED_P], classes[..., BARE_P] = 0.4, 0.6
        none = np.zeros(view.inside.shape, np.float32)
        reading = Reading(classes * view.inside[..., None], none, none, 0.0)
        moved, _ = adapt(view, reading, [mark((float(x), float(y)), BONDED) for x, y in places])
        assert moved.classes[..., BONDED_P].sum() > reading.classes[..., BONDED_P].sum()
        np.testing.assert_allclose(moved.classes.sum(-1), reading.classes.sum(-1), rtol=0, atol=1e-5)

    def test_order_of_marks_changes_nothing(self, view: Workview, reading: Reading) -> None:
        """Marks are a set."""
        marks = [mark(LEFT, BONDED), mark(RIGHT, BARE), mark((500.0, 640.0), BARE)]
        first, second = adapt(view, reading, marks)[0], adapt(view, reading, marks[::-1])[0]
        np.testing.assert_allclose(first.classes, second.classes, rtol=0, atol=1e-5)

    def test_a_mark_off_the_face_moves_nothing(self, view: Workview, reading: Reading) -> None:
        """It is counted as off, and the reading stays."""
        same, found = adapt(view, reading, [mark((20.0, 20.0), BONDED)])
        assert same is reading
        assert found == Adaptation(0, 0, 1, {}, 0.0)

    def test_a_marked_place_is_no_gap(self, view: Workview, reading: Reading) -> None:
        """Where a road was thought missing and the person sees one, there is contact."""
        classes = reading.classes.copy()
        classes[disc(view, mark(LEFT, BONDED))] = (0, 0, 1, 0)
        moved, _ = adapt(view, replace(reading, classes=classes), [mark(LEFT, BONDED), mark(RIGHT, BARE)])
        assert bonded_at(view, moved, LEFT) > 0.4


def test_a_marked_road_parts_a_gap(view: Workview) -> None:
    """A road seen in the middle of what was taken for one gap leaves two, and other walls as they are."""
    outer, inner = trace_walls(view, find_walls(view, 2, view.road_px))
    count = len(outer.line_px)
    missing = np.where(np.abs(np.arange(count) - count / 2) < 60, 1.0, 0.0)
    assert len(find_gaps(view, outer, missing)) == 1
    x, y = view.to_photo(outer.line_px)[count // 2]
    seen = spared(view, outer, missing, [mark((float(x), float(y)), BARE)])
    assert len(find_gaps(view, outer, seen)) == 2
    whole = np.ones(len(inner.line_px))
    np.testing.assert_array_equal(spared(view, inner, whole, [mark((20.0, 20.0), BARE)]), whole)


def test_weights_are_those_that_a_general_minimiser_finds() -> None:
    """Twin: scipy's BFGS on the same sum, written out plainly."""
    rng = np.random.default_rng(3)
    rows, begun = rng.normal(size=(7, 4)), rng.normal(size=7)
    says, widths = np.where(rng.random(7) > 0.4, 1.0, -1.0), np.array([1.0, 0.3, 0.5, 2.0])

    def cost(w: np.ndarray) -> float:
        return float(3 * np.log1p(np.exp(-says * (begun + rows @ w))).sum() + (w**2 / widths**2).sum() / 2)

    twin = minimize(cost, np.zeros(4), method="BFGS", options={"gtol": 1e-8}).x
    np.testing.assert_allclose(likeliest(rows, begun, says, widths, 3.0), twin, rtol=0, atol=1e-4)


class TestInterval:
    def test_contradiction_widens(self, view: Workview, reading: Reading) -> None:
        """Two marks on one place that say the opposite make the interval wider than no marks do."""
        _, found = adapt(view, reading, [mark(LEFT, BONDED), mark(LEFT, BARE)])
        assert found is not None
        assert found.disagreement == pytest.approx(0.5, abs=0.05)
        assert min(reader_factors(found)) > 1.3

    def test_narrower_only_as_far_as_checked(self) -> None:
        """More marks than were tried, or marks of one kind alone, promise nothing beyond what was tried."""
        most, least = CHECKED[-1]
        assert reader_factors(Adaptation(100, 100, 0, {}, 0.0)) == (pytest.approx(least), 1.0)
        assert reader_factors(Adaptation(most, 0, 0, {}, 0.0)) == (1.0, 1.0)


class TestUntold:
    def test_the_disc_is_left_out(self, view: Workview, reading: Reading) -> None:
        """On a plain place nothing but the disc: what is not known is not spread without cause."""
        one = mark((600.0, 600.0), UNKNOWN)
        spot = radius_map(view, (420.0, 420.0)) < 1.5
        even = replace(view, linear=np.repeat(np.where(spot, 0.9, 0.2)[..., None], 3, 2).astype(np.float32))
        np.testing.assert_array_equal(untold(even, reading, [one]), disc(view, one))

    def test_a_suspected_film_is_followed(self, view: Workview, reading: Reading) -> None:
        """A film that the reader half sees is left out as a whole from one mark; another film far away is not."""
        film, other = radius_map(view, (420.0, 420.0)) < 1.5, radius_map(view, (640.0, 640.0)) < 1.5
        seen = replace(reading, hidden=(0.3 * (film | other)).astype(np.float32))
        zone = untold(view, seen, [mark((420.0, 420.0), UNKNOWN)])
        assert zone[film].mean() > 0.85
        assert not zone[other].any()

    def test_other_marks_hide_nothing(self, view: Workview, reading: Reading) -> None:
        """Bonded and bare can be told."""
        assert not untold(view, reading, [mark(LEFT, BONDED), mark(RIGHT, BARE)]).any()

    def test_glare_is_followed(self, view: Workview, reading: Reading) -> None:
        """One mark in a patch of glare leaves the whole patch out."""
        spot = radius_map(view, (420.0, 420.0)) < 1.5
        lit = replace(view, linear=np.repeat(np.where(spot, 0.9, 0.2)[..., None], 3, 2).astype(np.float32))
        np.testing.assert_array_equal(untold(lit, reading, [mark((420.0, 420.0), UNKNOWN)]), spot)


class TestRefusals:
    @pytest.mark.parametrize(
        ("given", "word"),
        [
            ([1, 2, 3], "must be"),
            ([1, 2, 3, "torn"], "bonded, bare or unknown"),
            ([1, 2, 3, 3], "bonded, bare or unknown"),
            (["a", 2, 3, "bare"], "numbers"),
            ([200, 2, 3, "bare"], "outside"),
            ([float("nan"), 2, 3, "bare"], "outside"),
            ([10, 2, 0, "bare"], "radius"),
            ([10, 2, 99, "bare"], "radius"),
        ],
    )
    def test_says_which_and_why(self, given: list[object], word: str) -> None:
        """Each mistake by its number and with what to do."""
        with pytest.raises(MarkRefused, match=word) as refused:
            check_marks([[5, 5, 3, "bonded"], given], 100, 80)
        assert "Mark 2" in str(refused.value)

    def test_too_many(self) -> None:
        """Whoever marks hundreds of places is counting."""
        with pytest.raises(MarkRefused, match="by hand"):
            check_marks([[5, 5, 3, "bonded"]] * 201, 100, 80)


class TestWholeRoad:
    def test_no_marks_and_an_empty_list_are_one_result(self) -> None:
        """Number for number."""
        plain, empty = (examine(_request("face_12", **more)) for more in ({}, {"marks": []}))
        plain.result["seconds"] = empty.result["seconds"]
        assert plain.result == empty.result
        np.testing.assert_array_equal(plain.labels, empty.labels)

    def test_marks_by_the_command(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """A file of marks moves the number, zones of it count as unknown, and a bad file is refused by name."""
        face = Path(__file__).parents[1] / "faces" / "face_12"
        known = json.loads((face / "input.json").read_text())
        words = [str(face / "photo.jpg"), "--um-per-px", str(known["um_per_px"]), "--json"]
        words += ["--line-width", str(known["line_width_mm"]), "--layer-height", str(known["layer_height_mm"])]
        assert main(words) == 0
        before = json.loads(capsys.readouterr().out)
        x, y = np.mean(before["outline_px"][:3], axis=0)
        centre = np.mean(before["outline_px"], axis=0)
        x, y = 0.9 * x + 0.1 * centre[0], 0.9 * y + 0.1 * centre[1]
        file = tmp_path / "marks.json"
        file.write_text(json.dumps({"marks": [[x, y, 8, "bare"], [*centre.tolist(), 60, "unknown"]]}))
        assert main([*words, "--marks", str(file)]) == 0
        after = json.loads(capsys.readouterr().out)
        assert after["bonded_share_of_face"]["value"] != before["bonded_share_of_face"]["value"]
        assert after["unknown_share"] > before["unknown_share"]
        file.write_text(json.dumps({"spots": []}))
        assert main([*words, "--marks", str(file)]) == 2
        assert "marks" in capsys.readouterr().err


def test_log_odds_are_cut_off(reading: Reading) -> None:
    """A reader that is wholly sure can still be moved."""
    sure = np.zeros_like(reading.classes)
    sure[..., BONDED_P] = 1
    assert log_odds(replace(reading, classes=sure)).max() <= 6
