"""Shares, bounds and label map from drawn readings of known area."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.common.classes import BARE, BONDED, OUTSIDE, UNKNOWN, VOID
from analysis.measures.areas import contact_areas
from analysis.measures.intervals import Spread, find_spread, ninety
from analysis.measures.shares import fraction_json, label_map, share_json
from tests.analysis.drawn_face import LINE_WIDTH_MM, ROAD_PHOTO_PX, circle, radius_map, reading_of, view_of

CENTRE = (500.0, 500.0)
NARROW = Spread(0.02, 0.03, {})


def _rings():
    """A disc of radius R: bonded within R/2, bare contact to 0.8 R, missing to 0.9 R, no contact beyond."""
    view = view_of(circle(CENTRE, 400))
    part = radius_map(view, CENTRE) / (400 / ROAD_PHOTO_PX)
    return view, reading_of(view, np.digitize(part, [0.5, 0.8, 0.9]))


class TestShares:
    def test_areas_of_rings(self) -> None:
        """Bonded share 0.25 and fraction 0.25 / (0.64 + 0.7 x 0.17), by the areas of circles, to 0.005."""
        view, reading = _rings()
        areas = contact_areas(view, reading, np.zeros_like(view.inside), 0.7)
        assert areas.share() == pytest.approx(0.25, abs=0.005)
        assert areas.fraction() == pytest.approx(0.25 / (0.64 + 0.7 * 0.17), abs=0.005)

    def test_unknown_counts_on_neither_side(self) -> None:
        """Half the disc hidden leaves both values as they are, and the bounds take it in."""
        view, reading = _rings()
        unknown = view.inside.copy()
        unknown[:, view.inside.shape[1] // 2 :] = False
        areas = contact_areas(view, reading, unknown, 0.7)
        entry = share_json(areas, NARROW)
        assert entry["value"] == pytest.approx(0.25, abs=0.01)
        assert entry["bounds"][0] == pytest.approx(0.125, abs=0.01)
        assert entry["bounds"][1] == pytest.approx(0.625, abs=0.01)

    def test_no_contact_gives_no_fraction(self) -> None:
        """A face without any road of the layer has a share of 0 and no fraction."""
        view = view_of(circle(CENTRE, 400))
        reading = reading_of(view, np.full(view.inside.shape, 3))
        areas = contact_areas(view, reading, np.zeros_like(view.inside), 0.7)
        assert areas.share() == 0
        assert fraction_json(areas, NARROW) is None

    @settings(max_examples=40)
    @given(st.floats(0, 1), st.floats(0, 2))
    def test_interval_holds_its_value_and_stays_a_share(self, value: float, half: float) -> None:
        """Between 0 and 1, around the value."""
        low, high = ninety(value, half)
        assert 0 <= low <= value <= high <= 1


class TestLabelMap:
    def test_labels_add_up_to_the_share(self) -> None:
        """The picture's bonded pixels are as many as the number says, also where the reader is unsure."""
        view, reading = _rings()
        soft = reading.classes * 0.6 + 0.1 * view.inside[..., None]
        soft += np.random.default_rng(1).uniform(-0.01, 0.01, soft.shape) * view.inside[..., None]
        unsure = type(reading)(soft.astype(np.float32), reading.hidden, reading.border, 0.0)
        labels = label_map(view, unsure, np.zeros_like(view.inside))
        areas = contact_areas(view, unsure, np.zeros_like(view.inside), 0.7)
        assert (labels == BONDED).sum() / view.inside.sum() == pytest.approx(areas.share(), abs=0.002)

    def test_each_place_has_its_code(self) -> None:
        """Outside, bonded, bare, missing and unknown are told apart."""
        view, reading = _rings()
        unknown = np.zeros_like(view.inside)
        unknown[:40] = view.inside[:40]
        labels = label_map(view, reading, unknown)
        assert set(np.unique(labels)) >= {OUTSIDE, BARE, BONDED, VOID, UNKNOWN}
        assert (labels[~view.inside] == OUTSIDE).all()
        assert (labels[unknown] == UNKNOWN).all()


class TestSpread:
    def test_doubt_widens_the_interval(self) -> None:
        """The same areas read with less conviction have a wider interval."""
        view, reading = _rings()
        known = np.zeros_like(view.inside)
        sure = find_spread(view, reading, contact_areas(view, reading, known, 0.7), 1.0, 0.01)
        soft = (reading.classes * 0.4 + 0.15 * view.inside[..., None]).astype(np.float32)
        unsure = type(reading)(soft, reading.hidden, reading.border, 0.0)
        wide = find_spread(view, unsure, contact_areas(view, unsure, known, 0.7), 1.0, 0.01)
        assert wide.fraction_half > sure.fraction_half

    def test_a_vaguer_outline_widens_it_by_perimeter_over_area(self) -> None:
        """An outline off by 10 px all around a disc of radius 400 px moves its area by 5 %: judged half of that."""
        view, reading = _rings()
        areas = contact_areas(view, reading, np.zeros_like(view.inside), 0.7)
        parts = find_spread(view, reading, areas, 10.0, 0.01).parts
        assert parts["outline"] == pytest.approx(0.25 * 0.5 * 2 * 10 / 400, rel=0.05)

    def test_two_halves_are_surer_than_one(self) -> None:
        """Reading the mate as well narrows the interval."""
        view, reading = _rings()
        areas = contact_areas(view, reading, np.zeros_like(view.inside), 0.7)
        one, two = (find_spread(view, reading, areas, 1.0, 0.01, n).share_half for n in (1, 2))
        assert two < one


def test_scale_of_the_drawing() -> None:
    """The drawn disc's area is pi R² in mm² to 0.5 %: scale and outline agree."""
    view = view_of(circle(CENTRE, 400))
    radius_mm = 400 / ROAD_PHOTO_PX * LINE_WIDTH_MM
    assert view.inside.sum() * view.mm_per_px**2 == pytest.approx(np.pi * radius_mm**2, rel=0.005)
