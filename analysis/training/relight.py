"""The same face under other light, through another camera, of other filament."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy import ndimage

from analysis.roads.workview import FINE, Workview

_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)


def relit(view: Workview, rng: np.random.Generator) -> Workview:
    """Other contrast, uneven light, another strength of colour, softer focus, noise. Truth stays as it is."""
    rows, cols = view.inside.shape
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j]
    a = rng.normal(0, 0.15, 5)
    light = np.exp(a[0] * x + a[1] * y + a[2] * x * y + a[3] * x * x + a[4] * y * y).astype(np.float32)
    contrast = rng.uniform(0.5, 1.25)
    colour = rng.choice([1.0, rng.uniform(0, 1.2)])
    linear = np.maximum(view.linear, 1e-4)
    grey = (linear @ _LUMA)[..., None]
    linear = np.maximum(grey + colour * (linear - grey), 1e-4) * grey ** (contrast - 1) * light[..., None]
    fine = np.maximum(view.fine, 1e-4) ** contrast * light.repeat(FINE, 0).repeat(FINE, 1)
    if rng.random() < 0.5:
        soft = rng.uniform(0.4, 1.5)
        fine = ndimage.gaussian_filter(fine, soft)
        linear = np.stack([ndimage.gaussian_filter(linear[..., k], soft / FINE) for k in range(3)], -1)
    if rng.random() < 0.5:
        noise = rng.normal(0, rng.uniform(0, 0.05), fine.shape)
        fine = fine * (1 + noise)
        linear = linear * (1 + noise.reshape(rows, FINE, cols, FINE).mean((1, 3)))[..., None]
    return replace(view, linear=linear.astype(np.float32), fine=fine.astype(np.float32))
