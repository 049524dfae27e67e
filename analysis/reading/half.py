"""One half of a break: photo -> outline -> walls -> what each point is. Used for the face and for its mate."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from analysis.imaging.photo import Photo
from analysis.imaging.scale import Scale
from analysis.outlines.outline import Outline, check_outline, find_outline
from analysis.reading.spacing import measure_spacing
from analysis.roads.walls import WallField, find_walls
from analysis.roads.workview import FINE, ROAD_PX, Bools, Workview, make_workview
from analysis.welds.bonding import Reading, read_face
from analysis.welds.unknown import unknown_zones

WALLS_ASSUMED = 2  # common practice, no source: most prints have two or three walls


class RequestRefused(ValueError):
    """A setting of the request can't be used; the message says which and why."""


@dataclass(frozen=True)
class Roads:
    """What the slicer was told, lengths in mm; None where the person doesn't know."""

    line_width_mm: float
    layer_height_mm: float
    wall_count: int | None
    contact_band_mm: float | None
    spacing_mm: float | None

    @property
    def band_mm(self) -> float:
        """Contact band: given, or line width minus layer height (a road is a rectangle with half-round sides)."""
        return self.contact_band_mm or max(self.line_width_mm - self.layer_height_mm, 0.2 * self.line_width_mm)

    @property
    def band_share(self) -> float:
        """Contact band over line width, at most 1."""
        return min(self.band_mm / self.line_width_mm, 1.0)


@dataclass(frozen=True)
class Half:
    """One face, read."""

    outline: Outline
    scale: Scale
    view: Workview
    walls: WallField
    reading: Reading
    unknown: Bools
    spacing_measured: bool

    @property
    def known(self) -> Bools:
        """Where on the face it can be told."""
        return self.view.inside & ~self.unknown


def side_wanted(source: bytes | Path, um_per_px: float, line_width_mm: float) -> int | None:
    """Longest side to decode to: a little finer than the working grid needs, so large photos are read reduced."""
    if not (np.isfinite(um_per_px) and um_per_px > 0 and np.isfinite(line_width_mm)):
        return None
    spare = line_width_mm * 1000 / um_per_px / (ROAD_PX * FINE)
    if spare <= 2.2:
        return None
    try:
        with Image.open(source if isinstance(source, Path) else io.BytesIO(source)) as image:
            longest = max(image.size)
    except Exception:  # what can't be opened is refused by read_photo, with words of its own
        return None
    return max(int(longest / (spare / 1.6)), 600)


def outline_of(given: Outline | Mapping[str, Any] | None, photo: Photo, scale: Scale) -> Outline:
    """The outline as given, checked; found in the photo where none was."""
    if given is None:
        return find_outline(photo, scale)
    if isinstance(given, Outline):
        return given
    outer = given.get("outer_px", given.get("outline_px"))
    if outer is None:
        raise RequestRefused('The outline has no "outline_px": give a list of [x, y] points.')
    return check_outline(outer, given.get("holes_px") or (), photo.facts.width_px, photo.facts.height_px)


def read_half(photo: Photo, scale: Scale, outline: Outline, roads: Roads, marked_px: Sequence[Any] = ()) -> Half:
    """Read one face inside its outline; `marked_px` are polygons in photo px that the person called unknown."""
    view = make_workview(
        photo.srgb, photo.px_per_pixel, scale.um_per_px, roads.line_width_mm, outline.outer_px, outline.holes_px
    )
    count = WALLS_ASSUMED if roads.wall_count is None else roads.wall_count
    measured = None
    if roads.spacing_mm is None:
        measured = measure_spacing(view, count, roads.line_width_mm, roads.layer_height_mm)
    spacing = roads.spacing_mm or measured or roads.line_width_mm
    walls = find_walls(view, count, spacing / view.mm_per_px)
    reading = read_face(view, walls, roads.band_mm, roads.line_width_mm)
    unknown = unknown_zones(view, reading, reading.own_chroma, marked_px)
    return Half(outline, scale, view, walls, reading, unknown, measured is not None)
