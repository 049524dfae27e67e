"""A wall road unrolled into a picture: its own width and a good half of each neighbour, lightness and colour levelled.

The neighbours are what a missing road is told by: between them the layer below lies deeper and darker, the furrows
run on, and the road's ends stand rounded.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.common.smooth import gauss
from analysis.roads.walls import Wall
from analysis.roads.workview import FINE, Floats, Points, Workview
from analysis.welds.cues import inside_mean, log_lightness

STRIP_PX = 16  # pixels a line width, across and along
ROWS = 40  # across: 1.25 line widths to each side of the centreline
CHANNELS = ("light_less_field", "light", "chroma", "face")
_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)  # IEC 61966-2-1 primaries
_FIELD = 2.5  # line widths over which uneven light is levelled
_CLIP = 4.0


def wall_strips(view: Workview, walls: Sequence[Wall], rows: int = ROWS) -> list[Floats]:
    """One picture (rows, columns, len(CHANNELS)) a wall; row 0 on the outline's side, columns a multiple of four.

    Lightness is in units of the face's own spread, chroma in units of the filament's own; zero off the face.
    """
    light, field, chroma, face = _planes(view)
    out = []
    for wall in walls:
        where = strip_places(view, wall, rows)
        fine = where * FINE + (FINE - 1) / 2
        mask = ndimage.map_coordinates(face, where, order=1, mode="constant")
        bright = ndimage.map_coordinates(light, fine, order=1, mode="nearest")
        level = ndimage.map_coordinates(field, where, order=1, mode="nearest")
        colour = ndimage.map_coordinates(chroma, where, order=1, mode="nearest")
        picture = np.stack([bright - level, bright, colour, np.ones_like(mask)], -1)
        out.append((np.clip(picture, -_CLIP, _CLIP) * mask[..., None]).astype(np.float32))
    return out


def strip_places(view: Workview, wall: Wall, rows: int) -> npt.NDArray[np.float64]:
    """Where the strip's pixels lie on the working grid: (2, rows, columns) row and column."""
    count = 4 * max(round(wall.length_px / view.road_px * STRIP_PX / 4), 4)
    line = _resampled(wall.line_px, count)
    reach = 5
    ahead = np.roll(line, -reach, axis=0) - np.roll(line, reach, axis=0)
    tangent = ahead / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    x, y = wall.line_px.T
    turn = np.sign(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    inward = turn * np.c_[-tangent[:, 1], tangent[:, 0]] * (1 if wall.outline == "outer" else -1)
    across = ((np.arange(rows) + 0.5) - rows / 2) / STRIP_PX * view.road_px
    xy = line[None] + across[:, None, None] * inward[None]
    return np.asarray(np.stack([xy[..., 1], xy[..., 0]]), np.float64)


def _resampled(line: Points, count: int) -> Points:
    closed = np.vstack([line, line[:1]])
    at = np.arange(count) * len(line) / count
    whole = np.arange(len(line) + 1)
    return np.stack([np.interp(at, whole, closed[:, k]) for k in (0, 1)], -1)


def _planes(view: Workview) -> tuple[Floats, Floats, Floats, Floats]:
    """Lightness on the fine grid, its field, chroma and the face on the working grid."""
    inside, face = view.inside, view.inside.astype(np.float32)
    luminance = view.linear @ _LUMA
    level = float(np.median(luminance[inside])) + 1e-5
    coarse = log_lightness(luminance, level)
    low, middle, high = np.percentile(coarse[inside], [10, 50, 90])
    spread = max(float(high - low) / 2, 0.05)
    field = (inside_mean(coarse, face, _FIELD * view.road_px) - middle) / spread
    light = (log_lightness(gauss(view.fine, 0.5), level) - middle) / spread
    return light.astype(np.float32), field.astype(np.float32), _chroma(view, face), face


def _chroma(view: Workview, face: Floats) -> Floats:
    """Colour along the filament's own hue less its median, in units of the filament's own colour."""
    soft = np.stack([inside_mean(view.linear[..., k], face, 0.1 * view.road_px) for k in range(3)], -1)
    total = soft.sum(-1) + 1e-3
    pair = np.stack([soft[..., 0] - soft[..., 1], soft[..., 2] - soft[..., 1]], -1) / total[..., None]
    centre = np.median(pair[view.inside], axis=0)
    chroma = pair @ (centre / max(float(np.hypot(*centre)), 1e-6))
    middle, top = np.percentile(chroma[view.inside], [50, 90])
    return np.asarray((chroma - middle) / max(float(top), 0.05), np.float32)
