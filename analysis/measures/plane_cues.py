"""What a step between two layers shows, as planes on a grid half as fine as the working grid.

Light, roughness and colour relative to the face's own; the direction of what is seen; and where the outline would
have the walls, so that walls which lie off their place can be told. Nothing here knows what is bonded.
"""

from __future__ import annotations

import numpy as np

from analysis.common.smooth import block_mean, gauss
from analysis.roads.walls import RASTER, WallField
from analysis.roads.workview import FINE, Floats, Workview

NAMES = (
    "light00", "light01", "light10", "light11", "light_road", "light_field", "rough_fine", "rough_mid", "chroma",
    "even_thin", "odd_thin", "even_broad", "odd_broad", "phase_even", "phase_odd", "on_wall", "inside",
)  # fmt: skip
_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)  # IEC 61966-2-1 primaries


def plane_cues(view: Workview, field: WallField) -> Floats:
    """Cues (rows / 2, cols / 2, len(NAMES)), about -3 to 3, zero outside the face.

    `light00` .. `light11` are the four working pixels of a cell, so that a cliff's thin edge is kept; `even`, `odd` are
    the cosine and sine of twice the angle of the lightness gradient, averaged over a road; `phase` tells the place
    across the wall that the outline would have there.
    """
    inside, road = view.inside, view.road_px
    face = inside.astype(np.float32)
    luminance = view.linear @ _LUMA
    level = float(np.median(luminance[inside])) + 1e-5
    light = np.log(np.maximum(luminance, 0) / level + 0.03)
    near, wide = _mean(light, face, road), _mean(light, face, 4 * road)
    fine = np.log(np.maximum(view.fine, 0) / level + 0.03)
    rough_fine = _rough(fine, 0.5 * FINE, face, 0.25 * road)
    rough_mid = _rough(fine, 1.5 * FINE, face, 0.25 * road)
    cells = _scaled(light - near, inside)
    planes = [
        *(cells[r::2, c::2] for r in (0, 1) for c in (0, 1)),
        block_mean(_scaled(near - wide, inside), 2),
        block_mean(_scaled(wide, inside), 2),
        block_mean(_scaled(rough_fine, inside), 2),
        block_mean(_scaled(rough_mid, inside), 2),
        block_mean(_scaled(_chroma(view, face), inside), 2),
        *(block_mean(v, 2) for sigma in (0.12, 0.3) for v in _direction(light, face, sigma * road, road)),
        *(block_mean(v, 2) for v in _wall_phase(field, road)),
    ]
    out = np.stack([*planes, np.ones_like(planes[0])], -1) * block_mean(face, 2)[..., None]
    return np.asarray(np.clip(np.nan_to_num(out), -4, 4), np.float32)


def _mean(values: Floats, face: Floats, sigma: float) -> Floats:
    """Gaussian mean over the face alone."""
    weight = gauss(face, sigma, truncate=2.5)
    return np.asarray(gauss(values * face, sigma, truncate=2.5) / np.maximum(weight, 1e-3))


def _scaled(values: Floats, inside: np.ndarray) -> Floats:
    """Shifted and scaled so that the face's 10 and 90 % lie at about -1.3 and 1.3."""
    low, middle, high = np.percentile(values[inside][::3], [10, 50, 90])
    return np.asarray((values - middle) * (2.6 / max(float(high - low), 0.02)), np.float32)


def _rough(fine: Floats, sigma: float, face: Floats, pool: float) -> Floats:
    """Log of the lightness' local spread at one scale, on the working grid."""
    detail = fine - gauss(fine, sigma, truncate=2.5)
    power = block_mean(detail * detail, FINE)
    return np.asarray(np.log(_mean(power, face, pool) + 1e-5))


def _chroma(view: Workview, face: Floats) -> Floats:
    """Strength of the filament's own colour, which whitening takes away."""
    soft = np.stack([_mean(view.linear[..., k], face, 0.12 * view.road_px) for k in range(3)], -1)
    total = soft.sum(-1) + 1e-3
    red, blue = (soft[..., 0] - soft[..., 1]) / total, (soft[..., 2] - soft[..., 1]) / total
    r, b = float(np.median(red[view.inside])), float(np.median(blue[view.inside]))
    return np.asarray((red * r + blue * b) / max(float(np.hypot(r, b)), 0.02))


def _direction(light: Floats, face: Floats, sigma: float, road: float) -> tuple[Floats, Floats]:
    """Structure tensor over a road: cosine and sine of twice the gradient's angle, times its coherence."""
    dy, dx = (gauss(light, sigma, order=o) * face for o in ((1, 0), (0, 1)))
    xx, yy, xy = (gauss(v, 0.7 * road, truncate=2.0) for v in (dx * dx, dy * dy, dx * dy))
    total = np.maximum(xx + yy, 1e-6)
    return (xx - yy) / total, 2 * xy / total


def _wall_phase(field: WallField, road: float) -> tuple[Floats, Floats, Floats]:
    """Cosine and sine of the place across the walls, and where walls are."""
    on_wall = (field.outline != RASTER).astype(np.float32)
    phase = 2 * np.pi * (field.depth * road - road / 2) / field.spacing_px
    return np.cos(phase) * on_wall, np.sin(phase) * on_wall, on_wall
