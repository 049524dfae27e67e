"""Which gaps inside the face are holes that show what lies behind the part.

An opening of a sparse infill shows deeper roads of the same part: sharp, or in the part's own colour, and small. A hole
shows the ground: soft, in the ground's hue (darker where it lies in shadow), one compact shape.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage import measure, morphology

from analysis.outlines.rough import Mask, RoughFace

_CLEAR_MM2, _DOUBTFUL_MM2 = (
    0.8,
    2.5,
)  # judgement: a gap that could be the part's own colour must be larger than an opening
_SOLID = 0.85  # least share of its convex hull that a hole fills; gaps between roads are ragged
_HUE_STEP = 0.03  # shares of red, green, blue nearer than this count as the same hue
_BRIGHTER = 1.25  # a hole lies lower than its surroundings and is hardly brighter than the open ground


def hole_masks(rough: RoughFace, um_per_coarse: float) -> list[Mask]:
    """Masks of the holes on the coarse grid, each a little smaller than the hole itself."""
    soft = rough.face & ~morphology.isotropic_closing(rough.sharp, 2)
    soft = morphology.isotropic_opening(soft, 4)
    labels, _ = ndimage.label(soft)
    mm2_per_place = (um_per_coarse / 1000.0) ** 2
    ground = rough.colour[~ndimage.binary_dilation(rough.face, iterations=6)]
    own = rough.colour[rough.face & rough.sharp]
    if len(ground) == 0 or len(own) == 0:
        return []
    holes = []
    for region in measure.regionprops(labels):
        area_mm2 = region.area * mm2_per_place
        if area_mm2 < _CLEAR_MM2 or region.solidity < _SOLID:
            continue
        mask = labels == region.label
        colour = np.median(rough.colour[mask], axis=0)
        if not _like(colour, ground):
            continue
        if area_mm2 >= _DOUBTFUL_MM2 or not _like(colour, own):
            holes.append(mask)
    return holes


def _like(colour: NDArray[np.float32], sample: NDArray[np.float32]) -> bool:
    """Whether a colour could be the sample's, in light or in shade."""
    brightest = float(np.percentile(sample.sum(axis=1), 95))
    hue, hues = _hue(colour), _hue(np.median(sample, axis=0))
    return bool(np.abs(hue - hues).max() < _HUE_STEP and colour.sum() <= _BRIGHTER * brightest)


def _hue(colour: NDArray[np.float32]) -> NDArray[np.float32]:
    lifted = colour + np.float32(20.0)  # in the dark the shares are noise
    return np.asarray(lifted / lifted.sum())
