"""Road spacing read from furrows drawn at a known distance."""

import numpy as np
import pytest

from analysis.reading.spacing import measure_spacing
from analysis.roads.workview import make_workview
from tests.analysis.drawn_face import LINE_WIDTH_MM, ROAD_PHOTO_PX, UM_PER_PX, circle

CENTRE = (500.0, 500.0)


def _disc_with_furrows(spacing: float, seed: int = 0) -> np.ndarray:
    """A disc of radius 400 px whose walls lie `spacing` line widths apart, dark furrows between them, noise."""
    row, col = np.mgrid[:1000, :1000]
    depth = (400 - np.hypot(col - 500, row - 500)) / ROAD_PHOTO_PX
    place = (depth - 0.5) / spacing
    furrow = np.exp(-(((place - np.floor(place)) - 0.5) ** 2) / 0.01) * (depth < 4.5) * (depth > 0)
    noise = np.random.default_rng(seed).normal(0, 6, depth.shape)
    return np.repeat(np.clip(140 - 60 * furrow + noise, 0, 255)[..., None], 3, -1).astype(np.uint8)


@pytest.mark.parametrize("spacing", [0.9, 0.93, 0.96])
def test_spacing_narrower_than_the_line(spacing: float) -> None:
    """Found to 1 % of the line width."""
    view = make_workview(_disc_with_furrows(spacing), 1.0, UM_PER_PX, LINE_WIDTH_MM, circle(CENTRE, 400), ())
    got = measure_spacing(view, 4, LINE_WIDTH_MM, 0.3)
    assert got is not None
    assert got / LINE_WIDTH_MM == pytest.approx(spacing, abs=0.01)


def test_roads_a_line_width_apart_need_no_correction() -> None:
    """Walls laid at the line width give no measured spacing, or the line width itself to 1 %."""
    view = make_workview(_disc_with_furrows(1.0), 1.0, UM_PER_PX, LINE_WIDTH_MM, circle(CENTRE, 400), ())
    got = measure_spacing(view, 4, LINE_WIDTH_MM, 0.3)
    assert got is None or got / LINE_WIDTH_MM == pytest.approx(1.0, abs=0.01)


def test_a_flat_face_says_nothing() -> None:
    """Without furrows nothing is measured."""
    grey = np.full((1000, 1000, 3), 120, np.uint8)
    view = make_workview(grey, 1.0, UM_PER_PX, LINE_WIDTH_MM, circle(CENTRE, 400), ())
    assert measure_spacing(view, 4, LINE_WIDTH_MM, 0.3) is None
