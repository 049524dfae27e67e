"""What lies behind the part: a mat with a grid, paper, grey cloth, or another side of the same part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, shift, zoom

from analysis.training.render.filament import Filament, linear
from analysis.training.render.light import Lighting
from analysis.training.render.noise import Noise
from analysis.training.render.smooth import enlarge, smooth_rgb

Array = NDArray[np.float32]
KINDS = ("bench_mat", "paper", "grey", "same_part", "cloth")


def _grid(noise: Noise, x: Array, y: Array) -> Array:
    """Return 0..1 lines of a cutting mat's grid."""
    pitch, width = noise.rng.uniform(4, 12), noise.rng.uniform(0.15, 0.5)
    a = noise.rng.uniform(0, np.pi)
    u, v = x * np.cos(a) + y * np.sin(a), y * np.cos(a) - x * np.sin(a)
    off = noise.rng.uniform(0, pitch, 2)
    d = np.minimum(np.abs((u + off[0]) % pitch - pitch / 2), np.abs((v + off[1]) % pitch - pitch / 2))
    return np.asarray(np.clip((width - d) / 0.1, 0, 1), dtype=np.float32)


def _albedo(noise: Noise, kind: str, x: Array, y: Array, filament: Filament, layer_height_mm: float) -> Array:
    rng = noise.rng
    cloud = noise.field(x, y, rng.uniform(1.5, 5), octaves=2)
    grain = noise.field(x, y, rng.uniform(0.08, 0.3), octaves=2)
    if kind == "bench_mat":
        hue = [(0.05, 0.09, 0.08), (0.04, 0.05, 0.09), (0.05, 0.05, 0.05), (0.1, 0.28, 0.24), (0.3, 0.08, 0.08)][
            int(rng.integers(5))
        ]
        base = np.array(linear(tuple(np.clip(np.array(hue) * rng.uniform(1.0, 2.5) + 0.05, 0, 1))))
        out = base * (1 + 0.05 * cloud + 0.08 * grain)[..., None]
        ink = rng.uniform(0.15, 0.5)
        return np.asarray(out + (_grid(noise, x, y) * ink)[..., None] * (1 - out), dtype=np.float32)
    if kind == "same_part":
        a, pitch = rng.uniform(0, np.pi), layer_height_mm * rng.uniform(0.9, 3)
        v = (y * np.cos(a) - x * np.sin(a)) / pitch
        lines = np.cos(2 * np.pi * v + 0.4 * cloud) * rng.uniform(0.05, 0.4)
        return np.asarray(
            np.array(filament.base) * np.clip(1 + lines + 0.05 * grain, 0.1, 3)[..., None], dtype=np.float32
        )
    if kind == "cloth":
        pitch, a = rng.uniform(0.25, 1.0), rng.uniform(0, np.pi)
        u, v = (x * np.cos(a) + y * np.sin(a)) / pitch, (y * np.cos(a) - x * np.sin(a)) / pitch
        weave = np.sin(2 * np.pi * u + 0.5 * grain) * np.sin(2 * np.pi * v + 0.5 * grain) * rng.uniform(0.05, 0.3)
        dye = rng.uniform(0.02, 0.6, 3) ** 1.5
        return np.asarray(dye * (1 + weave + 0.08 * cloud)[..., None], dtype=np.float32)
    level = rng.uniform(0.6, 0.9) if kind == "paper" else rng.uniform(0.04, 0.45)
    tint = np.clip(1 + rng.normal(0, 0.03, 3), 0.8, 1.1)
    swing = 0.02 if kind == "paper" else rng.uniform(0.02, 0.12)
    return np.asarray(level * tint * (1 + swing * cloud + 0.03 * grain)[..., None], dtype=np.float32)


def part_shadow(inside: Array, px_mm: float, lighting: Lighting, depth_mm: float) -> Array:
    """Return 0..1 light left on a plane `depth_mm` below the face, in the part's shadow and its near darkness."""
    k = 4
    small = zoom(inside, 1 / k, order=1, grid_mode=True, mode="nearest")
    left = np.zeros_like(small)
    total = sum(v.intensity for v in lighting.lamps)
    for lamp in lighting.lamps:
        dx, dy = (-lamp.pos_mm[i] / lamp.pos_mm[2] * depth_mm / px_mm / k for i in (0, 1))
        moved = shift(small, (dy, dx), order=1, mode="nearest")
        soft = 0.12 * depth_mm / px_mm / k + 0.6
        left += np.float32(lamp.intensity / total) * (1 - np.clip(gaussian_filter(moved, soft), 0, 1))
    near = gaussian_filter(small, 0.5 * depth_mm / px_mm / k)
    left = ((1 - lighting.ambient) * left + lighting.ambient * 0.6) * (1 - 0.5 * near)
    factors = (inside.shape[0] / small.shape[0], inside.shape[1] / small.shape[1])
    return np.asarray(np.clip(zoom(left, factors, order=1, grid_mode=True, mode="nearest"), 0, 1), dtype=np.float32)


@dataclass(frozen=True)
class Behind:
    """What the background depends on; mm."""

    kind: str
    filament: Filament
    layer_height_mm: float
    lighting: Lighting
    depth_mm: float  # below the face


def backdrop(noise: Noise, behind: Behind, x: Array, y: Array, inside: Array, px_mm: float, blur_px: float) -> Array:
    """Return the background's linear light, (rows, cols, 3), out of focus by `blur_px`."""
    half = (slice(None, None, 2), slice(None, None, 2))  # never sharp, so half the resolution will do
    albedo = _albedo(noise, behind.kind, x[half], y[half], behind.filament, behind.layer_height_mm)
    shadow = part_shadow(inside, px_mm, behind.lighting, behind.depth_mm)[half]
    lit = smooth_rgb(albedo * shadow[..., None], blur_px / 2)
    return np.stack([enlarge(lit[..., c], 2, x.shape) for c in range(3)], axis=-1)
