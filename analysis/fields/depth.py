"""Where in a focus series each place is sharpest, and how sure that is.

Shape from focus: fine contrast, summed over a small window, is largest in the slice that is in focus; between slices
the top of a Gaussian through the three values around it (S. K. Nayar and Y. Nakagawa, Shape from focus, IEEE Trans.
Pattern Anal. Mach. Intell. 16(8), 1994; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.common.smooth import block_mean, gauss
from analysis.fields.place import Bytes, Floats, Place

_WINDOW_PX = 4.0  # sd of the window in which fine contrast is summed
_FINE, _COARSE = 0.7, 2.0  # sd, px: contrast finer than the first is noise, coarser than the second survives blur
_OVER_NOISE = 4.0  # times the quietest places' contrast (judgement)
_OVER_SERIES = 2.0  # times the middle of the same place over the series (judgement)
_MEDIAN = 5  # places a side


@dataclass(frozen=True)
class Depth:
    """The sharpest slice of each place, on a grid of `step` px.

    index : float32, slices from the first; NaN where nothing was ever sharp, or where the sharpest slice is the first
        or last, so that the place may lie beyond the series.
    confidence : 0 to 1, how far the sharpest slice stands out from the middle of its place; 0 where unknown.
    sharpest : float32, as `index`, but with the first and last slice and with unknown places filled from their
        neighbours: for the picture.
    beyond_share : of all places, those sharpest in the first or last slice.
    """

    index: Floats
    confidence: Floats
    sharpest: Floats
    step: int
    beyond_share: float

    @property
    def known_share(self) -> float:
        """Share of the places whose depth is known."""
        return float(np.isfinite(self.index).mean())


def contrast_of(srgb: Bytes, place: Place, step: int) -> Floats:
    """Fine contrast of a slice on the common grid, float32; -1 where the slice doesn't reach.

    Taken before the slice is moved: interpolation would soften some slices more than others.
    """
    grey = srgb.astype(np.float32).mean(-1)
    fine = gauss(grey, _FINE) - gauss(grey, _COARSE)
    own = block_mean(gauss(fine * fine, _WINDOW_PX), step)
    way = place.back().enlarged(1 / step)
    a, b = way.turn.real, way.turn.imag
    start = [way.shift.imag, way.shift.real]
    found = ndimage.affine_transform(own, [[a, b], [-b, a]], start, own.shape, order=1, cval=-1.0)
    return np.asarray(found, np.float32)


def depth_of(contrast: Floats, step: int) -> Depth:
    """Find the sharpest slice of each place from the slices' contrast, (slices, rows, cols)."""
    reached = contrast >= 0
    lowest = np.where(reached, contrast, np.inf).min(0)
    noise = float(np.percentile(lowest[np.isfinite(lowest)], 10)) + 1e-6
    best = contrast.argmax(0)
    top = contrast.max(0)
    middle = np.median(np.where(reached, contrast, 0), axis=0)
    seen = (top > _OVER_NOISE * noise) & (top > _OVER_SERIES * middle)
    ends = (best == 0) | (best == len(contrast) - 1)
    known = seen & ~ends
    raw = best + _between_slices(contrast, best, noise)
    smooth = _smoothed(raw, known)
    index = np.where(known, smooth, np.nan).astype(np.float32)
    confidence = np.where(known, 1 - middle / np.maximum(top, 1e-6), 0).astype(np.float32)
    sharpest = _smoothed(np.where(ends, best, raw), seen)
    return Depth(index, confidence, sharpest, step, float((seen & ends).mean()))


def _between_slices(contrast: Floats, best: npt.NDArray[np.intp], noise: float) -> Floats:
    """How far the top of the Gaussian lies from the sharpest slice, -0.5 to 0.5."""
    last = len(contrast) - 1
    around = [
        np.log(np.maximum(np.take_along_axis(contrast, np.clip(best + k, 0, last)[None], 0)[0], 0) + 0.1 * noise)
        for k in (-1, 0, 1)
    ]
    bend = around[0] - 2 * around[1] + around[2]
    slope = (around[0] - around[2]) / 2
    off = np.divide(slope, bend, out=np.zeros_like(bend), where=bend < -1e-6)
    return np.asarray(np.clip(off, -0.5, 0.5), np.float32)


def _smoothed(values: npt.NDArray[np.generic], known: npt.NDArray[np.bool_]) -> Floats:
    """Unknown places from the nearest known one, then the median of a small square: steps stay steps."""
    if not known.any():
        return np.zeros(values.shape, np.float32)
    nearest = ndimage.distance_transform_edt(~known, return_distances=False, return_indices=True)
    return np.asarray(ndimage.median_filter(values[tuple(nearest)].astype(np.float32), _MEDIAN), np.float32)
