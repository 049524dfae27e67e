"""The number of walls and their width against faces drawn with known ones."""

import numpy as np
import pytest

from analysis.explain import _mismatches
from analysis.imaging.scale import scale_from_um_per_px
from analysis.outlines.outline import Outline
from analysis.reading.half import Roads, read_half
from analysis.reading.wallcheck import check_walls
from analysis.roads.walls import find_walls
from analysis.roads.workview import Workview, make_workview
from tests.analysis.drawn import as_photo
from tests.analysis.drawn_face import LINE_WIDTH_MM, ROAD_PHOTO_PX, UM_PER_PX, circle

CENTRE, RADIUS = (500.0, 500.0), 400


def drawn(walls: int, seed: int = 0) -> np.ndarray:
    """A disc with this many walls about a filling at 45 degrees, dark furrows between all roads, noise."""
    row, col = np.mgrid[:1000, :1000]
    depth = (RADIUS - np.hypot(col - CENTRE[0], row - CENTRE[1])) / ROAD_PHOTO_PX
    filling = (row + col) / np.sqrt(2) / ROAD_PHOTO_PX
    place = np.where(depth < walls, depth, filling)
    furrow = np.exp(-((place - np.rint(place)) ** 2) / 0.01) * (depth > 0.2)
    noise = np.random.default_rng(seed).normal(0, 6, depth.shape)
    return np.repeat(np.clip(140 - 60 * furrow + noise, 0, 255)[..., None], 3, -1).astype(np.uint8)


def viewed(picture: np.ndarray, width: float = 1.0) -> Workview:
    return make_workview(picture, 1.0, UM_PER_PX, LINE_WIDTH_MM * width, circle(CENTRE, RADIUS), ())


@pytest.mark.parametrize("walls", [1, 2, 3, 4])
@pytest.mark.parametrize("off", [-1, 0, 1, 2])
def test_wall_count(walls: int, off: int) -> None:
    """A wrong number is told with the right one beside it, a right number is not doubted."""
    given = walls + off
    if given < 1:
        return
    view = viewed(drawn(walls))
    found = check_walls(view, find_walls(view, given, view.road_px), given)
    assert found.count_seen == (None if off == 0 else walls)
    assert found.width_mm_seen is None


@pytest.mark.parametrize("width", [0.75, 0.9, 1.0, 1.1, 1.35])
def test_line_width(width: float) -> None:
    """A width given a quarter too small or a third too large is told to 3 %; a tenth off is left to the spacing."""
    view = viewed(drawn(4), width)
    found = check_walls(view, find_walls(view, 4, view.road_px), 4)
    if 0.85 < width < 1.15:
        assert found.width_mm_seen is None
    else:
        assert found.width_mm_seen == pytest.approx(LINE_WIDTH_MM, rel=0.03)


def test_a_face_that_shows_nothing_says_nothing() -> None:
    """Even grey, and noise alone, contradict no number and no width."""
    rng = np.random.default_rng(5)
    for picture in (np.full((1000, 1000, 3), 120, np.uint8), rng.integers(90, 150, (1000, 1000, 3)).astype(np.uint8)):
        view = viewed(picture)
        found = check_walls(view, find_walls(view, 3, view.road_px), 3)
        assert (found.count_seen, found.width_mm_seen) == (None, None)


def test_warnings_name_both() -> None:
    """The warning names what was given and what is seen; a spacing that was given and is seen is no mismatch."""
    outline = Outline(circle(CENTRE, RADIUS), (), "drawn", 1.0, 1.0)
    photo, scale = as_photo(drawn(4)), scale_from_um_per_px(UM_PER_PX)

    def told(width: float, walls: int, spacing_mm: float | None = None) -> str:
        roads = Roads(LINE_WIDTH_MM * width, 0.2, walls, None, spacing_mm)
        return " ".join(_mismatches(read_half(photo, scale, outline, roads), roads))

    assert told(1.0, 4) == ""
    assert "3 walls were reckoned with, but the photo shows 4" in told(1.0, 3)
    words = told(1.35, 4)
    assert "0.65 mm" in words
    assert "0.48 mm" in words
    assert told(1.35, 4, LINE_WIDTH_MM) == ""
