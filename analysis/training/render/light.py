"""Light on a height field: lamps at a finite distance, matte and glossy reflection, shadows, dark hollows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.training.render.smooth import smooth_inside

Array = NDArray[np.float32]
KINDS = ("ring", "half_ring", "oblique", "dual")


@dataclass(frozen=True)
class Lamp:
    """A small lamp: place in mm (photo frame, origin at the face's middle, z towards the camera) and strength."""

    pos_mm: tuple[float, float, float]
    intensity: float


@dataclass(frozen=True)
class Lighting:
    """All lamps, and the share of light that comes evenly from everywhere (the room, the walls of the tube)."""

    kind: str
    lamps: tuple[Lamp, ...]
    ambient: float
    hollow: float  # how strongly hollows darken


def sample_lighting(rng: np.random.Generator, kind: str) -> Lighting:
    """Draw the lamps of one kind of light."""
    turn = rng.uniform(0, 2 * np.pi)
    level: list[float]
    if kind in ("ring", "half_ring"):
        n = int(rng.integers(8, 15)) if kind == "ring" else int(rng.integers(5, 9))
        span = 2 * np.pi if kind == "ring" else np.pi * rng.uniform(0.8, 1.15)
        ang = np.asarray(turn + span * np.arange(n) / n, dtype=np.float64)
        radius, height = rng.uniform(14, 32), rng.uniform(18, 45)
        level = [float(v) for v in rng.normal(1, 0.06, n)]
    else:
        n = 1 if kind == "oblique" else 2
        ang = np.asarray(turn + np.pi * np.arange(n) * rng.uniform(0.75, 1.0), dtype=np.float64)
        elevation = rng.uniform(0.3, 0.85)
        far = rng.uniform(35, 90)
        radius, height = far * np.cos(elevation), far * np.sin(elevation)
        level = [1.0, float(rng.uniform(0.4, 1.0))][:n]
    lamps = tuple(
        Lamp((float(radius * np.cos(a)), float(radius * np.sin(a)), float(height)), float(v))
        for a, v in zip(ang, level, strict=True)
    )
    return Lighting(kind, lamps, float(rng.uniform(0.12, 0.45)), float(rng.uniform(0.45, 1.1)))


def normals(z: Array, px_mm: float, steepest: float = 2.5) -> tuple[Array, Array, Array]:
    """Return the surface normals' x, y, z from heights; slopes are limited, as a lens sees no undercut."""
    gy, gx = np.gradient(z, np.float32(px_mm))
    slope = np.hypot(gx, gy)
    scale = np.minimum(1, steepest / np.maximum(slope, 1e-6))
    gx, gy = gx * scale, gy * scale
    nz = 1 / np.sqrt(1 + gx * gx + gy * gy)
    return (-gx * nz).astype(np.float32), (-gy * nz).astype(np.float32), nz.astype(np.float32)


def shut_off(z: Array, inside: Array, px_mm: float, hollow: float) -> Array:
    """Return how shut off a point is (0 = open), from its height below the mean around it at several scales."""
    shut = np.zeros_like(z)
    for scale_mm, weight in ((0.05, 0.5), (0.15, 0.7), (0.45, 0.8), (1.2, 0.5)):
        around = smooth_inside(z, inside, scale_mm / px_mm)
        shut += weight * np.clip((around - z) / (1.2 * scale_mm), 0, 1.5)
    return np.asarray(hollow * shut, dtype=np.float32)


def _moved(z: Array, dy: int, dx: int) -> Array:
    """Return z as seen dy rows and dx columns further on; beyond the edge nothing stands in the way."""
    out = np.full(z.shape, -1e3, np.float32)
    h, w = z.shape
    rows, cols = slice(max(-dy, 0), min(h - dy, h)), slice(max(-dx, 0), min(w - dx, w))
    out[rows, cols] = z[max(dy, 0) : h + min(dy, 0), max(dx, 0) : w + min(dx, 0)]
    return out


def cast_shadow(z: Array, px_mm: float, direction: tuple[float, float], tan_elevation: float, reach_mm: float) -> Array:
    """Return 0..1 light left after the shadows that the relief casts under one far lamp (march towards the lamp)."""
    steps = 14
    deepest = np.full(z.shape, -1e3, np.float32)
    for k in range(1, steps + 1):
        d_mm = reach_mm * (k / steps) ** 1.4
        dx, dy = direction[0] * d_mm / px_mm, direction[1] * d_mm / px_mm
        ahead = _moved(z, round(dy), round(dx))
        deepest = np.maximum(deepest, ahead - z - np.float32(d_mm * tan_elevation))
    return np.asarray(1 - np.clip(deepest / 0.03, 0, 1), dtype=np.float32)


def shade(
    z: Array, x_mm: Array, y_mm: Array, px_mm: float, lighting: Lighting, roughness: Array, gloss: Array
) -> tuple[Array, Array]:
    """Return the matte and the glossy light (no unit; about 1 on a flat matte surface) of a height field.

    `roughness` is GGX alpha's square root per pixel; `gloss` scales the reflection (1 = plastic, F0 = 0.04).
    """
    nx, ny, nz = normals(z, px_mm)
    a2 = np.clip(roughness, 0.05, 1) ** 4
    matte, glossy = np.zeros_like(z), np.zeros_like(z)
    flat = sum(v.intensity * v.pos_mm[2] / np.linalg.norm(v.pos_mm) for v in lighting.lamps)
    for lamp in lighting.lamps:
        lx, ly, lz = (np.float32(lamp.pos_mm[0]) - x_mm, np.float32(lamp.pos_mm[1]) - y_mm, np.float32(lamp.pos_mm[2]))
        d2 = lx * lx + ly * ly + lz * lz
        inv = 1 / np.sqrt(d2)
        power = np.float32(lamp.intensity / flat) * float(np.dot(lamp.pos_mm, lamp.pos_mm)) / d2
        lx, ly, lzn = lx * inv, ly * inv, lz * inv
        nl = np.clip(nx * lx + ny * ly + nz * lzn, 0, 1)
        if len(lighting.lamps) <= 2:
            flat_r = float(np.hypot(*lamp.pos_mm[:2]))
            way = (lamp.pos_mm[0] / flat_r, lamp.pos_mm[1] / flat_r)
            nl = nl * cast_shadow(z, px_mm, way, lamp.pos_mm[2] / flat_r, 0.9)
        matte += power * nl
        hz = lzn + 1
        hn = (nx * lx + ny * ly + nz * hz) / np.sqrt(lx * lx + ly * ly + hz * hz)
        d = a2 / np.maximum((hn * hn * (a2 - 1) + 1) ** 2, 1e-7)
        glossy += power * np.float32(0.04 / 4) * gloss * d * (nl > 0)
    matte = (1 - lighting.ambient) * matte + lighting.ambient * (0.5 + 0.5 * nz)
    return matte.astype(np.float32), np.minimum(glossy, 6).astype(np.float32)
