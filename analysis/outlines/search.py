"""Search for the face in a photo: a rough look, then its edge, then its holes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage import measure

from analysis.common.polygons import Points, filled, signed_area
from analysis.common.smooth import block_mean, gauss
from analysis.outlines.holes import hole_masks
from analysis.outlines.refine import RefinedRing, refine_ring
from analysis.outlines.rough import Mask, RoughFace, rough_face

_FREE, _FACE = 3.0, 16.0  # coarse px that the edge may lie outside and inside the rough ring, which softness pushes out
_LARGEST_SIDE = 2000  # px; a larger picture is averaged down first: its finest px hold no more of the edge
_TIDY_PX = 0.25  # how far a point may be dropped from the line it lies on
_REACH = 8
_BACKED = 0.5  # clearness from which a piece of the ring counts as backed by the picture
# An edge this many times the border's 99th percentile leaves no doubt; one that is weaker on the whole takes trust off.
_PLAIN = 2.0
_SMALLEST_SHARE = 0.015  # judgement: what fills less of the photo is a speck or a scratch, or too coarse to measure


@dataclass(frozen=True)
class FoundOutline:
    """In array pixels. `confidence`: the share of the outer ring that a fine edge backs, less where that edge is faint.

    1 where all of the ring has an edge plainly above anything on the ground; pictures without a face stay under 0.4
    (noise, blurred photos, side surfaces of parts).
    """

    outer_px: Points
    holes_px: tuple[Points, ...]
    confidence: float
    edge_sd_px: float


def search_outline(srgb: NDArray[np.uint8], um_per_pixel: float) -> FoundOutline | None:
    """Find outline and holes; None where nothing stands out. srgb uint8 (rows, cols, 3)."""
    factor = math.ceil(max(srgb.shape[:2]) / _LARGEST_SIDE)
    if factor > 1:
        return _enlarged(search_outline(_shrunk(srgb, factor), um_per_pixel * factor), factor)
    rough = rough_face(srgb)
    if rough is None or rough.face.mean() < _SMALLEST_SHARE:
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
    plain = min(1.0, float(np.median(outer.strength)) / _PLAIN)
    return FoundOutline(outer_px, tuple(holes_px), plain * float(np.mean(outer.support >= _BACKED)), outer.sd_px)


def _shrunk(srgb: NDArray[np.uint8], factor: int) -> NDArray[np.uint8]:
    return np.asarray(np.round(block_mean(srgb, factor)), dtype=np.uint8)


def _enlarged(found: FoundOutline | None, factor: int) -> FoundOutline | None:
    if found is None:
        return None
    outer_px, *holes_px = ((ring + 0.5) * factor - 0.5 for ring in (found.outer_px, *found.holes_px))
    return FoundOutline(outer_px, tuple(holes_px), found.confidence, found.edge_sd_px * factor)


def _refined(rough: RoughFace, mask: Mask, face_inside: bool) -> RefinedRing:
    ring_px = (_contour(mask.astype(np.float64)) + 0.5) * rough.step - 0.5
    return refine_ring(rough.strength, ring_px, _FREE * rough.step, _FACE * rough.step, face_inside)


def _tidy(ring_px: Points, shape: tuple[int, int]) -> Points | None:
    """The ring without loops (where normals met at a corner it may fold over itself) and without needless points."""
    # only around the ring, a few px more than the smoothing below reaches
    low = np.maximum(np.floor(ring_px.min(axis=0)).astype(int) - _REACH, 0)
    high = np.minimum(np.ceil(ring_px.max(axis=0)).astype(int) + _REACH, (shape[1], shape[0]))
    labels, count = ndimage.label(filled(ring_px - low, (high[1] - low[1], high[0] - low[0])))
    if count == 0:
        return None
    mask = ndimage.binary_fill_holes(labels == 1 + int(np.argmax(np.bincount(labels.ravel())[1:])))
    ring = _contour(gauss(mask.astype(np.float32), 1.0)) + low
    tidy: Points = measure.approximate_polygon(np.vstack([ring, ring[:1]]), _TIDY_PX)[:-1]
    return tidy if len(tidy) >= 3 else None


def _contour(mask: NDArray[np.floating]) -> Points:
    """Longest contour of a mask, (x, y), clockwise on the screen."""
    contour = max(measure.find_contours(np.pad(mask, 1), 0.5), key=len)[:-1]
    ring: Points = contour[:, ::-1] - 1.0
    return ring if signed_area(ring) > 0 else ring[::-1].copy()
