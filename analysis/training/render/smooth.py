"""Gaussian smoothing that stays quick when it is wide, and an exact polygon fill."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

Array = NDArray[np.float32]


def smooth(a: Array, sigma_px: float) -> Array:
    """Gaussian-smooth a 2-D array; above 4 px by way of a block-averaged copy (within about 1 % of the true one)."""
    if sigma_px <= 4:
        return np.asarray(gaussian_filter(a, sigma_px, truncate=3), dtype=np.float32)
    k = int(sigma_px / 2)
    small = np.asarray(gaussian_filter(_blocks(a, k), _rest(sigma_px, k), truncate=3), dtype=np.float32)
    return enlarge(small, k, a.shape)


def smooth_inside(a: Array, inside: Array, sigma_px: float) -> Array:
    """Gaussian-smooth a 2-D array over the pixels where `inside` is 1 alone (far from all of them: 0)."""
    if sigma_px <= 4:
        weight = gaussian_filter(inside, sigma_px, truncate=3)
        return np.asarray(
            gaussian_filter(a * inside, sigma_px, truncate=3) / np.maximum(weight, 1e-3), dtype=np.float32
        )
    k = int(sigma_px / 2)
    rest = _rest(sigma_px, k)
    weight = gaussian_filter(_blocks(inside, k), rest, truncate=3)
    small = gaussian_filter(_blocks(a * inside, k), rest, truncate=3) / np.maximum(weight, 1e-3)
    return enlarge(np.asarray(small, dtype=np.float32), k, a.shape)


def _blocks(a: Array, k: int) -> Array:
    h, w = a.shape
    p = np.pad(a, ((0, -h % k), (0, -w % k)), mode="edge")
    return np.asarray(p.reshape(p.shape[0] // k, k, p.shape[1] // k, k).mean(axis=(1, 3), dtype=np.float32))


def _rest(sigma_px: float, k: int) -> float:
    # block mean and bilinear interpolation smooth by themselves: variances k^2 / 12 and about k^2 / 6
    return float(np.sqrt(max(sigma_px**2 / k**2 - 0.25, 0.25)))


def enlarge(small: Array, k: int, shape: tuple[int, ...]) -> Array:
    """Interpolate linearly between block middles, first down, then across (quicker than a general zoom)."""
    for axis in (0, 1):
        n = small.shape[axis]
        at = (np.arange(shape[axis], dtype=np.float32) + 0.5) / k - 0.5
        lo = np.clip(np.floor(at), 0, max(n - 2, 0)).astype(np.int32)
        t = np.clip(at - lo, 0, 1).astype(np.float32)
        a, b = np.take(small, lo, axis), np.take(small, np.minimum(lo + 1, n - 1), axis)
        small = a + (b - a) * (t[:, None] if axis == 0 else t[None, :])
    return np.asarray(small, dtype=np.float32)


def smooth_rgb(a: Array, sigma_px: float) -> Array:
    """Smooth each channel of a (rows, cols, channels) array."""
    return np.stack([smooth(a[..., c], sigma_px) for c in range(a.shape[2])], axis=-1)


def fill_polygon(points_px: NDArray[np.float64], shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Return which pixel centres lie inside a polygon of (x, y) points, by the even-odd rule, row by row."""
    flips = np.zeros((shape[0], shape[1] + 1), np.int32)
    a, b = points_px, np.roll(points_px, -1, axis=0)
    lo = np.clip(np.ceil(np.minimum(a[:, 1], b[:, 1])), 0, shape[0]).astype(int)
    hi = np.clip(np.ceil(np.maximum(a[:, 1], b[:, 1])), 0, shape[0]).astype(int)
    n = hi - lo
    edge = np.repeat(np.arange(len(a)), n)
    row = lo[edge] + np.arange(len(edge)) - np.repeat(np.cumsum(n) - n, n)
    t = (row - a[edge, 1]) / (b[edge, 1] - a[edge, 1])
    x = a[edge, 0] + t * (b[edge, 0] - a[edge, 0])
    np.add.at(flips, (row, np.clip(np.ceil(x), 0, shape[1]).astype(int)), 1)
    return np.asarray(np.cumsum(flips, axis=1)[:, :-1] % 2 == 1, dtype=np.bool_)
