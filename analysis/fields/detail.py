"""A capture as what can be recognised again: fine lightness with the light's own slopes taken out, at several sizes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from analysis.common.smooth import gauss
from analysis.fields.place import Bytes, Floats, Place

COARSE_PX = 512  # longer side on which shifts are searched over the whole capture
FINEST_PX = 2048  # beyond this a pixel of the photo is finer than its optics (judgement)
_SLOPE_PX = 6.0  # lightness that changes more slowly than this is the light's, not the surface's
_FLOOR = 0.01  # contrast of a surface without anything to see, as a share of white


@dataclass(frozen=True)
class Detail:
    """`views` from coarse to fine, each twice the one before; `factors` px of the capture per px of the view."""

    views: tuple[Floats, ...]
    factors: tuple[float, ...]
    shape: tuple[int, int]


def detail_of(srgb: Bytes, longest: int) -> Detail:
    """Reduce a capture, uint8 (rows, cols, 3), to views of its detail.

    longest : px, the longest side of all captures that it will be compared with: they are reduced alike.
    """
    grey = srgb.astype(np.float32).mean(-1) / np.float32(255)
    sides = [s for s in (COARSE_PX, 1024, FINEST_PX) if s < 0.75 * longest]
    sides.append(min(longest, FINEST_PX))
    factors = [longest / side for side in sides]
    views = tuple(_even(_reduced(grey, factor)) for factor in factors)
    return Detail(views, tuple(factors), (grey.shape[0], grey.shape[1]))


def _reduced(grey: Floats, factor: float) -> Floats:
    """Reduced by `factor`, pixel c of the result centred on (c + 1/2) * factor - 1/2."""
    if factor == 1:
        return grey
    rows, cols = (max(8, int(n / factor + 1e-6)) for n in grey.shape)
    soft = gauss(grey, 0.4 * factor)
    first = (factor - 1) / 2
    found = ndimage.affine_transform(soft, [factor, factor], [first, first], (rows, cols), order=1, mode="nearest")
    return np.asarray(found, np.float32)


def _even(grey: Floats) -> Floats:
    """Slopes taken out and contrast made even, so that a shadow or a glare doesn't outweigh the rest."""
    fine = grey - gauss(grey, _SLOPE_PX)
    strength = np.sqrt(gauss(fine * fine, 3 * _SLOPE_PX))
    return np.asarray(fine / (strength + np.float32(_FLOOR)), np.float32)


def seen_through(view: Floats, place: Place, top: float, left: float, shape: tuple[int, int]) -> Floats:
    """Cut of `shape` from `view` at (top, left) of the picture that `place` leads from; straight interpolation."""
    a, b = place.turn.real, place.turn.imag
    start = place.turn * complex(left, top) + place.shift
    found = ndimage.affine_transform(
        view, [[a, b], [-b, a]], [start.imag, start.real], shape, order=1, mode="nearest", output=np.float32
    )
    return np.asarray(found, np.float32)
