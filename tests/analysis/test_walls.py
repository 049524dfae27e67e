"""Outline -> wall roads. Lengths are checked against elementary geometry: a circle inset by d is a circle."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.roads.walls import RASTER, find_walls, strip, trace_walls
from analysis.roads.workview import ROAD_PX, FaceTooSmall, signed_distance
from tests.analysis.drawn_face import LINE_WIDTH_MM, ROAD_PHOTO_PX, circle, radius_map, view_of

CENTRE = (500.0, 500.0)


class TestSignedDistance:
    def test_distance_to_a_circle(self) -> None:
        """Distances to a drawn circle are right to 0.4 px, but at its very centre, where a mean of tips is taken."""
        got = signed_distance((101, 101), circle((50, 50), 30))
        row, col = np.mgrid[:101, :101]
        radius = np.hypot(row - 50, col - 50)
        np.testing.assert_allclose(got[radius > 3], (30 - radius)[radius > 3], rtol=0, atol=0.4)


class TestTraceWalls:
    @pytest.mark.parametrize("spacing", [1.0, 0.93])
    def test_lengths_of_circular_walls(self, spacing: float) -> None:
        """Wall k of a disc is a circle of radius R - w/2 - k s: length right to 1 %."""
        view = view_of(circle(CENTRE, 400))
        walls = trace_walls(view, find_walls(view, 4, spacing * ROAD_PX))

        assert [w.index for w in walls] == [0, 1, 2, 3]
        for wall in walls:
            radius_mm = (400 / ROAD_PHOTO_PX - 0.5 - wall.index * spacing) * LINE_WIDTH_MM
            assert wall.length_px * view.mm_per_px == pytest.approx(2 * np.pi * radius_mm, rel=0.01)

    def test_hole_counts_its_own_walls_outward(self) -> None:
        """Walls of a hole lie outside it: their circles grow."""
        view = view_of(circle(CENTRE, 450), (circle(CENTRE, 150),))
        walls = [w for w in trace_walls(view, find_walls(view, 2, ROAD_PX)) if w.outline == "hole0"]

        for wall in walls:
            radius_mm = (150 / ROAD_PHOTO_PX + 0.5 + wall.index) * LINE_WIDTH_MM
            assert wall.length_px * view.mm_per_px == pytest.approx(2 * np.pi * radius_mm, rel=0.01)
        assert [w.index for w in walls] == [0, 1]

    def test_concave_corner_keeps_one_closed_wall(self) -> None:
        """An L keeps one closed line a wall; its inset length is the outline's less 8 d for the convex corners less
        the concave one's share (an L has five convex corners and one concave: 2 d each)."""
        ell = np.array([[50, 50], [650, 50], [650, 350], [350, 350], [350, 650], [50, 650]], float)
        view = view_of(ell)
        wall = trace_walls(view, find_walls(view, 2, ROAD_PX))[0]
        inset = ROAD_PHOTO_PX / 2
        # The round trip around a concave corner at distance d is an arc of a quarter circle instead of two straights.
        expected = 2400 - 5 * 2 * inset + (np.pi / 2) * inset
        assert wall.length_px * view.step == pytest.approx(expected, rel=0.01)

    def test_thin_web_has_only_the_walls_that_fit(self) -> None:
        """A bar three roads wide holds wall 0 and no second one of length: touching walls are not counted twice."""
        bar = np.array([[50, 50], [950, 50], [950, 50 + 3 * ROAD_PHOTO_PX], [50, 50 + 3 * ROAD_PHOTO_PX]])
        view = view_of(bar)
        walls = trace_walls(view, find_walls(view, 4, ROAD_PX))
        assert [w.index for w in walls][:1] == [0]
        assert all(w.index < 2 for w in walls)

    @settings(max_examples=15)
    @given(turn=st.floats(0, 360), shift=st.floats(0, 5), flip=st.booleans())
    def test_turning_the_outline_leaves_lengths(self, turn: float, shift: float, flip: bool) -> None:
        """Turned, mirrored or moved by part of a pixel, a wall stays as long, to 1 %."""
        shape = np.array([[-300, -200], [300, -200], [300, 200], [100, 260], [-300, 200]], float)
        angle = np.radians(turn)
        turned = shape @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        if flip:
            turned[:, 0] *= -1
        lengths = []
        for outer in (shape + 420, turned + 420 + shift):
            view = view_of(outer)
            lengths.append(trace_walls(view, find_walls(view, 1, ROAD_PX))[0].length_px)
        assert lengths[1] == pytest.approx(lengths[0], rel=0.01)


class TestField:
    def test_every_place_belongs_to_the_wall_it_lies_on(self) -> None:
        """On a disc the wall number follows from the radius alone."""
        view = view_of(circle(CENTRE, 400))
        field = find_walls(view, 3, ROAD_PX)
        depth = 400 / ROAD_PHOTO_PX - radius_map(view, CENTRE)
        for number in range(3):
            core = view.inside & (np.abs(depth - number - 0.5) < 0.4)
            assert (field.index[core] == number).all()
        assert (field.index[view.inside & (depth > 3.1)] == RASTER).all()


class TestStrip:
    def test_strip_reads_across_and_along(self) -> None:
        """A strip of the depth map rises from the outline inward and is level along the wall."""
        view = view_of(circle(CENTRE, 400))
        wall = trace_walls(view, find_walls(view, 1, ROAD_PX))[0]
        depth = (400 / ROAD_PHOTO_PX - radius_map(view, CENTRE)).astype(np.float32)
        got = strip(depth, wall, ROAD_PX)
        expected = (np.arange(ROAD_PX) + 0.5) / ROAD_PX
        np.testing.assert_allclose(got, np.broadcast_to(expected[:, None], got.shape), rtol=0, atol=0.06)


def test_a_face_too_small_for_roads_is_refused() -> None:
    """An outline narrower than two roads says to check scale and line width."""
    with pytest.raises(FaceTooSmall, match="line width"):
        view_of(circle(CENTRE, 30))
