"""The face at working resolution: cropped, in linear light, as fine as the road width needs and no finer.

A road is `ROAD_PX` pixels wide on the working grid, whatever the camera; texture is read on a grid `FINE` times as
fine and pooled. So every cue means the same on a 2 MP and on a 48 MP photo of the same face.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw
from scipy import ndimage

from analysis.common.smooth import block_mean

Floats = npt.NDArray[np.float32]
Bools = npt.NDArray[np.bool_]
Points = npt.NDArray[np.float64]

ROAD_PX = 12
FINE = 2
MARGIN_PX = 8  # working pixels kept around the face, so that filters at its edge see the background
MAX_SIDE = 4096  # bound on memory: a face with more working pixels a side is worked more coarsely


class FaceTooSmall(ValueError):
    """The face or its roads take too few pixels to read."""


@dataclass(frozen=True)
class Workview:
    """One face on the working grid.

    linear : (rows, cols, 3) linear light 0..1; fine : (FINE*rows, FINE*cols) luminance of the same window.
    inside : (rows, cols) True on the face. depth_px : distance to the nearest outline, working px, 0 outside.
    origin_px, step : working pixel (r, c) lies at photo px x = origin_x + step*(c+0.5) - 0.5, y alike.
    road_px : line width in working px. outer_px, holes_px : outline in working px.
    """

    linear: Floats
    fine: Floats
    inside: Bools
    origin_px: tuple[float, float]
    step: float
    road_px: float
    um_per_px: float
    outer_px: Points
    holes_px: tuple[Points, ...]

    @property
    def mm_per_px(self) -> float:
        """Edge of a working pixel in mm."""
        return self.step * self.um_per_px / 1000.0

    @cached_property
    def edge_distances(self) -> tuple[Floats, ...]:
        """Distance to the outline and to each hole, working px, positive on the face's side."""
        shape = self.inside.shape
        outer, *holes = (signed_distance((shape[0], shape[1]), ring) for ring in (self.outer_px, *self.holes_px))
        return (outer, *(-hole for hole in holes))

    def to_photo(self, points: Points) -> Points:
        """Working (x, y) to photo px (x, y)."""
        return np.asarray((np.asarray(points, float) + 0.5) * self.step - 0.5 + np.asarray(self.origin_px))

    def from_photo(self, points: Points) -> Points:
        """Photo px (x, y) to working (x, y)."""
        return np.asarray((np.asarray(points, float) - np.asarray(self.origin_px) + 0.5) / self.step - 0.5)


_DECODE = np.where(
    np.arange(256) / 255 <= 0.04045, np.arange(256) / 255 / 12.92, ((np.arange(256) / 255 + 0.055) / 1.055) ** 2.4
).astype(np.float32)
_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)  # IEC 61966-2-1 primaries


def fill_polygons(shape: tuple[int, int], outer: Points, holes: Sequence[Points]) -> Bools:
    """True inside `outer` and outside every hole; points (x, y) in px of `shape`, a pixel counts by its centre.

    Drawn four times as fine and thresholded at half, as Pillow's own edges are a pixel thick.
    """
    over = 4
    image = Image.new("L", (shape[1] * over, shape[0] * over), 0)
    draw = ImageDraw.Draw(image)
    for polygon, value in [(outer, 255), *((hole, 0) for hole in holes)]:
        if len(polygon) >= 3:
            draw.polygon([tuple(p) for p in (np.asarray(polygon) + 0.5) * over - 0.5], fill=value)
    small = image.reduce(over)
    return np.asarray(small) >= 128


def signed_distance(shape: tuple[int, int], polygon: Points) -> Floats:
    """Distance to a polygon's edge in px, positive inside; good to about a quarter px.

    Drawn twice as fine; the mean of the inner and outer transform removes the half-pixel step.
    """
    mask = fill_polygons((shape[0] * 2, shape[1] * 2), (np.asarray(polygon) + 0.5) * 2 - 0.5, ())
    distance = ndimage.distance_transform_edt(mask) - ndimage.distance_transform_edt(~mask)
    distance -= np.sign(distance) * 0.5
    return block_mean(distance, 2) / np.float32(2.0)


