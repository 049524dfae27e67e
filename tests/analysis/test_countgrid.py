"""The grid of a count by hand: where its points may lie, how far apart, and that no place is likelier than another."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from analysis.countgrid import CountGrid, lay_grid
from analysis.pointcount import PointCountRefused
from analysis.polygons import inside, signed_area

SQUARE = np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 400.0], [0.0, 400.0]])


@st.composite
def faces(draw: st.DrawFn) -> tuple[np.ndarray, list[np.ndarray]]:
    """A star-shaped outline, long or round, with a hole in its middle or none."""
    corners = draw(st.integers(5, 24))
    radii = np.array(draw(st.lists(st.floats(150, 400), min_size=corners, max_size=corners)))
    turn = np.arange(corners) / corners * 2 * math.pi
    ring = np.stack([np.cos(turn), np.sin(turn) * draw(st.floats(0.5, 1.0))], axis=1)
    holes = [ring * draw(st.floats(20, 60)) + 500] if draw(st.booleans()) else []
    return ring * radii[:, None] + 500, holes


def angles_off(grid: CountGrid) -> np.ndarray:
    """Points of the grid in meshes, turned back, so that all have the same fractional part."""
    angle = math.radians(grid.angle_deg)
    back = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    return (grid.points_px - grid.points_px[0]) @ back / grid.spacing_px


class TestLayGrid:
    @settings(deadline=None, max_examples=60)
    @given(faces(), st.integers(9, 49), st.integers(1, 8), st.integers(0, 2**32))
    def test_points_lie_inside_the_outline_and_outside_the_holes(
        self, face: tuple[np.ndarray, list[np.ndarray]], points: int, fields: int, seed: int
    ) -> None:
        """No point lies off the face."""
        outer, holes = face
        grid = lay_grid(outer, holes, points, fields, seed)
        assert inside(outer, grid.points_px).all()
        assert not any(inside(hole, grid.points_px).any() for hole in holes)

    @settings(deadline=None, max_examples=60)
    @given(faces(), st.integers(9, 49), st.integers(1, 8), st.integers(0, 2**32))
    def test_points_stand_on_one_square_mesh_of_the_stated_spacing(
        self, face: tuple[np.ndarray, list[np.ndarray]], points: int, fields: int, seed: int
    ) -> None:
        """Whole meshes lie between any two points, and a mesh has the area of face over points wanted."""
        outer, holes = face
        grid = lay_grid(outer, holes, points, fields, seed)
        meshes = angles_off(grid)
        area = abs(signed_area(outer)) - sum(abs(signed_area(hole)) for hole in holes)
        np.testing.assert_allclose(meshes, np.round(meshes), atol=1e-6)
        assert len(np.unique(np.round(meshes), axis=0)) == len(grid.points_px)
        assert grid.spacing_px**2 * points * fields == pytest.approx(area)

    @settings(deadline=None, max_examples=40)
    @given(faces(), st.integers(9, 49), st.integers(1, 8), st.integers(0, 2**32))
    def test_fields_are_alike_in_size_and_hold_every_point_once(
        self, face: tuple[np.ndarray, list[np.ndarray]], points: int, fields: int, seed: int
    ) -> None:
        """Field sizes differ by one point at most; the fields come one after the other."""
        grid = lay_grid(*face, points, fields, seed)
        sizes = np.bincount(grid.field_of)
        assert len(sizes) == fields
        assert sizes.max() - sizes.min() <= 1
        assert (np.diff(grid.field_of) >= 0).all()

    def test_no_mesh_inside_the_face_is_left_out(self) -> None:
        """The mesh reaches every corner: its nodes next to a counted one are counted or lie off the face."""
        for seed in range(20):
            grid = lay_grid(SQUARE, [], 25, 2, seed)
            angle = math.radians(grid.angle_deg)
            step = grid.spacing_px * np.array([math.cos(angle), math.sin(angle)])
            for move in (step, -step, step[::-1] * [-1, 1], step[::-1] * [1, -1]):
                beside = grid.points_px + move
                beside = beside[inside(SQUARE, beside)]
                gap = np.hypot(*(beside[:, None] - grid.points_px[None]).transpose(2, 0, 1)).min(axis=1)
                assert gap.max() < 1e-6 * grid.spacing_px

    def test_the_same_seed_gives_the_same_grid(self) -> None:
        """A count can be laid again from its seed; another seed gives another grid."""
        first, second = lay_grid(SQUARE, [], 16, 4, 7), lay_grid(SQUARE, [], 16, 4, 7)
        np.testing.assert_array_equal(first.points_px, second.points_px)
        assert not np.allclose(first.points_px[:5], lay_grid(SQUARE, [], 16, 4, 8).points_px[:5])

    def test_every_place_is_equally_likely(self) -> None:
        """Over 800 seeds the points fill the face evenly, in x, in y, and its rim as much as its middle."""
        grids = [lay_grid(SQUARE, [], 16, 1, seed) for seed in range(800)]
        points = np.concatenate([grid.points_px for grid in grids])
        # Points of one grid repel each other, so the true variance is below the binomial one the test supposes.
        counted, _, _ = np.histogram2d(points[:, 0], points[:, 1], bins=8, range=[[0, 400], [0, 400]])
        assert stats.chisquare(counted.ravel()).pvalue > 0.01
        assert len(points) / len(grids) == pytest.approx(16, rel=0.01)

    def test_the_offset_is_uniform_and_the_tilt_too(self) -> None:
        """Kolmogorov-Smirnov over 2000 seeds, at one in a thousand: the mesh within itself, the tilt in 0 to 90."""
        grids = [lay_grid(SQUARE, [], 16, 1, seed) for seed in range(2000)]
        tilt = np.array([grid.angle_deg for grid in grids]) / 90
        turned = []
        for grid in grids:
            angle = math.radians(grid.angle_deg)
            back = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
            turned.append(((grid.points_px[0] - 200) @ back / grid.spacing_px) % 1)
        for sample in (tilt, *np.array(turned).T):
            assert stats.kstest(sample, "uniform").pvalue > 0.001

    @pytest.mark.parametrize(("points", "fields"), [(3, 2), (16, 0)])
    def test_too_few_points_are_refused(self, points: int, fields: int) -> None:
        """A field of three points, or no field, is refused."""
        with pytest.raises(PointCountRefused):
            lay_grid(SQUARE, [], points, fields, 1)
