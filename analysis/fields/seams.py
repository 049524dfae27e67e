"""The picture of captures whose places are known: each point from the capture whose edge is farthest, seams feathered.

Made band by band, so that the memory needed is that of the captures and the picture. The first capture's
pixels stay in place; the others are interpolated by bicubics.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from skimage.transform import AffineTransform, warp

from analysis.fields.place import Bytes, Floats, Place, corners

NOBODY = 255  # owner of points that no capture shows
_BAND = 256  # rows made at a time
_EMPTY = 128  # grey of points that no capture shows
_MOST_GAIN = 2.0


@dataclass(frozen=True)
class Canvas:
    """The picture uint8 (rows, cols, 3) and, on every `step`-th point, the number of the capture that it is from."""

    srgb: Bytes
    owner: Bytes
    step: int


def extent(shapes: Sequence[tuple[int, ...]], places: Sequence[Place]) -> tuple[complex, tuple[int, int]]:
    """First point (whole numbers) and shape (rows, cols) of the picture that holds all captures."""
    edge = np.concatenate([place.of(corners(shape)) for shape, place in zip(shapes, places, strict=True)])
    left, top = np.floor(edge.real.min() + 1e-6), np.floor(edge.imag.min() + 1e-6)
    right, low = np.ceil(edge.real.max() - 1e-6), np.ceil(edge.imag.max() - 1e-6)
    return complex(left, top), (int(low - top) + 1, int(right - left) + 1)


def draw(
    captures: Sequence[Bytes],
    places: Sequence[Place],
    shape: tuple[int, int],
    gains: Sequence[float],
    feather_px: float,
) -> Canvas:
    """Draw the picture of `shape`; `places` lie in it; `gains` multiply each capture's code values."""
    out = np.full((*shape, 3), _EMPTY, np.uint8)
    step = max(1, max(shape) // 1600)
    owner = np.full((-(-shape[0] // step), -(-shape[1] // step)), NOBODY, np.uint8)
    for top in range(0, shape[0], _BAND):
        low = min(top + _BAND, shape[0])
        depth = np.stack(
            [_depth(cut.shape, place, top, low, shape[1]) for cut, place in zip(captures, places, strict=True)]
        )
        weights = _weights(depth, feather_px)
        total = np.zeros((low - top, shape[1], 3), np.float32)
        for number, cut in enumerate(captures):
            if weights[number].any():
                _add(total, weights[number], cut, places[number], top, gains[number])
        seen = depth.max(0) > 0
        out[top:low][seen] = np.clip(np.round(total[seen]), 0, 255).astype(np.uint8)
        first = -top % step
        owner[(top + first) // step : -(-low // step)] = np.where(seen, depth.argmax(0), NOBODY)[first::step, ::step]
    return Canvas(out, owner, step)


def _depth(cut: tuple[int, ...], place: Place, top: int, low: int, cols: int) -> Floats:
    """How far points of a band lie inside a capture, px from the outer edge of its edge pixels; 0 outside."""
    rows, columns = np.ogrid[top:low, 0:cols]
    seen = place.back().of(columns + 1j * rows)
    x, y = seen.real, seen.imag
    inside = np.minimum(np.minimum(x, cut[1] - 1 - x), np.minimum(y, cut[0] - 1 - y))
    return np.where(inside >= -1e-3, inside + 0.5, 0.0).astype(np.float32)


def _weights(depth: Floats, feather_px: float) -> Floats:
    """Share of each capture at each point: 1 inside its own area, crossing over `feather_px` around the seams."""
    behind = np.maximum(depth.max(0) - depth, 0)
    weights = np.where(depth > 0, np.maximum(1 - behind / feather_px, 0), 0)
    return np.asarray(weights / np.maximum(weights.sum(0), 1e-9), np.float32)


def _add(total: Floats, weight: Floats, cut: Bytes, place: Place, top: int, gain: float) -> None:
    """Add a capture to a band, where it has a weight."""
    rows, cols = np.nonzero(weight.any(1))[0], np.nonzero(weight.any(0))[0]
    box = (slice(rows[0], rows[-1] + 1), slice(cols[0], cols[-1] + 1))
    shape = (box[0].stop - box[0].start, box[1].stop - box[1].start)
    start = complex(cols[0], rows[0] + top)
    way = Place(place.back().turn, complex(place.back().of(np.array([start]))[0]))
    edge = way.of(corners(shape))
    x, y = (max(int(np.floor(v)) - 2, 0) for v in (edge.real.min(), edge.imag.min()))
    source = cut[y : int(edge.imag.max()) + 4, x : int(edge.real.max()) + 4].astype(np.float32)
    if abs(way.turn - 1) < 1e-12 and abs(way.shift - round(way.shift.real) - 1j * round(way.shift.imag)) < 1e-9:
        dx, dy = round(way.shift.real) - x, round(way.shift.imag) - y
        seen = source[dy : dy + shape[0], dx : dx + shape[1]]
    else:
        a, b = way.turn.real, way.turn.imag
        matrix = np.array([[a, -b, way.shift.real - x], [b, a, way.shift.imag - y], [0, 0, 1]])
        seen = warp(source, AffineTransform(matrix), output_shape=shape, order=3, mode="edge", preserve_range=True)
    total[box] += weight[box][..., None] * np.clip(gain * seen, 0, 255)


def gains_of(count: int, ratios: Sequence[tuple[int, int, float]]) -> list[float]:
    """Gains that even out the light: for each (first, second, ratio) second's gain over first's nears the ratio.

    Their product is 1: the picture is as light as its captures on the whole.
    """
    rows = np.zeros((len(ratios) + 1, count))
    wanted = np.zeros(len(ratios) + 1)
    for n, (first, second, ratio) in enumerate(ratios):
        rows[n, first], rows[n, second] = -1, 1
        wanted[n] = np.log(ratio)
    rows[-1] = 1
    found = np.exp(np.linalg.lstsq(rows, wanted, rcond=None)[0])
    return [float(v) for v in np.clip(found, 1 / _MOST_GAIN, _MOST_GAIN)]


def brightness(srgb: Bytes, points: npt.NDArray[np.complex128], radius: int) -> float:
    """Mean code value of squares around points of a capture."""
    found = []
    for point in points:
        x, y = round(point.real), round(point.imag)
        found.append(srgb[max(y - radius, 0) : y + radius + 1, max(x - radius, 0) : x + radius + 1].mean())
    return float(np.mean(found)) + 0.5
