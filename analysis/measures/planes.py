"""Layer planes: the parts into which steps between two layers cut the face."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.common.smooth import gauss
from analysis.measures.plane_crossings import crossings
from analysis.measures.plane_cues import plane_cues
from analysis.measures.plane_network import CELL, load_layers, run
from analysis.measures.plane_split import LEAST_SHARE, MOST, Split, splits
from analysis.roads.walls import RASTER, WallField
from analysis.roads.workview import Bools, Floats, Workview

COUNTING = Path(__file__).with_name("plane_counting.txt")


@dataclass(frozen=True)
class Planes:
    """The face's planes.

    numbers : (rows, cols) int32 on the working grid, 1 upward by area, 0 outside.
    probabilities : of one, two, three and four planes.
    """

    numbers: npt.NDArray[np.int32]
    probabilities: tuple[float, ...]


def find_planes(view: Workview, field: WallField) -> Planes:
    """Tell the face's planes apart: as many as the middle of the probabilities says."""
    cues = plane_cues(view, field)
    scores = run(cues, load_layers())
    inside = places(view.inside)
    tried = splits(scores[..., 0], scores[..., 1:], inside)
    odds = count_probabilities(tried, face_evidence(cues, scores, inside))
    best = tried[int((np.cumsum(odds) < 0.5).sum())]  # the median: what errs by the least number of planes
    large = np.kron(best.labels, np.ones((CELL, CELL), np.int32))
    pads = [(0, max(n - m, 0)) for n, m in zip(view.inside.shape, large.shape, strict=True)]
    large = np.pad(large, pads)[: view.inside.shape[0], : view.inside.shape[1]]
    nearest = ndimage.distance_transform_edt(large == 0, return_distances=False, return_indices=True)
    return Planes(_by_area(np.where(view.inside, large[tuple(nearest)], 0)), odds)


def face_evidence(cues: Floats, scores: Floats, inside: Bools) -> tuple[float, float]:
    """How sure the surest steps of the face are, 0 to 1, and the log of how many lines cross its walls."""
    surest = float(np.percentile(scores[..., 0][inside], 97))
    return float(1 / (1 + np.exp(-surest))), float(np.log(crossings(cues) + 0.1))


def places(inside: Bools) -> Bools:
    """Which places of the network's grid lie on the face for half of their area at least."""
    rows, cols = (-(-n // CELL) * CELL for n in inside.shape)
    whole = np.pad(inside, ((0, rows - inside.shape[0]), (0, cols - inside.shape[1])))
    return np.asarray(whole.reshape(rows // CELL, CELL, cols // CELL, CELL).mean((1, 3)) >= 0.5)


def _by_area(numbers: npt.NDArray[np.int32]) -> npt.NDArray[np.int32]:
    sizes = np.bincount(numbers.ravel())
    sizes[0] = 0
    rank = np.zeros(len(sizes), np.int32)
    rank[np.argsort(-sizes)] = np.arange(1, len(sizes) + 1)
    rank[sizes == 0] = 0
    return rank[numbers]


def count_probabilities(tried: Sequence[Split], face: tuple[float, float]) -> tuple[float, ...]:
    """Probabilities of 1 to MOST planes, by a stored regression: is it more than one, and then one more still, ...

    None is given to more planes than the face could be divided into. `face` : `face_evidence`.
    """
    left, out = 1.0, []
    for split in tried[1:]:
        weights, bias = counting()[min(split.count, 3) - 2]
        more = float(1 / (1 + np.exp(-(np.dot(weights, (split.loose, *face)) + bias))))
        out.append(left * (1 - more))
        left *= more
    return (*out, left, *[0.0] * (MOST - len(tried)))


@cache
def counting() -> tuple[tuple[npt.NDArray[np.float64], float], ...]:
    """Weights and bias for "more than one" and for "more than two, three"."""
    rows = np.loadtxt(COUNTING)
    return tuple((row[:-1], float(row[-1])) for row in rows)


def road_angle_deg(view: Workview, field: WallField, region: Bools) -> float | None:
    """Direction of the raster roads in a region, degrees modulo 180; None where fewer than four roads' area lie there.

    From the structure tensor of lightness. Two crossing layers share their gradients, so on a sparse filling the
    stronger of the two directions is given.
    """
    raster = region & (field.outline == RASTER) & (field.depth > field.wall_count * 0.9)
    if raster.sum() < 4 * view.road_px**2:
        return None
    light = np.log(view.linear.mean(-1) + 0.02)
    dy = gauss(light, view.road_px / 8, order=(1, 0))[raster]
    dx = gauss(light, view.road_px / 8, order=(0, 1))[raster]
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
