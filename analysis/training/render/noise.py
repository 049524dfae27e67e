"""Smooth random fields that can be asked at any coordinates, so that patterns may follow a road or a crack."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float32]
CELLS = 8  # texture samples per feature length
SIZE = 512  # a texture repeats after SIZE / CELLS feature lengths


def smooth_texture(rng: np.random.Generator) -> Array:
    """Return a (SIZE, SIZE) wrap-around field of mean 0, variance 1 and correlation length about CELLS samples."""
    white = rng.standard_normal((SIZE, SIZE))
    f = np.fft.fftfreq(SIZE)[:, None] ** 2 + np.fft.rfftfreq(SIZE)[None, :] ** 2
    # Gaussian low pass: sigma 0.35 feature lengths, so neighbouring bumps sit about one feature length apart
    out = np.fft.irfft2(np.fft.rfft2(white) * np.exp(-2 * (np.pi * 0.35 * CELLS) ** 2 * f), s=(SIZE, SIZE))
    out -= out.mean()
    return np.asarray(out / out.std(), dtype=np.float32)


def _gather(t: Array, u: Array, v: Array) -> Array:
    row, col = np.floor(v).astype(np.int32) & (SIZE - 1), np.floor(u).astype(np.int32) & (SIZE - 1)
    return np.asarray(t.ravel().take(row * SIZE + col))


def _bilinear(t: Array, u: Array, v: Array) -> Array:
    fu, fv = np.floor(u), np.floor(v)
    a, b = u - fu, v - fv
    c0, r0 = fu.astype(np.int32) & (SIZE - 1), (fv.astype(np.int32) & (SIZE - 1)) * SIZE
    c1, r1 = (c0 + 1) & (SIZE - 1), (r0 + SIZE) & (SIZE * SIZE - 1)
    flat = t.ravel()
    low, high = flat.take(r0 + c0), flat.take(r1 + c0)
    low += a * (flat.take(r0 + c1) - low)
    high += a * (flat.take(r1 + c1) - high)
    return np.asarray(low + b * (high - low))


class Noise:
    """A bank of textures; every call of `field` looks at a fresh place, in an order fixed by the generator's seed."""

    def __init__(self, rng: np.random.Generator, pixel_mm: float) -> None:
        self.rng, self.pixel_mm = rng, pixel_mm
        self.textures = [smooth_texture(rng) for _ in range(2)]

    def field(
        self, x: Array, y: Array, scale: float, *, stretch: float = 1.0, angle_rad: float = 0.0, octaves: int = 1
    ) -> Array:
        """Sample a field of mean 0 and variance about 1 at points (x, y).

        Parameters
        ----------
        x, y : arrays of one shape
            Coordinates in the unit of `scale` (mm here).
        scale : float
            Feature length of the coarsest octave, across the long direction.
        stretch : float
            Features are this many times longer along `angle_rad`.
        octaves : int
            Halving lengths, each at 0.6 of the weight of the one before.
        """
        c, s = np.float32(np.cos(angle_rad)), np.float32(np.sin(angle_rad))
        u = (x * c + y * s) * np.float32(CELLS / scale / stretch)
        v = (y * c - x * s) * np.float32(CELLS / scale)
        total = np.zeros(np.shape(x), np.float32)
        weight, power = 1.0, 0.0
        for k in range(octaves):
            du, dv = (np.float32(d) for d in self.rng.uniform(SIZE, 2 * SIZE, 2))
            t = self.textures[int(self.rng.integers(len(self.textures)))]
            fu, fv = u * np.float32(2**k) + du, v * np.float32(2**k) + dv
            # where a texture sample is no larger than a pixel, the nearest one will do
            near = scale / 2**k / CELLS <= 1.2 * self.pixel_mm
            total += np.float32(weight) * (_gather(t, fu, fv) if near else _bilinear(t, fu, fv))
            power += weight**2
            weight *= 0.6
        return total / np.float32(np.sqrt(power))


def curve(rng: np.random.Generator, n: int, length: float, closed: bool) -> NDArray[np.float64]:
    """Return n values of a smooth 1-D noise of mean 0, variance about 1 and correlation length `length` samples."""
    f = np.fft.rfftfreq(n if closed else 2 * n)
    w = np.fft.rfft(rng.standard_normal(n if closed else 2 * n)) * np.exp(-2 * (np.pi * 0.35 * length * f) ** 2)
    out = np.fft.irfft(w, n if closed else 2 * n)[:n]
    # the theoretical spread, not the sample's: a short curve then isn't blown up to full swing
    gain = np.sqrt(np.mean(np.exp(-((2 * np.pi * 0.35 * length * np.fft.fftfreq(max(n, 64))) ** 2))))
    return np.asarray(out / max(gain, 1e-6), dtype=np.float64)
