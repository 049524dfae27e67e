"""The grid of a count by hand: where its points may lie, how far apart, and that no place is likelier than another."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from analysis.common.polygons import inside, signed_area
from analysis.measures.countgrid import CountGrid, Layout, lay_grid
from analysis.measures.pointcount import PointCountRefused

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


LAYOUTS = st.sampled_from(["throws", "patches"])


def meshes_of(grid: CountGrid, points: np.ndarray, field: int = 0, origin: float | np.ndarray = 0.0) -> np.ndarray:
    """The points in meshes of the field's grid, turned back, so that all have the same fractional part."""
    angle = math.radians(grid.angles_deg[field])
    back = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    return (points - origin) @ back / grid.spacing_px


def one_grid_each(grid: CountGrid, layout: str) -> list[tuple[int, np.ndarray]]:
    """The points of each grid that was thrown, with the number of one of its fields."""
    if layout == "patches":
        return [(0, grid.points_px)]
    return [(field, grid.points_px[grid.field_of == field]) for field in range(len(grid.angles_deg))]


class TestLayGrid:
    @settings(deadline=None, max_examples=60)
    @given(faces(), st.integers(9, 49), st.integers(1, 8), st.integers(0, 2**32), LAYOUTS)
    def test_points_lie_inside_the_outline_and_outside_the_holes(
        self, face: tuple[np.ndarray, list[np.ndarray]], points: int, fields: int, seed: int, layout: Layout
    ) -> None:
        """No point lies off the face."""
        outer, holes = face
        grid = lay_grid(outer, holes, points, fields, seed, layout)
        assert inside(outer, grid.points_px).all()
        assert not any(inside(hole, grid.points_px).any() for hole in holes)

    @settings(deadline=None, max_examples=60)
    @given(faces(), st.integers(9, 49), st.integers(1, 8), st.integers(0, 2**32), LAYOUTS)
    def test_points_stand_on_square_meshes_of_the_stated_spacing(
        self, face: tuple[np.ndarray, list[np.ndarray]], points: int, fields: int, seed: int, layout: Layout
    ) -> None:
        """Whole meshes lie between any two points, and a mesh has the area of face over points wanted."""
        outer, holes = face
        grid = lay_grid(outer, holes, points, fields, seed, layout)
        area = abs(signed_area(outer)) - sum(abs(signed_area(hole)) for hole in holes)
        assert grid.spacing_px**2 * points * (fields if layout == "patches" else 1) == pytest.approx(area)
        for field, members in one_grid_each(grid, layout):
            meshes = meshes_of(grid, members, field, members[0])
            np.testing.assert_allclose(meshes, np.round(meshes), atol=1e-6)
            assert len(np.unique(np.round(meshes), axis=0)) == len(members)

    @settings(deadline=None, max_examples=40)
    @given(faces(), st.integers(9, 49), st.integers(1, 8), st.integers(0, 2**32))
    def test_patches_are_alike_in_size_and_follow_one_another(
        self, face: tuple[np.ndarray, list[np.ndarray]], points: int, fields: int, seed: int
    ) -> None:
        """Their sizes differ by one point at most; the fields come one after the other."""
        grid = lay_grid(*face, points, fields, seed, "patches")
        sizes = np.bincount(grid.field_of)
        assert len(sizes) == fields
        assert sizes.max() - sizes.min() <= 1
        assert (np.diff(grid.field_of) >= 0).all()

    def test_no_mesh_inside_the_face_is_left_out(self) -> None:
        """The mesh reaches every corner: its nodes next to a counted one are counted or lie off the face."""
        for seed in range(20):
            grid = lay_grid(SQUARE, [], 25, 2, seed, "patches")
            angle = math.radians(grid.angles_deg[0])
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

    def test_more_throws_begin_with_the_same_ones(self) -> None:
        """Six fields of a seed are the first six of ten, so fields can be added to a count."""
        six, ten = lay_grid(SQUARE, [], 16, 6, 7), lay_grid(SQUARE, [], 16, 10, 7)
        np.testing.assert_array_equal(ten.points_px[: len(six.points_px)], six.points_px)

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
        tilt = np.array([grid.angles_deg[0] for grid in grids]) / 90
        turned = [meshes_of(grid, grid.points_px[:1] - 200)[0] % 1 for grid in grids]
        for sample in (tilt, *np.array(turned).T):
            assert stats.kstest(sample, "uniform").pvalue > 0.001

    def test_throws_are_independent_of_one_another(self) -> None:
        """Shares of a half-plane under two fields of one count don't go together (500 seeds, two in a hundred)."""
        shares = []
        for seed in range(500):
            grid = lay_grid(SQUARE, [], 16, 2, seed)
            left = grid.points_px[:, 0] + grid.points_px[:, 1] < 400
            shares.append([left[grid.field_of == field].mean() for field in (0, 1)])
        assert stats.pearsonr(*np.array(shares).T).pvalue > 0.02

    @pytest.mark.parametrize(("points", "fields"), [(3, 2), (16, 0)])
    def test_too_few_points_are_refused(self, points: int, fields: int) -> None:
        """A field of three points, or no field, is refused."""
        with pytest.raises(PointCountRefused):
            lay_grid(SQUARE, [], points, fields, 1)
