"""First look for the face: where the photo is sharp.

A microscope's depth of focus is a fraction of a millimetre. The broken face lies in it, and what lies around the part
(paper, a bench mat, another part of the same colour) lies lower and is soft. So the face is found by fine edges, in
brightness or in colour, that are stronger than anything along the photo's border, and never by a colour of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage import morphology

from analysis.common.smooth import block_max, block_mean, gauss

Grey = NDArray[np.float32]
Mask = NDArray[np.bool_]

_COARSE_SIDE = 544  # the rough look's longer side: a road of 0.4 mm is still a dozen pixels wide
_FINE_SIGMA, _SOFT_SIGMA = 1.0, 6.0  # px; finer than the first is noise, softer than the second is out of focus
_BORDER = 8  # coarse px along the photo's border that show no face
_SINGLE, _PATCH = 1.5, 1.35  # how far above the border's 99th percentile an edge, or a patch of texture, stands out
_PATCH_SIGMA = 2.5
_REACH = 4  # coarse px: hairs and scratches on the ground up to twice as wide are removed
_BRIDGE = 8  # coarse px: gaps in the face's rim, such as a smooth dark road, up to twice as wide are bridged


@dataclass(frozen=True)
class RoughFace:
    """What the first look found, on a grid `step` array pixels wide.

    `face` bool: the largest sharp region, openings filled; `sharp` bool: sharp places themselves; `strength` float32,
    full size: fine edges in units of the border's 99th percentile; `colour` float32 (rows, cols, 3) in sRGB codes.
    """

    face: Mask
    sharp: Mask
    strength: Grey
    colour: NDArray[np.float32]
    step: int


def rough_face(srgb: NDArray[np.uint8]) -> RoughFace | None:
    """Find the largest sharp region; None where nothing is sharper than the border. srgb uint8 (rows, cols, 3)."""
    step = max(1, round(max(srgb.shape[:2]) / _COARSE_SIDE))
    strength = np.zeros(srgb.shape[:2], dtype=np.float32)
    patch = np.zeros((srgb.shape[0] // step, srgb.shape[1] // step), dtype=np.float32)
    for channel in _channels(srgb):
        fine = _fine_edges(channel)
        pooled = block_max(fine, step)
        # half a code: below that an edge is rounding, however even the border is
        np.maximum(strength, fine / max(float(np.percentile(_border(pooled), 99)), 0.5), out=strength)
        texture = gauss(pooled, _PATCH_SIGMA)
        np.maximum(patch, texture / max(float(np.percentile(_border(texture), 99)), 0.5), out=patch)
    sharp = (block_max(strength, step) > _SINGLE) | (patch > _PATCH)
    face = _largest(morphology.isotropic_opening(_filled(sharp), _REACH))
    if face is None:
        return None
    return RoughFace(face, sharp, strength, block_mean(srgb, step), step)


def _channels(srgb: NDArray[np.uint8]) -> list[Grey]:
    """Brightness, and red against blue: a part as bright as its ground mostly differs in the latter."""
    red, green, blue = (srgb[..., i].astype(np.float32) for i in range(3))
    return [(red + green + blue) / 3.0, red - blue]


def _fine_edges(channel: Grey) -> Grey:
    """Slope that is there at the fine scale and gone at the coarse one; the slope of a shadow is the same at both."""
    fine = _slope(channel, _FINE_SIGMA)
    # The soft slope is wanted at no better than its own scale, so it is had from a picture half the size.
    soft = _slope(block_mean(np.pad(channel, ((0, 2), (0, 2)), mode="edge"), 2), _SOFT_SIGMA / 2.0) / np.float32(2.0)
    soft = soft.repeat(2, axis=0).repeat(2, axis=1)[: channel.shape[0], : channel.shape[1]]
    return np.maximum(fine - soft, np.float32(0.0))


def _slope(channel: Grey, sigma: float) -> Grey:
    soft = gauss(channel, sigma, truncate=3.0)
    x, y = _across(soft), _across(soft.T).T
    return np.asarray(np.sqrt(x * x + y * y) / np.float32(8.0), dtype=np.float32)


def _across(soft: Grey) -> Grey:
    """Sobel's slope along the rows, edge pixels repeated: `scipy.ndimage.sobel` in a quarter of its time."""
    wide = np.pad(soft, 1, mode="edge")
    three = wide[:-2] + 2 * wide[1:-1] + wide[2:]
    return np.asarray(three[:, 2:] - three[:, :-2])


def _filled(sharp: Mask) -> Mask:
    margin = 2 * _BRIDGE  # so that closing doesn't glue the face to the photo's border
    closed = morphology.isotropic_closing(np.pad(sharp, margin), _BRIDGE)
    return np.asarray(ndimage.binary_fill_holes(closed)[margin:-margin, margin:-margin], dtype=bool)


def _largest(mask: Mask) -> Mask | None:
    labels, count = ndimage.label(mask)
    if count == 0:
        return None
    return np.asarray(labels == 1 + int(np.argmax(np.bincount(labels.ravel())[1:])))


def _border(values: Grey) -> Grey:
    n = _BORDER
    return np.concatenate([part.ravel() for part in (values[:n], values[-n:], values[:, :n], values[:, -n:])])
