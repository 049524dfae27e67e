"""The height field (mm): road crowns, pressed bands, imprints, torn ground, steps between layer planes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

from analysis.training.render.noise import Noise

Array = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class ReliefLooks:
    """Amplitudes as shares of the layer height unless they carry a unit."""

    crown: float  # how far the crown falls at the road's edge
    power: float  # 2 = round, 6 = flat with round edges
    pressed_power: float
    drag: float
    bumps: float
    imprint: float
    torn_mm: float
    torn_scale_mm: float
    grain_mm: float  # fine unevenness of every surface, torn or not
    grain_scale_mm: float
    pits_mm: float  # dents and blisters of untorn ground
    fibril: float  # share of the torn relief that runs along the crack
    crack_rad: float
    lip_mm: float
    hackle_mm: float
    hackle_scale_mm: float


def crown(u: Array, power: float | Array, fall: float) -> Array:
    """Return the drop below the road's top at offset / half width = u: a super-ellipse, 0 in the middle, -fall at 1."""
    p = np.clip(u, 0, 1) ** power
    return np.asarray(-fall * (1 - (1 - p) ** (1 / np.maximum(power, 1))), dtype=np.float32)


def road_surface(
    noise: Noise,
    looks: ReliefLooks,
    layer_height_mm: float,
    width_mm: float,
    u: Array,
    pressed: Array,
    road: NDArray[np.int32],
    arc: Array,
    across: Array,
) -> Array:
    """Return the untorn road surface relative to its layer plane at n points (`pressed` 0..1: flattened from above)."""
    free = crown(u, looks.power, looks.crown)
    flat = crown(u, looks.pressed_power, looks.crown)
    own = across + road * np.float32(23.3)
    z = free + (flat - free) * pressed
    z += looks.drag * noise.field(arc, own, 0.09, stretch=12.0)
    z += looks.bumps * noise.field(arc, own, 0.8 * width_mm, octaves=2)
    z = layer_height_mm * z + looks.grain_mm * noise.field(arc, own, looks.grain_scale_mm, stretch=1.5, octaves=2)
    if looks.pits_mm > 0:
        dents = noise.field(arc, own, 0.15, stretch=1.6, octaves=2)
        z += looks.pits_mm * (np.clip(dents - 1.4, 0, 1) - np.clip(-dents - 1.4, 0, 1))
    return np.asarray(z, dtype=np.float32)


def imprint(looks: ReliefLooks, x: Array, y: Array, above_rad: Array, spacing_mm: float, phase: float) -> Array:
    """Return the ridges (share of the layer height) left by the seams between the roads of the layer above."""
    v = (y * np.cos(above_rad) - x * np.sin(above_rad)) / spacing_mm + phase
    return np.asarray(looks.imprint * (np.cos(2 * np.pi * v) * 0.5 + 0.5) ** 6, dtype=np.float32)


def torn_ground(noise: Noise, looks: ReliefLooks, x: Array, y: Array) -> Array:
    """Return the relief (mm) of torn polymer: fine lumps and fibrils drawn out along the crack's direction."""
    lumps = noise.field(x, y, looks.torn_scale_mm, octaves=3)
    strands = noise.field(x, y, 0.7 * looks.torn_scale_mm, stretch=5.0, angle_rad=looks.crack_rad, octaves=2)
    mix = (1 - looks.fibril) * lumps + looks.fibril * strands
    return np.asarray(looks.torn_mm * mix, dtype=np.float32)


def hackle(noise: Noise, looks: ReliefLooks, x: Array, y: Array) -> Array:
    """Return the coarse ground (mm) of a fast break through solid material: ridges across roads, with steps."""
    a = noise.field(x, y, looks.hackle_scale_mm, stretch=2.2, angle_rad=looks.crack_rad, octaves=4)
    b = noise.field(x, y, 2.5 * looks.hackle_scale_mm, stretch=2.0, angle_rad=looks.crack_rad)
    return np.asarray(looks.hackle_mm * (a - 0.5 * np.abs(b)), dtype=np.float32)


def split_terraces(
    noise: Noise, x: Array, y: Array, shares: tuple[float, ...], direction_rad: float, wave_mm: float, ragged_mm: float
) -> NDArray[np.uint8]:
    """Cut the face into terraces 1 .. len(shares) (1 is the highest) along wavy fronts."""
    if len(shares) == 1:
        return np.ones(len(x), np.uint8)
    front = x * np.cos(direction_rad) + y * np.sin(direction_rad) + wave_mm * noise.field(x, y, 3.0, octaves=3)
    front += ragged_mm * noise.field(x, y, 0.3, octaves=2)
    cuts = np.quantile(front, np.cumsum(shares)[:-1])
    return np.asarray(1 + np.searchsorted(cuts, front), dtype=np.uint8)


def border_distance_px(level: NDArray[np.uint8]) -> Array:
    """Return for each pixel of a terrace map (0 = outside) the distance to the nearest step between two terraces."""
    step = np.zeros(level.shape, bool)
    for axis in (0, 1):
        a, b = np.moveaxis(level, axis, 0)[:-1], np.moveaxis(level, axis, 0)[1:]
        np.moveaxis(step, axis, 0)[:-1] |= (a != b) & (a > 0) & (b > 0)
    if not step.any():
        return np.full(level.shape, 1e4, np.float32)
    return np.asarray(distance_transform_edt(~step), dtype=np.float32)
