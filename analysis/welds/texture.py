"""Roughness by scale and by direction: a torn road is rough every way, a bare one at most along its length."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from analysis.common.smooth import block_mean, gauss
from analysis.roads.workview import FINE, Bools, Floats

_SCALES = (0.03, 0.06, 0.12, 0.24)  # line widths


def texture_cues(fine: Floats, tangent: Floats, inside: Bools, road_px: float) -> dict[str, Floats]:
    """Log roughness of four bands near and wide, against the face's median and by rank, and by direction.

    Parameters
    ----------
    fine : (FINE*rows, FINE*cols) log lightness. tangent : (rows, cols) road direction, radians.
    """
    road = road_px * FINE
    blurred = [gauss(fine, s * road, truncate=2.5) for s in _SCALES]
    bands = [a - b for a, b in pairwise([fine, *blurred])]
    face = inside.astype(np.float32)
    out: dict[str, Floats] = {}
    for number, band in enumerate(bands):
        power = block_mean(band * band, FINE)
        for name, sigma in (("near", 0.25), ("wide", 0.8)):
            out[f"rough{number}_{name}"] = _log_mean(power, face, sigma * road_px)
        near = out[f"rough{number}_near"]
        grid = np.percentile(near[inside], np.linspace(0, 100, 33))
        out[f"rough{number}_rel"] = near - grid[16]
        out[f"rough{number}_rank"] = np.interp(near, grid, np.linspace(0, 1, 33)).astype(np.float32)
    return out | _directed(blurred, tangent, face, road_px)


def _directed(blurred: list[Floats], tangent: Floats, face: Floats, road_px: float) -> dict[str, Floats]:
    """Slope energy along the road, and its ratio to that across, at a fine and a coarse scale."""
    out: dict[str, Floats] = {}
    cos, sin = np.cos(tangent), np.sin(tangent)
    for number, image in ((0, blurred[0]), (1, blurred[2])):
        dy, dx = (np.asarray(slope, np.float32) for slope in np.gradient(image))
        yy, xx, xy = (block_mean(v, FINE) for v in (dy * dy, dx * dx, dx * dy))
        on = np.asarray(cos * cos * xx + 2 * cos * sin * xy + sin * sin * yy, np.float32)
        off = np.asarray(sin * sin * xx - 2 * cos * sin * xy + cos * cos * yy, np.float32)
        along, across = (_log_mean(v, face, 0.35 * road_px) for v in (on, off))
        out[f"along{number}"] = along
        out[f"along_over_across{number}"] = along - across
    return out


def _log_mean(power: Floats, face: Floats, sigma_px: float) -> Floats:
    weight = gauss(face, sigma_px, truncate=2.5)
    total = gauss(np.asarray(power, np.float32) * face, sigma_px, truncate=2.5)
    return np.asarray(np.log(np.maximum(total, 0) / np.maximum(weight, 1e-3) + 1e-6) / 2, np.float32)
