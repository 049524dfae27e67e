"""From a rough ring around the face to its edge, to a fraction of a pixel.

The ring's surroundings are unrolled into a strip: one row per place along the ring, one column per step across it, from
outside inward. The edge is the path down the strip that follows the outermost clear edge; it is found by dynamic
programming, so that places where the edge fades are bridged by their neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy import ndimage

from analysis.common.polygons import Points, signed_area

Grey = NDArray[np.float32]

_ALONG_PX = 2.0  # distance from row to row of the strip
_SMOOTH_PX = 8.0  # the rough ring's steps are smoothed away by this much before normals are taken
_SOFT, _SURE = 0.06, 0.35  # shares of the usual edge strength: up to here a shadow's edge, from here the part's
_GROUND, _ABOVE_GROUND = 0.75, 1.5  # the same two limits in units of the ground's own edges, where those are higher
_CLIMB = 4  # columns from where an edge first is clear to its peak, at most
_SAME = 0.1  # weight of plain strength among edges that are all sure
_OUTSIDE_PENALTY = 0.15  # per px of clear edge left outside the path
_TURN_PENALTY = 0.12  # per step across for each step along


@dataclass(frozen=True)
class RefinedRing:
    """`ring_px` float (n, 2); `strength` float (n,) of the edge there; `support` float (n,) how clearly
    it is the part's, 0..1; `sd_px` the edge's scatter across.
    """

    ring_px: Points
    strength: Grey
    support: NDArray[np.float64]
    sd_px: float


def refine_ring(
    strength: Grey, ring_px: Points, free_px: float, face_px: float, face_inside: bool = True
) -> RefinedRing:
    """Move a ring onto the edge.

    Parameters
    ----------
    strength : float32 (rows, cols)
        Fine edge strength of the picture.
    ring_px : float (n, 2)
        Rough ring of (x, y), in array pixels.
    free_px, face_px : float
        How far the edge may lie from the rough ring to the side away from the face, and to the face's side.
    face_inside : bool
        False for a hole, whose face lies around it.
    """
    middle, normal = _even_ring(ring_px)
    if not face_inside:
        normal = -normal
    offsets = np.arange(free_px, -face_px - 0.5, -1.0)
    places = middle[:, None, :] + offsets[None, :, None] * normal[:, None, :]
    strip = ndimage.map_coordinates(strength, [places[..., 1], places[..., 0]], order=1, mode="nearest")
    usual = _usual_strength(strip)
    clear = _clearness(strip, usual[:, None])
    gain = clear - _OUTSIDE_PENALTY * _left_outside(clear)
    path = _closed_path(gain)
    fine = _peak(ndimage.gaussian_filter1d(strip, 1.5, axis=0, mode="wrap"), path)
    smooth = ndimage.gaussian_filter1d(ndimage.median_filter(fine, 5, mode="wrap"), 1.5, mode="wrap")
    depth = np.interp(smooth, np.arange(len(offsets)), offsets)
    on_path = (np.arange(len(path)), path)
    return RefinedRing(
        middle + depth[:, None] * normal,
        strip[on_path],
        clear[on_path],
        float(1.4826 * np.median(np.abs(fine - smooth)) + 0.3),
    )


def _even_ring(ring_px: Points) -> tuple[Points, Points]:
    """Points every `_ALONG_PX` along the smoothed ring, with normals pointing away from the enclosed area."""
    closed = np.vstack([ring_px, ring_px[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = max(16, round(along[-1] / _ALONG_PX))
    at = np.arange(count) * along[-1] / count
    even = np.column_stack([np.interp(at, along, closed[:, k]) for k in (0, 1)])
    even = ndimage.gaussian_filter1d(even, _SMOOTH_PX / _ALONG_PX, axis=0, mode="wrap")
    tangent = np.roll(even, -1, axis=0) - np.roll(even, 1, axis=0)
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]]) / np.maximum(np.hypot(*tangent.T), 1e-9)[:, None]
    return even, normal if signed_area(even) > 0 else -normal


def _usual_strength(strip: Grey) -> NDArray[np.float64]:
    """Strength of the edge usual near each row: the median along the ring of the rows' largest values."""
    size = max(3, min(len(strip), round(200.0 / _ALONG_PX)) | 1)
    return np.maximum(np.asarray(ndimage.median_filter(strip.max(axis=1), size, mode="wrap"), np.float64), 1e-6)


def _clearness(strip: Grey, usual: NDArray[np.float64]) -> NDArray[np.float64]:
    """0 for an edge that may be a shadow's or the ground's, 1 for one that can only be the part's; logarithmic between.

    A dark wall's rim is many times fainter than the whitened tears behind it and yet is the edge, hence the logarithm.
    """
    low = np.maximum(_GROUND, _SOFT * usual)
    high = np.maximum(np.maximum(_ABOVE_GROUND, _SURE * usual), 1.3 * low)
    clear = np.clip(np.log(np.maximum(strip, 1e-3) / low) / np.log(high / low), 0.0, 1.0)
    return np.asarray((1.0 - _SAME) * clear + _SAME * np.minimum(strip / usual, 1.0))


def _left_outside(clear: NDArray[np.float64]) -> NDArray[np.float64]:
    """For each column, the clear edge that lies more than two columns further outside."""
    return np.pad(np.cumsum(clear, axis=1), ((0, 0), (3, 0)))[:, : clear.shape[1]]


def _closed_path(gain: NDArray[np.float64]) -> NDArray[np.int_]:
    """Column of the best path for each row, with steps of at most two columns; the ends meet.

    The strip is walked twice round and the middle lap kept, which closes the path without trying every start.
    """
    rows = len(gain)
    lap = np.concatenate([gain[rows // 2 :], gain, gain[: rows // 2]])
    came = np.zeros(lap.shape, dtype=np.int8)
    width = gain.shape[1]
    padded = np.full(width + 4, -np.inf)
    padded[2:-2] = lap[0]
    shifted = sliding_window_view(padded, 5)
    turns = -_TURN_PENALTY * np.abs(np.arange(-2, 3))
    columns = np.arange(width)
    for row in range(1, len(lap)):
        choices = shifted + turns
        best = choices.argmax(axis=1)
        came[row] = best - 2
        padded[2:-2] = choices[columns, best] + lap[row]
    total = padded[2:-2]
    path = np.empty(len(lap), dtype=np.int_)
    path[-1] = int(np.argmax(total))
    for row in range(len(lap) - 1, 0, -1):
        path[row - 1] = path[row] + came[row, path[row]]
    return path[rows - rows // 2 : 2 * rows - rows // 2]


def _peak(strip: Grey, path: NDArray[np.int_]) -> NDArray[np.float64]:
    """Place of the edge's peak to a fraction of a column: uphill, then a parabola through three samples."""
    row = np.arange(len(path))
    column = np.clip(path, 1, strip.shape[1] - 2)
    for _ in range(_CLIMB):
        around = np.stack([strip[row, column + k] for k in (-1, 0, 1)])
        column = np.clip(column + np.argmax(around, axis=0) - 1, 1, strip.shape[1] - 2)
    before, here, after = (strip[row, column + k].astype(np.float64) for k in (-1, 0, 1))
    bend = before - 2.0 * here + after
    shift = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1.0), 0.0)
    return np.asarray(column + np.clip(shift, -0.5, 0.5))
