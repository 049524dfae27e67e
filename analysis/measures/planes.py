"""Layer planes: the parts into which steps between two layers cut the face."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage
from skimage.segmentation import watershed

from analysis.roads.walls import RASTER, WallField
from analysis.roads.workview import Bools, Floats, Workview
from analysis.welds.bonding import Reading

LEAST_SHARE = 0.03  # by definition: a smaller terrace is not counted
_WALL_HEIGHT = 0.5  # border probability that separates two terraces


def find_planes(view: Workview, reading: Reading) -> npt.NDArray[np.int32]:
    """Number every point of the face with its terrace, 1 upward by area; 0 outside.

    The border map is flooded from its calm places; basins whose common border is weak on average are one plane, and
    basins below `LEAST_SHARE` join the neighbour they share the weakest border with.
    """
    border = ndimage.gaussian_filter(reading.border, 1.0)
    calm = (border < 0.15) & view.inside
    seeds, _ = ndimage.label(ndimage.binary_erosion(calm, iterations=1))
    basins = watershed(border, seeds, mask=view.inside)
    basins = _merge(basins, border, view.inside)
    sizes = np.bincount(basins.ravel())
    sizes[0] = 0
    order = np.argsort(-sizes)
    rank = np.zeros(len(sizes), np.int32)
    rank[order] = np.arange(1, len(sizes) + 1)
    rank[sizes == 0] = 0
    return rank[basins]


def _merge(basins: npt.NDArray[np.int32], border: Floats, inside: Bools) -> npt.NDArray[np.int32]:
    """Join the weakest pair of neighbours until every border left stands and every basin counts."""
    least = LEAST_SHARE * inside.sum()
    while True:
        sizes = np.bincount(basins.ravel())
        heights = _border_heights(basins, border)
        if not heights:
            return basins
        pair, height = min(heights.items(), key=lambda item: item[1])
        small = [item for item in heights.items() if min(sizes[item[0][0]], sizes[item[0][1]]) < least]
        if height >= _WALL_HEIGHT:
            if not small:
                return basins
            pair, _ = min(small, key=lambda item: item[1])
        keep, lose = pair if sizes[pair[0]] >= sizes[pair[1]] else pair[::-1]
        basins = np.where(basins == lose, keep, basins)


def _border_heights(basins: npt.NDArray[np.int32], border: Floats) -> dict[tuple[int, int], float]:
    """Mean border probability along the common edge of every two neighbouring basins."""
    sums: dict[tuple[int, int], list[float]] = {}
    for a, b, height in (
        (basins[:, 1:], basins[:, :-1], np.maximum(border[:, 1:], border[:, :-1])),
        (basins[1:], basins[:-1], np.maximum(border[1:], border[:-1])),
    ):
        meet = (a != b) & (a > 0) & (b > 0)
        low, high = np.minimum(a[meet], b[meet]), np.maximum(a[meet], b[meet])
        key = low.astype(np.int64) * (int(basins.max()) + 1) + high
        values, where = np.unique(key, return_inverse=True)
        total, count = np.bincount(where, height[meet]), np.bincount(where)
        for value, one, many in zip(values, total, count, strict=True):
            pair = (int(value // (int(basins.max()) + 1)), int(value % (int(basins.max()) + 1)))
            entry = sums.setdefault(pair, [0.0, 0.0])
            entry[0] += float(one)
            entry[1] += float(many)
    return {pair: one / many for pair, (one, many) in sums.items()}


def road_angle_deg(view: Workview, field: WallField, region: Bools) -> float | None:
    """Direction of the raster roads in a region, degrees modulo 180; None where fewer than four roads' area lie there.

    From the structure tensor of lightness. Two crossing layers share their gradients, so on a sparse filling the
    stronger of the two directions is given.
    """
    raster = region & (field.outline == RASTER) & (field.depth > field.wall_count * 0.9)
    if raster.sum() < 4 * view.road_px**2:
        return None
    light = np.log(view.linear.mean(-1) + 0.02)
    dy = ndimage.gaussian_filter(light, view.road_px / 8, order=(1, 0))[raster]
    dx = ndimage.gaussian_filter(light, view.road_px / 8, order=(0, 1))[raster]
    # Doubling the angle makes opposite gradients agree; the road runs across them.
    twice = np.arctan2((2 * dx * dy).sum(), (dx * dx - dy * dy).sum())
    return float(np.degrees(twice / 2 + np.pi / 2) % 180)


def planes_json(view: Workview, field: WallField, planes: npt.NDArray[np.int32]) -> list[dict[str, Any]]:
    """The result's `layer_planes`, largest first. `level` is null: the step's height isn't read from one photo."""
    total = max(int(view.inside.sum()), 1)
    found = []
    for number in range(1, int(planes.max()) + 1):
        region = planes == number
        share = float(region.sum()) / total
        if share < LEAST_SHARE:
            continue
        angle = road_angle_deg(view, field, region)
        found.append(
            {
                "area_share": round(share, 4),
                "road_deg": None if angle is None else round(angle, 1),
                "level": 0 if share == 1.0 else None,
            }
        )
    return found
