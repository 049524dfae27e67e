"""The label map, and the two shares as the result gives them, with bounds and 90 % intervals."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.common.classes import BARE, BONDED, OPENING, OUTSIDE, UNKNOWN, VOID
from analysis.measures.areas import Areas
from analysis.measures.intervals import Spread, ninety
from analysis.roads.workview import Bools, Workview
from analysis.welds.bonding import BONDED_P, OTHER_P, VOID_P, Reading


def label_map(view: Workview, reading: Reading, unknown: Bools) -> npt.NDArray[np.uint8]:
    """One class code a point, (rows, cols).

    Bonded are the likeliest points, as many as the expected bonded area holds: so the picture and the number agree.
    """
    bonded = reading.classes[..., BONDED_P]
    known = view.inside & ~unknown
    wanted = round(float(bonded[known].sum()))
    labels = np.full(view.inside.shape, OUTSIDE, np.uint8)
    labels[known] = BARE
    if 0 < wanted < known.sum():
        level = np.partition(bonded[known], -wanted)[-wanted]
        labels[known & (bonded >= level)] = BONDED
    rest = known & (labels != BONDED)
    labels[rest & (reading.classes[..., VOID_P] > 0.5)] = VOID
    labels[rest & openings(view, reading)] = OPENING
    labels[unknown] = UNKNOWN
    return labels


def openings(view: Workview, reading: Reading) -> Bools:
    """Where no road was wanted over more than the flank between two roads: the mesh of a sparse filling."""
    other = ndimage.uniform_filter(reading.classes[..., OTHER_P], round(view.road_px * 0.75) | 1)
    return np.asarray((other > 0.85) & (reading.classes[..., OTHER_P] > 0.5) & view.inside)


def share_json(areas: Areas, spread: Spread) -> dict[str, Any]:
    """`bonded_share_of_face`: value, 90 % interval, and bounds where part of the face is unknown."""
    value = areas.share()
    total = float(areas.inside.sum())
    bonded = float(areas.bonded[areas.known].sum())
    hidden = float((areas.inside & ~areas.known).sum())
    return _entry(value, ninety(value, spread.share_half), (bonded / total, (bonded + hidden) / total))


def fraction_json(areas: Areas, spread: Spread) -> dict[str, Any] | None:
    """`bonded_area_fraction` likewise, over nominal contact; None where the face has none."""
    value = areas.fraction()
    if value is None:
        return None
    bonded = float(areas.bonded[areas.known].sum())
    hidden = float(areas.nominal[areas.inside & ~areas.known].sum())
    total = float(areas.nominal[areas.known].sum()) + hidden
    return _entry(value, ninety(value, spread.fraction_half), (bonded / total, (bonded + hidden) / total))


def _entry(value: float, interval: tuple[float, float], bounds: tuple[float, float]) -> dict[str, Any]:
    return {
        "value": round(value, 4),
        "interval": [round(v, 4) for v in interval],
        "bounds": [round(float(np.clip(v, 0, 1)), 4) for v in bounds],
    }
