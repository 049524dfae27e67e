"""Where a capture may lie on another: every shift by correlation, and turns by features that both show.

The correlation is normalised over the shared rectangle of each shift, so that a bright corner counts for no more than
a dark one (as by J. P. Lewis, Fast Normalized Cross-Correlation, 1995, with both pictures cut by the shift). Features
are SIFT's, their turn is found by RANSAC, both as scikit-image has them.
"""

from __future__ import annotations

import warnings

import numpy as np
import numpy.typing as npt
from scipy import fft, ndimage
from skimage.feature import match_descriptors
from skimage.measure import ransac
from skimage.transform import EuclideanTransform

from analysis.fields.place import Floats, Place

_APART_PX = 5  # peaks nearer than this are one
_FEWEST = 6  # features that agree
Features = tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]


def by_shift(first: Floats, second: Floats, least_shared: float, count: int) -> list[Place]:
    """The likeliest places of the second picture in the first without a turn, the likeliest first.

    A likeness counts by the root of the area it holds for: on roads as alike as eggs, a sliver that fits by chance
    would beat the truth. `least_shared` : of the smaller picture.
    """
    area, like = _likeness_of_shifts(first, second)
    worth = np.where(area >= least_shared * min(first.size, second.size), like * np.sqrt(area), -1.0)
    peaks = (worth > 0) & (worth == ndimage.maximum_filter(worth, 2 * _APART_PX + 1))
    rows, cols = np.nonzero(peaks)
    order = np.argsort(-worth[rows, cols])[:count]
    down, right = rows[order] - (second.shape[0] - 1), cols[order] - (second.shape[1] - 1)
    return [Place(1.0 + 0j, complex(x, y)) for y, x in zip(down, right, strict=True)]


def _likeness_of_shifts(first: Floats, second: Floats) -> tuple[Floats, Floats]:
    """Shared area in px, and correlation over it; [i, j] for a shift of second by (i, j) - (its shape - 1)."""
    shape = [n + m - 1 for n, m in zip(first.shape, second.shape, strict=True)]
    quick = [fft.next_fast_len(n, real=True) for n in shape]
    turned = second[::-1, ::-1]
    product = fft.irfft2(fft.rfft2(first, quick) * fft.rfft2(turned, quick), quick)[: shape[0], : shape[1]]
    (area, a, aa), (_, b, bb) = _sums(first, second.shape), _sums(turned, first.shape)
    spread = np.maximum(aa - a * a / area, 1e-3 * area) * np.maximum(bb - b * b / area, 1e-3 * area)
    return area.astype(np.float32), np.asarray((product - a * b / area) / np.sqrt(spread), np.float32)


def _sums(picture: Floats, other: tuple[int, ...]) -> list[npt.NDArray[np.float64]]:
    """Area, sum and sum of squares of what a rectangle of shape `other` covers of the picture, for each shift."""
    ends = []
    for n, m in zip(picture.shape, other, strict=True):
        k = np.arange(n + m - 1)
        ends.append((np.maximum(k - m + 1, 0), np.minimum(k + 1, n)))
    (top, low), (left, right) = ends
    found = [np.outer(low - top, right - left).astype(float)]
    for values in (picture.astype(np.float64), picture.astype(np.float64) ** 2):
        sums = np.pad(values.cumsum(0).cumsum(1), ((1, 0), (1, 0)))
        found.append(sums[low][:, right] - sums[top][:, right] - sums[low][:, left] + sums[top][:, left])
    return found


def by_features(first: Features, second: Features) -> Place | None:
    """Place of the second picture in the first from (row, col) and descriptors of both; None where too few agree."""
    (here, mine), (there, theirs) = first, second
    if min(len(here), len(there)) < _FEWEST:
        return None
    pairs = match_descriptors(mine, theirs, max_ratio=0.85, cross_check=True)
    if len(pairs) < _FEWEST:
        return None
    target, source = here[pairs[:, 0]][:, ::-1], there[pairs[:, 1]][:, ::-1]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # no two points that agree: said by the answer
        model, good = ransac(
            (source, target), EuclideanTransform, min_samples=2, residual_threshold=2.0, max_trials=400, rng=1
        )
    if model is None or good is None or good.sum() < _FEWEST:
        return None
    return Place(complex(np.exp(1j * model.rotation)), complex(*model.translation))
