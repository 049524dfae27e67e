"""What lies on the face: grease films, glare, dust and lint."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from analysis.training.render.noise import Noise

Array = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass
class Film:
    """Grease: thickness 0.. (1 = opaque to the question), and where it can't be seen through."""

    thickness: Array
    blind: Mask
    tint: tuple[float, float, float]  # absorption per unit of thickness


def grease(noise: Noise, cover: float, dark: float, inside: Mask, x: Array, y: Array) -> Film:
    """Smear grease over about `cover` of the face."""
    none = np.zeros(inside.shape, np.float32)
    if cover <= 0:
        return Film(none, np.zeros(inside.shape, bool), (0.0, 0.0, 0.0))
    rng = noise.rng
    ids = np.flatnonzero(inside)
    px, py = x.ravel()[ids], y.ravel()[ids]
    f = np.full(len(ids), -4.0, np.float32)
    angle = rng.uniform(0, np.pi)
    for _ in range(int(rng.integers(1, 6))):
        k = int(rng.integers(len(ids)))
        r, long = rng.uniform(0.4, 1.0), rng.uniform(1, 2.5)
        u = (px - px[k]) * np.cos(angle) + (py - py[k]) * np.sin(angle)
        v = (py - py[k]) * np.cos(angle) - (px - px[k]) * np.sin(angle)
        f = np.maximum(f, 1 - np.hypot(u / long, v) / r)
    f += rng.uniform(0.1, 0.35) * noise.field(px, py, rng.uniform(0.6, 1.6), octaves=2)
    cut = float(np.quantile(f, 1 - cover))
    soft = rng.uniform(0.25, 0.9)
    t = np.clip((f - cut) / soft + 0.75, 0, 1.5)
    thick = none.copy()
    thick.ravel()[ids] = t
    blind = np.zeros(inside.shape, bool)
    blind.ravel()[ids] = t > 0.75
    amber = rng.random()
    tint = (2.4 * dark, 2.4 * dark + 0.6 * amber, 2.4 * dark + 1.9 * amber)
    return Film(thick, blind, (float(tint[0]), float(tint[1]), float(tint[2])))


def glare_spot(noise: Noise, inside: Mask) -> Array:
    """Return extra light (no unit) of a lamp mirrored straight into the lens somewhere on the face."""
    ids = np.flatnonzero(inside)
    r, c = np.unravel_index(int(noise.rng.choice(ids)), inside.shape)
    yy, xx = np.ogrid[: inside.shape[0], : inside.shape[1]]
    size = noise.rng.uniform(0.04, 0.1) * np.sqrt(inside.sum())
    a = noise.rng.uniform(0.4, 1.0)
    d2 = ((yy - r) / size) ** 2 + ((xx - c) / size / a) ** 2
    return np.asarray(noise.rng.uniform(0.8, 2.0) * np.exp(-d2), dtype=np.float32)


def specks(rng: np.random.Generator, shape: tuple[int, int], dust: int, lint: int) -> tuple[Array, float]:
    """Return coverage 0..1 by dust grains and fibres, and their grey (linear)."""
    im = Image.new("L", (shape[1], shape[0]), 0)
    draw = ImageDraw.Draw(im)
    for _ in range(dust):
        x, y, r = rng.uniform(0, shape[1]), rng.uniform(0, shape[0]), rng.uniform(0.4, 2.2)
        draw.ellipse([x - r, y - r, x + r, y + r * rng.uniform(0.5, 1.2)], fill=int(rng.integers(90, 255)))
    for _ in range(lint):
        n = int(rng.integers(20, 60))
        turn = np.cumsum(rng.normal(0, 0.18, n)) + rng.uniform(0, 6.28)
        step = rng.uniform(2, 6)
        p = np.c_[np.cumsum(np.cos(turn)), np.cumsum(np.sin(turn))] * step + rng.uniform(0, 1, 2) * [shape[1], shape[0]]
        draw.line([tuple(q) for q in p], fill=int(rng.integers(120, 255)), width=int(rng.integers(1, 3)))
    cover = np.asarray(im, dtype=np.float32) / np.float32(255)
    return cover.astype(np.float32), float(rng.choice([0.04, 0.5, 0.75]))
