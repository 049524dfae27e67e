"""Terraces cut by drawn steps."""

import numpy as np
import pytest

from analysis.measures.planes import find_planes, planes_json, road_angle_deg
from analysis.roads.walls import find_walls
from analysis.roads.workview import make_workview
from tests.analysis.drawn_face import LINE_WIDTH_MM, ROAD_PHOTO_PX, UM_PER_PX, reading_of, view_of

SQUARE = np.array([[60, 60], [760, 60], [760, 760], [60, 760]], float)


def _planes(steps: list[float], strength: float = 0.9) -> list[dict]:
    """A square cut by upright steps at the given shares of its width."""
    view = view_of(SQUARE)
    border = np.zeros(view.inside.shape)
    for share in steps:
        col = round(float(view.from_photo(np.array([60 + 700 * share, 60.0]))[0]))
        border[:, col - 2 : col + 3] = strength
    reading = reading_of(view, np.ones(view.inside.shape, int), border * view.inside)
    return planes_json(view, find_walls(view, 2, 12), find_planes(view, reading))


class TestFindPlanes:
    def test_no_step_is_one_plane(self) -> None:
        """An uncut face is one plane with all of the area."""
        (plane,) = _planes([])
        assert plane["area_share"] == 1.0

    def test_a_step_cuts_in_two(self) -> None:
        """A step at a third gives two planes of two thirds and one third."""
        shares = [p["area_share"] for p in _planes([1 / 3])]
        assert shares == pytest.approx([2 / 3, 1 / 3], abs=0.02)

    def test_a_sliver_is_not_counted(self) -> None:
        """Below 3 % of the face a terrace joins its neighbour, by definition."""
        assert len(_planes([0.02])) == 1

    def test_a_faint_line_is_no_step(self) -> None:
        """What the reader holds for unlikely doesn't cut."""
        assert len(_planes([0.5], strength=0.3)) == 1


class TestRoadAngle:
    @pytest.mark.parametrize("degrees", [0, 30, 45, 90, 135])
    def test_direction_of_drawn_stripes(self, degrees: float) -> None:
        """Stripes drawn at an angle (clockwise from +x, y down) are read to a degree."""
        size = 820
        row, col = np.mgrid[:size, :size]
        angle = np.radians(degrees)
        across = -np.sin(angle) * col + np.cos(angle) * row
        grey = 120 + 60 * np.cos(2 * np.pi * across / ROAD_PHOTO_PX)
        photo = np.repeat(grey[..., None], 3, -1).astype(np.uint8)
        view = make_workview(photo, 1.0, UM_PER_PX, LINE_WIDTH_MM, SQUARE, ())
        got = road_angle_deg(view, find_walls(view, 2, 12), view.inside)
        assert got is not None
        assert (got - degrees + 90) % 180 - 90 == pytest.approx(0, abs=1)
