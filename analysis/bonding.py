"""What each point of the face is: bonded, bare road, missing road, or no road at all, as probabilities.

The cues are laid out as planes on the working grid and read by the small stored network (`network`). All of them are
relative: lightness against the face's own median, colour along the filament's own hue, place within the wall road.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from analysis.network import classify
from analysis.walls import RASTER, WallField
from analysis.workview import FINE, Bools, Floats, Workview

CELL = 2  # working pixels a side of the cells the network looks at
CUE_NAMES = (
    *(f"lightness, sixteenth {k}" for k in range((CELL * FINE) ** 2)),
    "lightness against the surroundings",
    "colour kept",
    "colour off the filament's hue",
    "the filament's own colour",
    *(f"inside the contact band, quarter {k}" for k in range(CELL**2)),
    "on a wall road",
    "on the face",
    "distance from the wall's centre",
    "depth from the outline",
    "share of the road that makes contact",
    "place across the wall road",
)
INSIDE_PLANE = CUE_NAMES.index("on the face")
BONDED_P, BARE_P, VOID_P, OTHER_P = range(4)


@dataclass(frozen=True)
class Reading:
    """Probabilities on the working grid, zero outside the face.

    classes : (rows, cols, 4) bonded, bare contact, missing road, no contact wanted; sum 1 on the face.
    hidden : (rows, cols) probability that a film of grease hides what is there.
    border : (rows, cols) probability of a step between two layers.
    cues : (rows // CELL, cols // CELL, len(CUE_NAMES)) what was read.
    own_chroma : strength of the filament's own colour, about 0 for grey, white and black.
    """

    classes: Floats
    hidden: Floats
    border: Floats
    cues: Floats
    own_chroma: float


def inside_mean(values: Floats, inside: Floats, sigma_px: float) -> Floats:
    """Gaussian mean over the face alone, so that the background never leaks in."""
    weight = ndimage.gaussian_filter(inside, sigma_px, truncate=2.5)
    total = ndimage.gaussian_filter(values * inside, sigma_px, truncate=2.5)
    return np.asarray(total / np.maximum(weight, 1e-3), np.float32)


def own_colour(view: Workview) -> tuple[Floats, float]:
    """Chroma along and off the filament's own hue, (rows, cols, 2), and the strength that the fullest tenth reaches.

    Whitening pulls a colour towards grey whatever its hue, so the hue is turned into the first axis.
    """
    soft = np.stack([ndimage.gaussian_filter(view.linear[..., k], 1.0) for k in range(3)], -1)
    total = soft.sum(-1) + 1e-3
    red, blue = (soft[..., 0] - soft[..., 1]) / total, (soft[..., 2] - soft[..., 1]) / total
    a, b = float(np.median(red[view.inside])), float(np.median(blue[view.inside]))
    length = max(float(np.hypot(a, b)), 1e-6)
    a, b = a / length, b / length
    chroma = np.stack([red * a + blue * b, blue * a - red * b], -1).astype(np.float32)
    return chroma, float(np.percentile(chroma[..., 0][view.inside], 90))


def place_planes(view: Workview, field: WallField, band_share: float) -> Floats:
    """Where a point lies on the walls, (rows, cols, 7): the contact band first, then the last six cues."""
    on_wall = field.outline != RASTER
    step = np.clip((band_share / 2 - field.offset) * 6 + 0.5, 0, 1) * on_wall
    planes = (
        step,
        on_wall,
        view.inside,
        np.where(on_wall, field.offset, 0.6),
        np.minimum(field.depth, 4) / 4,
        np.full(on_wall.shape, band_share),
        field.depth % 1 * on_wall,
    )
    return np.stack([np.asarray(p, np.float32) for p in planes], -1)


def log_lightness(luminance: Floats, level: float) -> Floats:
    """Natural log of luminance over the face's own level; the small addend keeps black from running off."""
    return np.asarray(np.log(np.maximum(luminance, 0) / level + 0.03), np.float32)


def to_cells(planes: Floats, size: int) -> Floats:
    """Lay the size x size points of each cell side by side as planes: (rows, cols) -> (rows/size, cols/size, size²)."""
    rows, cols = planes.shape[0] // size, planes.shape[1] // size
    return planes.reshape(rows, size, cols, size).transpose(0, 2, 1, 3).reshape(rows, cols, size * size)


def lay_out_cues(lightness: Floats, chroma: Floats, own: float, place: Floats, inside: Bools) -> Floats:
    """Put the parts into the network's order, (rows/CELL, cols/CELL, len(CUE_NAMES)), zero outside the face.

    Parameters
    ----------
    lightness : (FINE*rows, FINE*cols) as `log_lightness` gives it.
    chroma, own : from `own_colour`. place : from `place_planes`. inside : (rows, cols); rows, cols multiples of CELL.
    """
    texture = to_cells(lightness, CELL * FINE)
    mean = to_cells(lightness, FINE).mean(-1)
    face = inside.astype(np.float32)
    flat = mean - inside_mean(mean, face, 18.0)
    cell_face = to_cells(face, CELL).mean(-1)
    pooled = [to_cells(v, CELL).mean(-1) for v in (np.clip(flat, -2, 2), chroma[..., 0], chroma[..., 1])]
    scale = abs(own) + 0.05
    parts = [
        np.clip(texture, -3, 3),
        np.stack([pooled[0], np.clip(pooled[1] / scale, -3, 3), np.clip(pooled[2] / scale, -3, 3)], -1),
        np.full((*cell_face.shape, 1), own * 3),
        to_cells(place[..., 0], CELL),
        np.stack([to_cells(place[..., k], CELL).mean(-1) for k in range(1, place.shape[-1])], -1),
    ]
    return np.asarray(np.concatenate(parts, -1) * (cell_face > 0)[..., None], np.float32)


def face_level(view: Workview) -> float:
    """Median luminance of the face: the level that lightness is counted from."""
    rows, cols = view.inside.shape
    pooled = view.fine.reshape(rows, FINE, cols, FINE).mean((1, 3))
    return float(np.median(pooled[view.inside])) + 1e-5


def read_face(view: Workview, field: WallField, contact_band_mm: float, line_width_mm: float) -> Reading:
    """Judge every point of the face.

    Parameters
    ----------
    view, field : the face at working resolution and its wall roads.
    contact_band_mm, line_width_mm : nominal widths of the contact and of the road.
    """
    chroma, own = own_colour(view)
    place = place_planes(view, field, min(contact_band_mm / line_width_mm, 1.0))
    cues = lay_out_cues(log_lightness(view.fine, face_level(view)), chroma, own, place, view.inside)
    scores = classify(cues, INSIDE_PLANE)
    face = view.inside.astype(np.float32)
    odds = np.exp(scores[..., :4] - scores[..., :4].max(-1, keepdims=True))
    classes = odds / odds.sum(-1, keepdims=True) * face[..., None]
    hidden, border = (face / (1 + np.exp(-scores[..., k])) for k in (4, 5))
    return Reading(classes.astype(np.float32), hidden.astype(np.float32), border.astype(np.float32), cues, own)
