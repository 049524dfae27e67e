"""From light to JPEG: focus, vignetting, bloom, exposure, white balance, noise, smoothing, sharpening, compression."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from analysis.training.render.smooth import smooth_rgb

Array = NDArray[np.float32]


@dataclass(frozen=True)
class Optics:
    """The settings of one exposure; blur in px, the rest without unit unless named."""

    blur_px: float
    dof_px_per_mm: float
    tilt: tuple[float, float]  # mm of defocus per half picture, across and down
    focus_off_mm: float
    vignette: float
    gradient: tuple[float, float]
    bloom: float
    ev: float
    wb: tuple[float, float, float]
    full_well: float
    read: float
    chroma: float
    nr: float
    sharpen: float
    contrast: float
    jpeg_q: int


def sample_optics(rng: np.random.Generator, profile: str) -> Optics:
    """Draw the optics of an "easy", "typical" or "hard" photo."""
    k = {"easy": 0, "typical": 1, "hard": 2}[profile]
    u = rng.uniform
    return Optics(
        blur_px=float(u(*[(0.5, 0.8), (0.6, 1.1), (0.8, 1.8)][k])),
        dof_px_per_mm=float(u(1.0, [3.0, 5.0, 8.0][k])),
        tilt=(float(rng.normal(0, [0.02, 0.04, 0.07][k])), float(rng.normal(0, [0.02, 0.04, 0.07][k]))),
        focus_off_mm=float(rng.normal(0, [0.03, 0.08, 0.15][k])),
        vignette=float(u(0.0, [0.2, 0.35, 0.45][k])),
        gradient=(float(rng.normal(0, [0.05, 0.1, 0.16][k])), float(rng.normal(0, [0.05, 0.1, 0.16][k]))),
        bloom=float(u(0.0, [0.04, 0.08, 0.15][k])),
        ev=float(rng.normal(0, [0.25, 0.35, 0.5][k])),
        wb=(float(rng.normal(1, [0.02, 0.04, 0.07][k])), 1.0, float(rng.normal(1, [0.02, 0.04, 0.07][k]))),
        full_well=float(u(*[(3000, 9000), (1500, 6000), (600, 3000)][k])),
        read=float(u(0.0005, [0.0015, 0.003, 0.005][k])),
        chroma=float(u(0.0, [0.006, 0.012, 0.022][k])),
        nr=float(u(0.0, [0.6, 0.9, 1.4][k])),
        sharpen=float(u(0.0, [0.6, 0.8, 0.9][k])),
        contrast=float(u(0.0, 1.0)),
        jpeg_q=int(rng.integers(*[(88, 97), (78, 95), (45, 90)][k])),
    )


def blur_by_depth(light: Array, z: Array, optics: Optics) -> Array:
    """Blur each pixel by its distance from the plane of focus (mix of three blurred copies)."""
    h, w = z.shape
    v, u = np.linspace(-1, 1, h, dtype=np.float32)[:, None], np.linspace(-1, 1, w, dtype=np.float32)[None, :]
    off = z - np.float32(optics.focus_off_mm) + np.float32(optics.tilt[0]) * u + np.float32(optics.tilt[1]) * v
    sigma = np.hypot(np.float32(optics.blur_px), np.float32(optics.dof_px_per_mm) * off)
    stops = [optics.blur_px, optics.blur_px * 1.8 + 0.3, optics.blur_px * 3.0 + 1.2]
    copies = [smooth_rgb(light, s) for s in stops]
    t = np.clip((sigma - stops[0]) / (stops[1] - stops[0]), 0, 1)[..., None]
    r = np.clip((sigma - stops[1]) / (stops[2] - stops[1]), 0, 1)[..., None]
    near = copies[0] + (copies[1] - copies[0]) * t
    return np.asarray(near + (copies[2] - near) * r, dtype=np.float32)


def _falloff(shape: tuple[int, ...], optics: Optics) -> Array:
    h, w = shape[:2]
    v, u = np.linspace(-1, 1, h, dtype=np.float32)[:, None], np.linspace(-1, 1, w, dtype=np.float32)[None, :]
    r2 = (u * u * w * w + v * v * h * h) / (w * w + h * h)
    out = (1 - optics.vignette * r2) * (1 + optics.gradient[0] * u + optics.gradient[1] * v)
    return np.asarray(out, dtype=np.float32)


def encode(linear_light: Array, contrast: float) -> Array:
    """Return sRGB 0..1 of linear light (IEC 61966-2-1), with a soft shoulder and a mild S-curve as cameras add."""
    v = np.linspace(0, 1.6, 32768)
    v = np.where(v < 0.85, v, 0.85 + 0.15 * (1 - np.exp(-np.maximum(v - 0.85, 0) / 0.15)))
    s = np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 1e-6) ** (1 / 2.4) - 0.055)
    table = (s + 0.35 * contrast * (s * s * (3 - 2 * s) - s)).astype(np.float32)
    return np.asarray(table.take((np.clip(linear_light, 0, 1.6) * np.float32(32767 / 1.6)).astype(np.int32)))


def develop(rng: np.random.Generator, light: Array, gain: float, optics: Optics) -> NDArray[np.uint8]:
    """Turn sharp-focus-blurred linear light into an 8-bit sRGB picture (not yet JPEG)."""
    v = light * (np.float32(gain) * _falloff(light.shape, optics))[..., None] * np.array(optics.wb, np.float32)
    if optics.bloom > 0.005:
        small = v[::4, ::4]
        glow = smooth_rgb(np.clip(small, 0, 3), 9.0)
        glow = np.repeat(np.repeat(glow, 4, 0), 4, 1)[: v.shape[0], : v.shape[1]]
        v = v + optics.bloom * (glow - v * 0.5)
    v = np.maximum(v, 0)
    grain = rng.standard_normal(v.shape, dtype=np.float32)
    v = v + grain * (np.sqrt(v / np.float32(optics.full_well)) + np.float32(optics.read))
    s = encode(v, optics.contrast)
    if optics.chroma > 0.002:
        patch = rng.standard_normal((s.shape[0] // 3 + 1, s.shape[1] // 3 + 1, 3), dtype=np.float32)
        patch -= patch.mean(-1, keepdims=True)
        s = s + np.float32(optics.chroma) * np.repeat(np.repeat(patch, 3, 0), 3, 1)[: s.shape[0], : s.shape[1]]
    if optics.nr > 0.3:
        s = smooth_rgb(s, 0.5 * optics.nr)
    if optics.sharpen > 0.05:
        s = s + np.float32(optics.sharpen) * (s - smooth_rgb(s, 1.2))
    return np.asarray(np.clip(s, 0, 1) * 255 + 0.5, dtype=np.uint8)


def jpeg(rgb: NDArray[np.uint8], quality: int) -> bytes:
    """Return the picture as JPEG bytes."""
    out = io.BytesIO()
    Image.fromarray(rgb).save(out, "JPEG", quality=quality, subsampling=0 if quality >= 90 else 2)
    return out.getvalue()
