"""Outline -> wall roads: which wall each point of the face belongs to, and each wall's centreline and strip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage
from skimage.measure import find_contours

from analysis.common.smooth import gauss
from analysis.roads.workview import Floats, Points, Workview

RASTER = -1


@dataclass(frozen=True)
class WallField:
    """Where the wall roads lie.

    outline : (rows, cols) int8, 0 = outer, 1.. = hole 0.., of the nearest wall; RASTER off the walls.
    index : (rows, cols) int8 wall number from its outline, RASTER off the walls.
    offset : (rows, cols) distance to the nearest wall centreline in line widths (nan-free; large in the raster).
    depth : (rows, cols) distance to the nearest outline in line widths.
    tangent_rad : (rows, cols) direction of the nearest wall, modulo pi.
    distance : one (rows, cols) array per outline, working px, positive on the face's side.
    """

    outline: npt.NDArray[np.int8]
    index: npt.NDArray[np.int8]
    offset: Floats
    depth: Floats
    tangent_rad: Floats
    distance: tuple[Floats, ...]
    wall_count: int
    spacing_px: float


@dataclass(frozen=True)
class Wall:
    """One wall road: centreline (n, 2) working (x, y), closed, evenly spaced by about 1 px, in the outline's order."""

    outline: str
    index: int
    line_px: Points
    length_px: float


def find_walls(view: Workview, wall_count: int, spacing_px: float) -> WallField:
    """Lay `wall_count` roads of the given spacing along the outer outline (inward) and each hole (outward)."""
    half = view.road_px / 2
    distances = view.edge_distances
    stack = np.stack(distances)
    place = (stack - half) / spacing_px  # wall number as a real number
    number = np.clip(np.rint(place), 0, max(wall_count - 1, 0))
    off = np.abs(stack - half - number * spacing_px) / view.road_px
    nearest = off.argmin(0)

    def take(stacked: npt.NDArray[np.floating]) -> npt.NDArray[np.floating]:
        return np.asarray(np.take_along_axis(stacked, nearest[None], 0)[0])

    offset = take(off).astype(np.float32)
    on_wall = view.inside & (offset <= 0.5) & (wall_count > 0)
    depth = np.where(view.inside, np.maximum(stack.min(0), 0) / view.road_px, 0).astype(np.float32)
    smooth = gauss(take(stack), 1.0)
    dy, dx = np.gradient(smooth)
    return WallField(
        outline=np.where(on_wall, nearest, RASTER).astype(np.int8),
        index=np.where(on_wall, take(number), RASTER).astype(np.int8),
        offset=offset,
        depth=depth,
        tangent_rad=np.mod(np.arctan2(dy, dx) + np.pi / 2, np.pi).astype(np.float32),
        distance=distances,
        wall_count=wall_count,
        spacing_px=spacing_px,
    )


def trace_walls(view: Workview, field: WallField) -> list[Wall]:
    """Centrelines as level lines of the distance to each outline, outermost first, in the outline's own order.

    Where a thin web or a neighbouring hole cuts a level line into pieces, the longest piece stands for the wall.
    """
    walls = []
    outlines = [view.outer_px, *view.holes_px]
    for number, (distance, polygon) in enumerate(zip(field.distance, outlines, strict=True)):
        for index in range(field.wall_count):
            level = view.road_px / 2 + index * field.spacing_px
            line = _level_line(np.pad(distance, 1, mode="edge"), level)
            if line is None:
                continue
            line = line - 1
            if _area(line) * _area(polygon) < 0:
                line = line[::-1]
            start = _start(line, polygon)
            line, length = _even(np.roll(line, -start, axis=0))
            if length >= 3 * view.road_px:
                walls.append(Wall("outer" if number == 0 else f"hole{number - 1}", index, line, length))
    return walls


def _level_line(distance: npt.NDArray[np.floating], level: float) -> Points | None:
    smooth = gauss(distance, 0.7)
    closed = [c[:-1, ::-1] for c in find_contours(smooth, level) if len(c) > 8 and np.allclose(c[0], c[-1])]
    return max(closed, key=len) if closed else None


def _area(polygon: Points) -> float:
    x, y = np.asarray(polygon).T
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _start(line: Points, polygon: Points) -> int:
    """The centreline point nearest to the outline polygon's first point: where its arc length begins."""
    return int(((line - np.asarray(polygon)[0]) ** 2).sum(1).argmin())


def _even(line: Points) -> tuple[Points, float]:
    """Resample a closed line at even steps of about one pixel."""
    closed = np.vstack([line, line[:1]])
    along = np.r_[0, np.cumsum(np.hypot(*np.diff(closed, axis=0).T))]
    count = max(round(along[-1]), 8)
    at = np.arange(count) * along[-1] / count
    return np.c_[np.interp(at, along, closed[:, 0]), np.interp(at, along, closed[:, 1])], float(along[-1])


def strip(values: npt.NDArray[Any], wall: Wall, width_px: float, order: int = 1) -> npt.NDArray[Any]:
    """Read a picture along a wall: (depth, along), row 0 on the outline's side, one column a working px.

    `values` (rows, cols) or (rows, cols, k) on the working grid; the strip is `width_px` wide.
    """
    ahead = np.roll(wall.line_px, -2, axis=0) - np.roll(wall.line_px, 2, axis=0)
    tangent = ahead / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    sign = 1.0 if _area(wall.line_px) > 0 else -1.0
    inward = sign * np.c_[-tangent[:, 1], tangent[:, 0]]
    if wall.outline != "outer":
        inward = -inward
    count = max(round(width_px), 3)
    across = (np.arange(count) + 0.5) / count * width_px - width_px / 2
    xy = wall.line_px[None] + across[:, None, None] * inward[None]
    where = np.stack([xy[..., 1], xy[..., 0]])
    if values.ndim == 2:
        return np.asarray(ndimage.map_coordinates(values, where, order=order, mode="nearest"))
    return np.stack(
        [ndimage.map_coordinates(values[..., k], where, order=order, mode="nearest") for k in range(values.shape[2])],
        -1,
    )
