"""Plain questions about closed polygons: area, crossings, inside or outside.

A polygon is float (n, 2) of (x, y) without a repeated last point. With y down, a positive area means clockwise as seen.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
_SLICE = 512  # rows of the segment-by-segment table held at once, so a long outline costs time and not memory


def signed_area(ring: Points) -> float:
    """Area by the shoelace formula, in the points' unit squared; positive when clockwise on the screen."""
    shifted = ring - ring[0]  # keeps the products small, so that a far-off polygon loses no digits
    x, y = shifted.T
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def perimeter(ring: Points) -> float:
    """Length around, in the points' unit."""
    return float(np.hypot(*(np.roll(ring, -1, axis=0) - ring).T).sum())


def inside(ring: Points, points: Points) -> NDArray[np.bool_]:
    """Which points lie inside, by the even-odd rule; points exactly on the line may fall either way."""
    start, end = ring, np.roll(ring, -1, axis=0)
    result = np.zeros(len(points), dtype=bool)
    for first in range(0, len(points), _SLICE):
        x, y = points[first : first + _SLICE, :1], points[first : first + _SLICE, 1:]
        spans = (start[:, 1] > y) != (end[:, 1] > y)
        rise = np.where(end[:, 1] == start[:, 1], 1.0, end[:, 1] - start[:, 1])
        at = start[:, 0] + (y - start[:, 1]) / rise * (end[:, 0] - start[:, 0])
        result[first : first + _SLICE] = np.count_nonzero(spans & (x < at), axis=1) % 2 == 1
    return result


def filled(ring: Points, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Pixels of a (rows, cols) array whose centre lies inside, by the even-odd rule; x = col and y = row at centres.

    Every side notes, in each row it passes, the first pixel to its right; inside is where an odd number was noted.
    A drawing library's polygon would take in the pixels its line runs over as well, half a pixel too much all round.
    """
    rows, cols = shape
    start, end = ring, np.roll(ring, -1, axis=0)
    low = np.clip(np.ceil(np.minimum(start[:, 1], end[:, 1])), 0, rows).astype(np.intp)
    high = np.clip(np.ceil(np.maximum(start[:, 1], end[:, 1])), 0, rows).astype(np.intp)
    count = high - low
    side = np.repeat(np.arange(len(ring)), count)
    row = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + low[side]
    slope = (end[side, 0] - start[side, 0]) / (end[side, 1] - start[side, 1])
    column = np.clip(np.ceil(start[side, 0] + (row - start[side, 1]) * slope), 0, cols).astype(np.intp)
    notes = np.bincount(row * (cols + 1) + column, minlength=rows * (cols + 1)).reshape(rows, cols + 1)
    return np.asarray(np.cumsum(notes[:, :cols], axis=1) % 2 == 1)


def crosses_itself(ring: Points) -> bool:
    """Whether two sides that aren't neighbours meet, or two neighbours fold back onto each other."""
    n = len(ring)
    sides = np.roll(ring, -1, axis=0) - ring
    following = np.roll(sides, -1, axis=0)
    folds = (_cross(sides, following) == 0) & (np.sum(sides * following, axis=1) < 0)
    if folds.any():
        return True
    index = np.arange(n)
    for first in range(0, n, _SLICE):
        rows = index[first : first + _SLICE]
        apart = np.abs(rows[:, None] - index[None, :])
        apart = np.minimum(apart, n - apart)
        if (_meet(ring, rows, ring) & (apart > 1)).any():
            return True
    return False


def touches(first: Points, second: Points) -> bool:
    """Whether any side of one polygon meets any side of the other."""
    index = np.arange(len(first))
    return any(_meet(first, index[k : k + _SLICE], second).any() for k in range(0, len(first), _SLICE))


def _cross(u: Points, v: Points) -> Points:
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])


def _meet(first: Points, rows: NDArray[np.int_], second: Points) -> NDArray[np.bool_]:
    """Table (rows, sides of second): does side `row` of the first polygon meet that side of the second?"""
    a = first[rows][:, None, :]
    b = np.roll(first, -1, axis=0)[rows][:, None, :]
    c = second[None, :, :]
    d = np.roll(second, -1, axis=0)[None, :, :]
    # Closed intervals by the signs of the four turns; boxes settle the case of sides on one line.
    turns = np.sign(_cross(b - a, c - a)) * np.sign(_cross(b - a, d - a))
    counter = np.sign(_cross(d - c, a - c)) * np.sign(_cross(d - c, b - c))
    overlap = (np.minimum(a, b) <= np.maximum(c, d)) & (np.minimum(c, d) <= np.maximum(a, b))
    return np.asarray((turns <= 0) & (counter <= 0) & overlap.all(axis=-1))
