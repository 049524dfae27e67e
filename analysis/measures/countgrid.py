"""The points of a count by hand: square grids thrown on the face, one a field, or one grid cut into patches."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analysis.common.polygons import inside, signed_area
from analysis.measures.pointcount import PointCountRefused

Points = NDArray[np.float64]
Layout = Literal["throws", "patches"]
LEAST_POINTS = 4  # judgement: fewer can't stand for a field


@dataclass(frozen=True)
class CountGrid:
    """Points to be judged, in the order in which a person goes through them.

    `points_px` float (n, 2) of (x, y) in px of the photo; `field_of` int (n,) numbers the fields from 0, rising.
    `spacing_px` lies between neighbours of one grid, `angles_deg` is the tilt of the rows, field by field.
    """

    points_px: Points
    field_of: NDArray[np.intp]
    spacing_px: float
    angles_deg: tuple[float, ...]
    seed: int


def lay_grid(
    outer_px: ArrayLike,
    holes_px: Sequence[ArrayLike],
    points_per_field: int,
    field_count: int,
    seed: int,
    layout: Layout = "throws",
) -> CountGrid:
    """Lay the points of a count on the face.

    Parameters
    ----------
    outer_px : array_like (n, 2)
        Outline of the face, (x, y) in px.
    holes_px : sequence of array_like (m, 2)
        Points in holes are left out.
    points_per_field, field_count : int
        The spacing is the one at which a field holds that many points on average. How many fall inside is left to
        chance: to force the number would make some places likelier than others.
    seed : int
        Gives offsets, tilts and the order of patches; the same seed gives the same points. With throws, more fields of
        the same seed begin with the same fields.
    layout : "throws" or "patches"
        Throws: each field is a grid of its own over the whole face, so the spread between fields is that of chance
        alone. Patches: one grid, cut into compact patches of sizes that differ by one point at most; their spread
        takes in how the face differs from place to place, which widens the interval. They are numbered in an order
        drawn by chance, so that a count that was ended early still rests on fields chosen by chance (E562 asks so).

    Raises
    ------
    PointCountRefused
        Too few points, or so few fell inside that a field would be next to empty.

    Notes
    -----
    Offset uniform over one mesh: every place of the face is equally likely to be under a point. Grids are tilted by a
    random angle because roads are a grid too, and a grid laid along them would meet the same part of each road.
    """
    if points_per_field < LEAST_POINTS or field_count < 1:
        raise PointCountRefused(f"take at least {LEAST_POINTS} points per field and one field")
    outer = np.asarray(outer_px, dtype=np.float64)
    holes = [np.asarray(hole, dtype=np.float64) for hole in holes_px]
    area = abs(signed_area(outer)) - sum(abs(signed_area(hole)) for hole in holes)
    if area <= 0:
        raise PointCountRefused("the outline encloses nothing; draw it again")
    fields_a_grid = field_count if layout == "patches" else 1
    spacing = math.sqrt(area / (points_per_field * fields_a_grid))
    fields, angles = [], []
    for number in range(field_count // fields_a_grid):
        # Each throw has a chance of its own, so that fields can be added later and the first ones stay as they were.
        chance = np.random.default_rng((seed, number))
        nodes, points, angle = _throw(outer, holes, spacing, chance)
        if len(points) < 2 * fields_a_grid:
            raise PointCountRefused("hardly any point falls on the face; take more points per field")
        patches = _patches(nodes, _sizes(len(points), fields_a_grid))
        fields += [points[patches[k]] for k in chance.permutation(fields_a_grid)]
        angles += [angle] * fields_a_grid
    field_of = np.repeat(np.arange(field_count), [len(members) for members in fields])
    return CountGrid(np.concatenate(fields), field_of, spacing, tuple(angles), seed)


def _throw(
    outer: Points, holes: Sequence[Points], spacing: float, chance: np.random.Generator
) -> tuple[NDArray[np.intp], Points, float]:
    """One grid with an offset and a tilt of its own: nodes, places and tilt in degrees of the points on the face."""
    offset, angle = chance.random(2), float(chance.uniform(0, 90))
    nodes, points = _mesh(outer, spacing, offset, math.radians(angle))
    there = inside(outer, points)
    for hole in holes:
        there &= ~inside(hole, points)
    return nodes[there], points[there], angle


def _mesh(outer: Points, spacing: float, offset: Points, angle: float) -> tuple[NDArray[np.intp], Points]:
    """Nodes (column, row) and places of a tilted mesh that covers the outline's box on all sides."""
    centre = (outer.min(axis=0) + outer.max(axis=0)) / 2
    reach = math.ceil(float(np.hypot(*np.ptp(outer, axis=0))) / 2 / spacing) + 1
    steps = np.arange(-reach, reach + 1)
    nodes = np.stack(np.meshgrid(steps, steps), axis=-1).reshape(-1, 2)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    return nodes, centre + ((nodes + offset) * spacing) @ turn


def _sizes(points: int, fields: int) -> list[int]:
    return [points // fields + (number < points % fields) for number in range(fields)]


def _patches(nodes: NDArray[np.intp], sizes: Sequence[int]) -> list[NDArray[np.intp]]:
    """Cut the nodes into compact groups of the given sizes, halving the longer side again and again."""

    def cut(members: NDArray[np.intp], wanted: Sequence[int]) -> list[NDArray[np.intp]]:
        if len(wanted) == 1:
            return [members[_walk(nodes[members])]]
        along = int(np.argmax(np.ptp(nodes[members], axis=0)))
        ordered = members[np.lexsort((nodes[members, 1 - along], nodes[members, along]))]
        half = len(wanted) // 2
        here = sum(wanted[:half])
        return cut(ordered[:here], wanted[:half]) + cut(ordered[here:], wanted[half:])

    return cut(np.arange(len(nodes)), sizes)


def _walk(nodes: NDArray[np.intp]) -> NDArray[np.intp]:
    """Order that goes through the rows to and fro, so that the next point is near the last."""
    column, row = nodes.T
    return np.lexsort((np.where((row - row.min()) % 2, -column, column), row))
