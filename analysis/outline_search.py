"""Search for the face in a photo: a rough look, then its edge, then its holes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy import ndimage
from skimage import measure

from analysis.outline_holes import hole_masks
from analysis.outline_refine import RefinedRing, refine_ring
from analysis.outline_rough import Mask, RoughFace, rough_face
from analysis.polygons import Points, signed_area

_FREE, _FACE = 3.0, 16.0  # coarse px that the edge may lie outside and inside the rough ring, which softness pushes out
_TIDY_PX = 0.25  # how far a point may be dropped from the line it lies on
_BACKED = 0.5  # share of the usual edge strength from which a piece of the ring counts as backed by the picture
_CLEAR = 2.0  # and how far above the border's 99th percentile it must be for that


@dataclass(frozen=True)
class FoundOutline:
    """In array pixels; `confidence` is the share of the outer ring backed by a fine edge well above the ground's."""

    outer_px: Points
    holes_px: tuple[Points, ...]
    confidence: float
    edge_sd_px: float


def search_outline(srgb: NDArray[np.uint8], um_per_pixel: float) -> FoundOutline | None:
    """Find outline and holes; None where nothing stands out. srgb uint8 (rows, cols, 3)."""
    rough = rough_face(srgb)
    if rough is None:
        return None
    outer = _refined(rough, rough.face, face_inside=True)
    outer_px = _tidy(outer.ring_px, srgb.shape[:2])
    if outer_px is None:
        return None
    holes_px = []
    for mask in hole_masks(rough, um_per_pixel * rough.step):
        hole_px = _tidy(_refined(rough, mask, face_inside=False).ring_px, srgb.shape[:2])
        if hole_px is not None:
            holes_px.append(hole_px)
    backed = (outer.support >= _BACKED) & (outer.strength >= _CLEAR)
    return FoundOutline(outer_px, tuple(holes_px), float(backed.mean()), outer.sd_px)


def _refined(rough: RoughFace, mask: Mask, face_inside: bool) -> RefinedRing:
    ring_px = (_contour(mask.astype(np.float64)) + 0.5) * rough.step - 0.5
    return refine_ring(rough.strength, ring_px, _FREE * rough.step, _FACE * rough.step, face_inside)


def _tidy(ring_px: Points, shape: tuple[int, int]) -> Points | None:
    """The ring without loops (where normals met at a corner it may fold over itself) and without needless points."""
    picture = Image.new("1", (shape[1], shape[0]))
    ImageDraw.Draw(picture).polygon([(float(x), float(y)) for x, y in ring_px], fill=1)
    mask = np.array(picture, dtype=bool)
    labels, count = ndimage.label(mask)
    if count == 0:
        return None
    mask = ndimage.binary_fill_holes(labels == 1 + int(np.argmax(np.bincount(labels.ravel())[1:])))
    ring = _contour(ndimage.gaussian_filter(mask.astype(np.float32), 1.0))
    tidy: Points = measure.approximate_polygon(np.vstack([ring, ring[:1]]), _TIDY_PX)[:-1]
    return tidy if len(tidy) >= 3 else None


def _contour(mask: NDArray[np.floating]) -> Points:
    """Longest contour of a mask, (x, y), clockwise on the screen."""
    contour = max(measure.find_contours(np.pad(mask, 1), 0.5), key=len)[:-1]
    ring: Points = contour[:, ::-1] - 1.0
    return ring if signed_area(ring) > 0 else ring[::-1].copy()
