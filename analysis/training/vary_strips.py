"""The same stretch of wall under other light, of other filament, out of focus, and a little off its centreline."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.welds.wall_strips import ROWS, STRIP_PX

Strip = npt.NDArray[np.float32]


def varied(strip: Strip, rng: np.random.Generator) -> Strip:
    """(channels, rows, columns) with rows to spare -> (channels, ROWS, columns)."""
    light, level, chroma, face = _moved(strip, rng)
    light, level = _lit(light, level, rng)
    if rng.random() < 0.4:
        soft = rng.uniform(0.4, 1.6)
        light, level, chroma = (ndimage.gaussian_filter(v, soft) for v in (light, level, chroma))
    elif rng.random() < 0.3:
        fine = rng.uniform(0.3, 1.5) * (light - ndimage.gaussian_filter(light, 1.0))
        light, level = light + fine, level + fine
    noise = rng.standard_normal(light.shape, np.float32) * rng.choice([0.0, rng.uniform(0, 0.35)])
    if rng.random() < 0.5:
        noise = ndimage.gaussian_filter(noise, 0.6)
    chroma = chroma * rng.choice([1.0, 0.0, rng.uniform(0.3, 1.3)])
    if rng.random() < 0.3:
        chroma = chroma + rng.uniform(0, 0.2) * rng.standard_normal(light.shape, np.float32)
    if rng.random() < 0.15:
        level = level * 0
    varied = np.stack([light + noise, level + noise, chroma, np.ones_like(face)])
    return np.asarray(np.clip(varied, -4, 4) * face, np.float32)


def _moved(strip: Strip, rng: np.random.Generator) -> Strip:
    """Rows read with the centreline off by up to a fifth of a road, the road a little wider or narrower, or flipped."""
    middle = (strip.shape[1] - 1) / 2
    off = rng.uniform(-0.2, 0.2) * STRIP_PX
    at = middle + off + (np.arange(ROWS) - (ROWS - 1) / 2) * rng.uniform(0.92, 1.08)
    if rng.random() < 0.3:
        at = at[::-1]
    low = np.floor(at).astype(int)
    part = (at - low)[:, None].astype(np.float32)
    return np.asarray(strip[:, low] * (1 - part) + strip[:, low + 1] * part, np.float32)


def _lit(light: Strip, level: Strip, rng: np.random.Generator) -> tuple[Strip, Strip]:
    """Another tone curve and uneven light; `level` keeps what `light` has been flattened of."""
    contrast, bend = rng.uniform(0.6, 1.4), rng.uniform(-0.12, 0.12)
    coarse = rng.normal(0, rng.uniform(0, 0.35), (3, 7))
    uneven = ndimage.zoom(coarse, (light.shape[0] / 3, light.shape[1] / 7), order=1, grid_mode=True, mode="nearest")
    field = level - light + uneven
    light = contrast * (light + bend * light * np.abs(light)) + 0.5 * uneven
    return light.astype(np.float32), (light + contrast * field + rng.normal(0, 0.2)).astype(np.float32)
