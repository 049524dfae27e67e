"""Polygons: area, inside, crossings, against a slow or outside twin."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from skimage.measure import grid_points_in_poly

from analysis.common.polygons import crosses_itself, filled, inside, perimeter, signed_area, touches

RINGS = arrays(np.float64, st.tuples(st.integers(3, 9), st.just(2)), elements=st.floats(-8, 38, width=32))


def test_a_square_clockwise_on_the_screen() -> None:
    """Right, down, left on the screen is clockwise and counts as positive; back to front it is negative."""
    square = np.array([[0.0, 0], [4, 0], [4, 3], [0, 3]])
    assert signed_area(square) == 12.0
    assert signed_area(square[::-1]) == -12.0
    assert perimeter(square) == 14.0


def test_a_far_off_square_keeps_its_area() -> None:
    """A polygon far from the origin loses no digits."""
    assert signed_area(np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]]) + 1e8) == 1.0


@given(RINGS)
def test_filling_equals_an_outside_twin(ring: np.ndarray) -> None:
    """Filled pixels are those whose centre scikit-image finds inside, but for centres on the line itself."""
    ring = ring + np.array([0.0371, 0.0533])  # keeps centres off the lines
    assert np.array_equal(filled(ring, (30, 33)), grid_points_in_poly((30, 33), ring[:, ::-1]))


@given(RINGS)
def test_filling_equals_asking_point_by_point(ring: np.ndarray) -> None:
    """Filling a grid and asking for each of its centres agree."""
    ring = ring + np.array([0.0371, 0.0533])
    y, x = np.mgrid[:30, :33]
    points = np.column_stack([x.ravel(), y.ravel()]).astype(float)
    assert np.array_equal(filled(ring, (30, 33)).ravel(), inside(ring, points))


def test_filled_area_is_the_polygons() -> None:
    """A large disc fills as many pixels as its area says, to its rim's sampling."""
    turn = np.arange(720) * np.pi / 360
    ring = np.column_stack([200.3 + 150 * np.cos(turn), 199.6 + 150 * np.sin(turn)])
    assert abs(filled(ring, (400, 400)).sum() - signed_area(ring)) < 60


@given(st.integers(3, 40), st.floats(0, 6), st.floats(-1e3, 1e3))
def test_a_regular_polygon_never_crosses_itself(count: int, turn: float, shift: float) -> None:
    """Convex polygons are accepted wherever they lie and however they are turned."""
    angle = turn + np.arange(count) * 2 * np.pi / count
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * 50 + shift
    assert not crosses_itself(ring)
    assert not crosses_itself(ring[::-1])


@given(st.integers(5, 40), st.data())
def test_swapping_two_corners_of_a_convex_polygon_crosses(count: int, data: st.DataObject) -> None:
    """A convex polygon with two corners exchanged crosses itself."""
    angle = np.arange(count) * 2 * np.pi / count
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * 50
    i, j = data.draw(st.lists(st.integers(0, count - 1), min_size=2, max_size=2, unique=True))
    ring[[i, j]] = ring[[j, i]]
    assert crosses_itself(ring)


def test_a_line_there_and_back_crosses() -> None:
    """A side that folds back over its neighbour counts as crossing."""
    assert crosses_itself(np.array([[0.0, 0], [10, 0], [5, 0], [5, 5]]))


def test_touching_and_apart() -> None:
    """Two squares that share a corner touch; one inside the other doesn't."""
    square = np.array([[0.0, 0], [4, 0], [4, 4], [0, 4]])
    assert touches(square, square + 4)
    assert touches(square, square + 2)
    assert not touches(square, square * 0.5 + 1)
    assert not touches(square, square + 5)
