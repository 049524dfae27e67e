"""The road spacing, measured on the walls: how far apart the furrows between them lie.

Many toolpaths lay roads closer than their nominal width, so that a road's half-round sides overlap: by h(1 - pi/4)
when the volume is kept. Over several walls this shifts the inner ones by a fair part of a road.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.roads.walls import find_walls
from analysis.roads.workview import Workview
from analysis.welds.cues import inside_mean

_STEP_ROADS = 0.02  # profile bin, line widths
_FEWEST_WALLS = 3  # two furrows; with one, an outline a little off looks the same as a narrower spacing
_CLEAR = 2.0  # how far, in noise units, the best spacing must stand above the nominal one to be believed


def depth_profile(view: Workview, wall_count: int) -> npt.NDArray[np.float64]:
    """Mean standardised lightness by depth from the nearest outline, bins of `_STEP_ROADS` line widths.

    Lightness is standardised within one road around each point, so that a patch of whitening counts no more than the
    rest. (sectors, bins): one row for each of eight parts of the face, to tell signal from noise.
    """
    field = find_walls(view, wall_count, view.road_px)
    light = np.log(view.linear.mean(-1) + 0.02).astype(np.float32)
    face = view.inside.astype(np.float32)
    mean = inside_mean(light, face, view.road_px * 0.7)
    spread = np.sqrt(inside_mean((light - mean) ** 2, face, view.road_px * 0.7)) + 0.02
    value = (light - mean) / spread
    rows, cols = np.nonzero(view.inside & (field.depth < wall_count + 1))
    depth = field.depth[rows, cols]
    centre = np.array([rows.mean(), cols.mean()])
    sector = ((np.arctan2(rows - centre[0], cols - centre[1]) + np.pi) / (2 * np.pi) * 8).astype(int) % 8
    bins = int((wall_count + 1) / _STEP_ROADS)
    at = sector * bins + np.clip((depth / _STEP_ROADS).astype(int), 0, bins - 1)
    total = np.bincount(at, value[rows, cols], 8 * bins).reshape(8, bins)
    count = np.bincount(at, minlength=8 * bins).reshape(8, bins)
    smooth = [ndimage.gaussian_filter1d(a, 2.0, axis=1, mode="nearest") for a in (total, count.astype(float))]
    return np.asarray(smooth[0] / np.maximum(smooth[1], 0.5))


def measure_spacing(view: Workview, wall_count: int, line_width_mm: float, layer_height_mm: float) -> float | None:
    """Road spacing in mm, or None where the walls don't show it (too few, or no furrows).

    Parameters
    ----------
    view : the face. wall_count : walls of the outer outline. line_width_mm, layer_height_mm : nominal.
    """
    if wall_count < _FEWEST_WALLS:
        return None
    profile = depth_profile(view, wall_count)
    width = 0.09 / _STEP_ROADS
    furrow = ndimage.gaussian_filter1d(profile, width, axis=1, order=2) * width**2
    least = 1 - 1.3 * layer_height_mm * (1 - np.pi / 4) / line_width_mm
    tried = np.linspace(least, 1.02, 60)
    scores = np.stack([_furrow_score(furrow, s, wall_count) for s in tried])  # (tried, sectors)
    mean = scores.mean(1)
    best = int(mean.argmax())
    nominal = int(np.abs(tried - 1).argmin())
    noise = float((scores[best] - scores[nominal]).std() / np.sqrt(8)) + 1e-9
    if mean[best] <= 0 or (mean[best] - mean[nominal]) / noise < _CLEAR:
        return None
    return float(tried[best] * line_width_mm)


def _furrow_score(furrow: npt.NDArray[np.float64], spacing: float, wall_count: int) -> npt.NDArray[np.float64]:
    """How dark the lines between the walls are when the walls lie `spacing` line widths apart; one value a sector.

    The innermost wall's inner side is left out: the filling overlaps it or stays away from it.
    """
    at = (0.5 + (np.arange(wall_count - 1) + 0.5) * spacing) / _STEP_ROADS - 0.5
    inside = at < furrow.shape[1] - 1
    low = np.floor(at[inside]).astype(int)
    part = at[inside] - low
    weight = np.arange(1, wall_count)[inside]
    value = furrow[:, low] * (1 - part) + furrow[:, low + 1] * part
    return np.asarray((value * weight).sum(1) / weight.sum())