def make_workview(
    srgb: npt.NDArray[np.uint8],
    px_per_pixel: float,
    um_per_px: float,
    line_width_mm: float,
    outer_photo_px: Points,
    holes_photo_px: Sequence[Points] = (),
) -> Workview:
    """Cut the face out of an upright photo and bring it to working resolution.

    Parameters
    ----------
    srgb : (rows, cols, 3) uint8; px_per_pixel : photo px per pixel of `srgb` (above 1 when decoded reduced).
    um_per_px, line_width_mm : scale of the original photo and nominal road width.
    outer_photo_px, holes_photo_px : (n, 2) points (x, y) in px of the original photo.

    Raises
    ------
    FaceTooSmall : fewer than 4 roads' worth of face in either direction.
    """
    outer = np.asarray(outer_photo_px, float)
    step = line_width_mm * 1000.0 / um_per_px / ROAD_PX
    low, high = outer.min(0), outer.max(0)
    step = max(step, float((high - low).max()) / MAX_SIDE)
    road_px = line_width_mm * 1000.0 / um_per_px / step
    origin = np.floor(low - MARGIN_PX * step)
    cols, rows = (int(n) + int(n) % 2 for n in np.ceil((high - origin) / step + MARGIN_PX))
    if min(cols, rows) - 2 * MARGIN_PX < 1.5 * road_px:
        raise FaceTooSmall("The outline is narrower than two roads: check the scale and the line width.")
    box = (
        (origin[0]) / px_per_pixel,
        (origin[1]) / px_per_pixel,
        (origin[0] + cols * step) / px_per_pixel,
        (origin[1] + rows * step) / px_per_pixel,
    )
    window, box = _window(srgb, box)
    fine = _resample(window, box, (cols * FINE, rows * FINE))
    linear = block_mean(fine, FINE)
    work = Workview(
        linear=linear,
        fine=fine @ _LUMA,
        inside=np.zeros((rows, cols), bool),
        origin_px=(float(origin[0]), float(origin[1])),
        step=step,
        road_px=road_px,
        um_per_px=um_per_px,
        outer_px=outer,
        holes_px=(),
    )
    outer_work = work.from_photo(outer)
    holes_work = tuple(work.from_photo(np.asarray(h, float)) for h in holes_photo_px)
    inside = fill_polygons((rows, cols), outer_work, holes_work)
    return Workview(**{**work.__dict__, "inside": inside, "outer_px": outer_work, "holes_px": holes_work})


def _window(
    srgb: npt.NDArray[np.uint8], box: tuple[float, float, float, float]
) -> tuple[Floats, tuple[float, float, float, float]]:
    """The part of the photo under `box` in linear light, edge pixels repeated where the box leaves it."""
    rows, cols = srgb.shape[:2]
    left, top = int(np.floor(box[0])) - 2, int(np.floor(box[1])) - 2
    right, bottom = int(np.ceil(box[2])) + 2, int(np.ceil(box[3])) + 2
    part = srgb[max(top, 0) : min(bottom, rows), max(left, 0) : min(right, cols)]
    pad = ((max(-top, 0), max(bottom - rows, 0)), (max(-left, 0), max(right - cols, 0)), (0, 0))
    part = np.pad(part, pad, mode="edge") if any(sum(p) for p in pad) else part
    return _DECODE[part], (box[0] - left, box[1] - top, box[2] - left, box[3] - top)


def _resample(window: Floats, box: tuple[float, float, float, float], size: tuple[int, int]) -> Floats:
    """Area-weighted resampling of each channel to `size` (cols, rows)."""
    out = np.empty((size[1], size[0], 3), np.float32)
    shrinks = (box[2] - box[0]) > size[0]
    method = Image.Resampling.BOX if shrinks else Image.Resampling.BILINEAR
    for k in range(3):
        channel = Image.fromarray(np.ascontiguousarray(window[..., k]))
        out[..., k] = np.asarray(channel.resize(size, method, box=box))
    return out
