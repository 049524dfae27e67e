"""How a wall road looks across its width: rounded and even in colour when bare, a whitened plateau when torn.

The flank between two contact bands was never joined, so it shows the filament as it is, beside every place that may
have been: the nearest thing to a reference that a face carries with it.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from analysis.common.smooth import gauss
from analysis.roads.walls import RASTER, WallField
from analysis.roads.workview import Bools, Floats

_EDGES = (0.0, 0.15, 0.28, 0.4, 0.51)  # distance from the wall's centre, line widths
_REACH_ROADS = 1.3


def profile_cues(signals: dict[str, Floats], inside: Bools, field: WallField, road_px: float) -> dict[str, Floats]:
    """For each signal, the road's centre less each outer lane: around the point, and over the whole face.

    Parameters
    ----------
    signals : (rows, cols) maps by name. In the raster the nearest walls answer, or the whole face far from any.
    """
    out: dict[str, Floats] = {}
    on_wall = inside & (field.outline != RASTER)
    lanes = [(on_wall & (field.offset >= a) & (field.offset < b)).astype(np.float32) for a, b in pairwise(_EDGES)]
    weights = [_wide(lane, road_px) for lane in lanes]
    for name, values in signals.items():
        near, whole = [], []
        for lane, weight in zip(lanes, weights, strict=True):
            mean = float((values * lane).sum() / max(float(lane.sum()), 1.0))
            near.append((_wide(values * lane, road_px) + 0.02 * mean) / (weight + 0.02))
            whole.append(mean)
        for number in range(1, len(lanes)):
            out[f"{name}_lane{number}"] = np.asarray(near[0] - near[number], np.float32)
            out[f"{name}_lane{number}_face"] = np.full(inside.shape, whole[0] - whole[number], np.float32)
        out[f"{name}_here_less_flank"] = np.asarray(values - near[-1], np.float32)
        out[f"{name}_here_less_centre"] = np.asarray(values - near[0], np.float32)
    return out


def _wide(values: Floats, road_px: float) -> Floats:
    return np.asarray(gauss(values, _REACH_ROADS * road_px, truncate=2.0), np.float32)
