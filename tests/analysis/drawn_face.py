"""Faces drawn with known roads: their truth is exact, and no network is asked."""

from __future__ import annotations

import numpy as np

from analysis.roads.workview import ROAD_PX, Workview, make_workview
from analysis.welds.bonding import Reading

UM_PER_PX = 10.0
LINE_WIDTH_MM = 0.48
ROAD_PHOTO_PX = LINE_WIDTH_MM * 1000 / UM_PER_PX


def circle(centre: tuple[float, float], radius: float, points: int = 400) -> np.ndarray:
    """A polygon so fine that it is a circle to a hundredth of a pixel, clockwise on the photo."""
    angle = np.linspace(0, 2 * np.pi, points, endpoint=False)
    return np.c_[centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)]


def view_of(outer: np.ndarray, holes: tuple[np.ndarray, ...] = (), grey: int = 128) -> Workview:
    """A flat grey photo with this outline at working resolution."""
    size = int(outer.max() + 40)
    photo = np.full((size, size, 3), grey, np.uint8)
    return make_workview(photo, 1.0, UM_PER_PX, LINE_WIDTH_MM, outer, holes)


def reading_of(view: Workview, kind: np.ndarray, border: np.ndarray | None = None) -> Reading:
    """A reader that is sure everywhere: class 0 bonded, 1 bare, 2 missing, 3 other."""
    classes = np.eye(4, dtype=np.float32)[kind] * view.inside[..., None]
    none = np.zeros(view.inside.shape, np.float32)
    return Reading(classes, none, none if border is None else border.astype(np.float32), 0.0)


def radius_map(view: Workview, centre_px: tuple[float, float]) -> np.ndarray:
    """Distance of each working pixel from a photo point, in road widths."""
    rows, cols = view.inside.shape
    row, col = np.mgrid[:rows, :cols]
    x, y = view.from_photo(np.array(centre_px, float))
    return np.hypot(col - x, row - y) / ROAD_PX


def angle_map(view: Workview, centre_px: tuple[float, float]) -> np.ndarray:
    """Angle of each working pixel about a photo point, 0 to 2 pi, clockwise on the photo from +x."""
    rows, cols = view.inside.shape
    row, col = np.mgrid[:rows, :cols]
    x, y = view.from_photo(np.array(centre_px, float))
    return np.mod(np.arctan2(row - y, col - x), 2 * np.pi)
