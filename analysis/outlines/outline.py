"""The polygon around the face, with its holes: drawn by a person and checked, or found in the photo.

Inside the outline and outside the holes is the face. A hole is bounded by wall roads and shows what lies behind the
part; openings of a sparse infill are no holes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analysis.common.polygons import crosses_itself, filled, inside, signed_area, touches
from analysis.imaging.photo import Photo
from analysis.imaging.scale import Scale

Points = NDArray[np.float64]
_DRAWN_SD_PX = 3.0  # judgement: how far a carefully drawn line strays from the edge
_LEAST_CONFIDENCE = 0.4  # see FoundOutline: below it lie pictures without a face
_SMALLEST_AREA_PX = 100.0  # judgement: ten by ten px hold no wall


class OutlineRefused(ValueError):
    """The outline can't be used, or none could be found; the message says why and what to do."""


@dataclass(frozen=True)
class Outline:
    """Polygon around the face and its holes, in px of the original upright photo, not closed by a repeated point.

    `outer_px` float (n, 2) of (x, y); `holes_px` the same for each hole. `confidence` 0 to 1: 1 a person drew it, near
    1 every piece of the found edge is plainly backed by the picture, at ½ half of it, or all of it faintly.
    `edge_sd_px`: standard uncertainty of the edge's place, across the edge.
    """

    outer_px: Points
    holes_px: tuple[Points, ...]
    method: Literal["found", "drawn"]
    confidence: float
    edge_sd_px: float


def check_outline(outer_px: ArrayLike, holes_px: Sequence[ArrayLike], width_px: int, height_px: int) -> Outline:
    """Take in an outline that a person drew.

    Parameters
    ----------
    outer_px : array_like (n, 2)
        Corners (x, y) in px of the original upright photo, in either sense; a repeated last point is dropped.
    holes_px : sequence of array_like (m, 2)
        One polygon a hole.
    width_px, height_px : int
        Size of that photo.

    Returns
    -------
    Outline
        Method "drawn". Both senses are made clockwise as seen on the photo.

    Raises
    ------
    OutlineRefused
        Fewer than three corners, a corner that is no number or outside the photo, a line that crosses itself, too
        small an area, a hole that leaves the outline, or holes that overlap.
    """
    outer = _checked_ring(outer_px, "The outline", width_px, height_px)
    holes = tuple(_checked_ring(h, f"Hole {i + 1}", width_px, height_px) for i, h in enumerate(holes_px))
    for i, hole in enumerate(holes):
        if touches(outer, hole) or not inside(outer, hole[:1])[0]:
            raise OutlineRefused(f"Hole {i + 1} leaves the outline. Keep the whole hole inside it.")
        for j, other in enumerate(holes[:i]):
            if touches(other, hole) or inside(other, hole[:1])[0] or inside(hole, other[:1])[0]:
                raise OutlineRefused(f"Hole {j + 1} and hole {i + 1} overlap. Draw them apart, or as one.")
    return Outline(outer, holes, "drawn", 1.0, _DRAWN_SD_PX)


def outline_mask(outline: Outline, shape: tuple[int, int], px_per_pixel: float = 1.0) -> NDArray[np.bool_]:
    """Pixels of the face.

    Parameters
    ----------
    outline : Outline
        In px of the original photo.
    shape : (rows, cols)
        Of the array wanted.
    px_per_pixel : float
        Original px per array pixel, as in `Photo`.

    Returns
    -------
    bool (rows, cols)
        True where a pixel's centre lies inside the outline and outside every hole.
    """
    outer, *holes = ((ring + 0.5) / px_per_pixel - 0.5 for ring in (outline.outer_px, *outline.holes_px))
    mask = filled(outer, shape)
    for hole in holes:
        mask &= ~filled(hole, shape)
    return mask


def find_outline(photo: Photo, scale: Scale) -> Outline:
    """Find the face in the photo by itself.

    Parameters
    ----------
    photo : Photo
        The face must lie wholly inside it.
    scale : Scale
        Of the original photo.

    Raises
    ------
    OutlineRefused
        Nothing stands out clearly enough; the person is asked to draw the outline.
    """
    from analysis.outlines.search import search_outline

    found = search_outline(photo.srgb, scale.um_per_px * photo.px_per_pixel)
    if found is not None and _reaches_border(found.outer_px, photo.srgb.shape[:2]):
        raise OutlineRefused("The face reaches the photo's border. Take it whole, or draw the part that can be seen.")
    if found is None or found.confidence < _LEAST_CONFIDENCE:
        raise OutlineRefused("The face doesn't stand out clearly from what lies around it. Draw its outline by hand.")
    factor = photo.px_per_pixel
    outer, *holes = ((ring + 0.5) * factor - 0.5 for ring in (found.outer_px, *found.holes_px))
    return Outline(outer, tuple(holes), "found", found.confidence, found.edge_sd_px * factor)


def _reaches_border(ring_px: Points, shape: tuple[int, ...]) -> bool:
    x, y = ring_px.T
    return bool(x.min() < 1.5 or y.min() < 1.5 or x.max() > shape[1] - 2.5 or y.max() > shape[0] - 2.5)


def _checked_ring(points: ArrayLike, name: str, width_px: int, height_px: int) -> Points:
    try:
        ring = np.array(points, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise OutlineRefused(f"{name} must be a list of points, each an x and a y in px.") from error
    if ring.size == 0 or len(ring) < 3:
        raise OutlineRefused(f"{name} has fewer than three corners. Set at least three.")
    if ring.ndim != 2 or ring.shape[1] != 2:
        raise OutlineRefused(f"{name} must be a list of points, each an x and a y in px.")
    if not np.isfinite(ring).all():
        raise OutlineRefused(f"{name} has a corner without a place. Set that corner anew.")
    ring = ring[np.any(ring != np.roll(ring, 1, axis=0), axis=1)]
    if len(ring) < 3:
        raise OutlineRefused(f"{name} has fewer than three different corners. Set at least three.")
    x, y = ring.T
    if x.min() < -0.5 or y.min() < -0.5 or x.max() > width_px - 0.5 or y.max() > height_px - 0.5:
        raise OutlineRefused(f"{name} leaves the photo. Move its corners inside the picture.")
    if crosses_itself(ring):
        raise OutlineRefused(f"{name} crosses itself. Move the corners so that its lines don't cross.")
    area = signed_area(ring)
    if abs(area) < _SMALLEST_AREA_PX:
        raise OutlineRefused(f"{name} encloses next to nothing ({abs(area):.0f} px²). Draw it around the whole face.")
    return ring if area > 0 else ring[::-1].copy()
