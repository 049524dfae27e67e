"""What a wall shows along its length: the cues of its core and flanks, near and far, against the rest of the wall.

A missing road is told by a stretch, not by a point: the layer below shows, between two cliffs, and nothing there tore.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import ndimage

from analysis.roads.walls import Wall, strip
from analysis.roads.workview import Floats, Workview
from analysis.welds.cues import Cues

STEP_ROADS = 0.25  # distance of the read places along the wall, line widths
PLANES = (
    "light_near",
    "near_minus_field",
    "chroma_kept",
    "chroma_less_fullest",
    "rough0_near",
    "rough1_near",
    "rough2_near",
    "along1",
    "along_over_across1",
    "curve_across_broad",
    "slope_broad",
    "above_local_low",
    "below_local_high",
    "light_near_side",
    "chroma_kept_near_side",
    "rough1_near_side",
)
_CORE, _FLANK = 0.25, (0.35, 0.6)  # distance from the centreline, line widths
_NEAR, _FAR = 0.4, 1.5  # smoothing along the wall, line widths


def names() -> tuple[str, ...]:
    """The cues in the order of `wall_cues`."""
    parts = ("core", "core_less_flanks", "flanks_apart")
    first = [f"{plane}_{part}_{reach}" for plane in PLANES for part in parts for reach in ("near", "far")]
    rest = [f"{plane}_less_{whole}" for plane in PLANES for whole in ("wall", "walls")]
    return (*first, *rest, "index", "first_outline", "band_share")


def wall_cues(view: Workview, cues: Cues, walls: Sequence[Wall], band_share: float) -> list[Floats]:
    """One array (places, len(names())) a wall, at even steps of about `STEP_ROADS` from its start."""
    chosen = cues.planes[..., [cues.names.index(name) for name in PLANES]]
    read = [_across(view, chosen, wall) for wall in walls]
    typical = np.median(np.concatenate([core for core, _, _ in read]), axis=0) if read else 0
    out = []
    for wall, parts in zip(walls, read, strict=True):
        road = view.road_px * len(wall.line_px) / wall.length_px
        columns = []
        for part in parts:
            smooth = [ndimage.gaussian_filter1d(part, s * road, axis=0, mode="wrap") for s in (_NEAR, _FAR)]
            columns.append(np.stack(smooth, -1))
        core = columns[0][..., 0]
        table = np.stack(columns, 2).reshape(len(core), -1)  # plane, part, reach: the order of `names`
        less = np.stack([core - np.median(parts[0], axis=0), core - typical], -1).reshape(len(core), -1)
        fixed = np.broadcast_to([wall.index, float(wall.outline == "outer"), band_share], (len(core), 3))
        places = np.rint(np.arange(0, len(core), STEP_ROADS * road)).astype(int)
        out.append(np.concatenate([table, less, fixed], 1)[places[places < len(core)]].astype(np.float32))
    return out


def _across(view: Workview, planes: Floats, wall: Wall) -> tuple[Floats, Floats, Floats]:
    """Core, core less the mean of the flanks, and how far the two flanks lie apart; each (along, planes)."""
    width = 2 * _FLANK[1] * view.road_px
    read = strip(planes, wall, width)
    offset = np.abs((np.arange(len(read)) + 0.5) / len(read) * 2 - 1) * _FLANK[1]
    low = np.arange(len(read)) < len(read) / 2
    core = read[offset < _CORE].mean(0)
    flanks = [read[(offset > _FLANK[0]) & side].mean(0) for side in (low, ~low)]
    apart = np.abs(flanks[0] - flanks[1])
    return core, core - (flanks[0] + flanks[1]) / 2, apart
