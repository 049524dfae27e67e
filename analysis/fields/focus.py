"""The door: a focus series of one face -> one sharp picture with the height of each place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from skimage.transform import AffineTransform, warp

from analysis.fields.depth import Depth, contrast_of, depth_of
from analysis.fields.place import Bytes, FieldsRefused, Floats, Place
from analysis.fields.series import Tell, lay_series

FEWEST_SLICES = 3
MOST_SLICES = 60
_GRID_SIDE = 800  # places along the longer side at most: finer than the window of contrast tells nothing new
_CROSSING = 0.3  # slices over which the picture crosses from one slice to the next


@dataclass(frozen=True)
class Merged:
    """One sharp picture, uint8 (rows, cols, 3), in the middle slice's frame.

    depth : sharpest slice of each place with its confidence. places : of the slices in the picture.
    residuals_px : between each slice and the next.
    """

    srgb: Bytes
    depth: Depth
    places: tuple[Place, ...]
    residuals_px: tuple[float, ...]

    def height_mm(self, step_um: float, first_is_highest: bool) -> Floats:
        """Height above the lowest slice's focus, mm, on the grid of `depth`; NaN where unknown.

        step_um : from slice to slice. first_is_highest : whether the first slice is focused on the highest places.
        """
        last = len(self.places) - 1
        up = last - self.depth.index if first_is_highest else self.depth.index
        return np.asarray(up * np.float32(step_um / 1000), np.float32)


def merge_focus(slices: Sequence[Bytes], names: Sequence[str], tell: Tell | None = None) -> Merged:
    """Merge a focus series.

    Parameters
    ----------
    slices : uint8 (rows, cols, 3) each, in the order of their focus. Each is asked for three times, one after the
        other, so they may be read when they are asked for.
    names : what refusals call them.
    tell : called with the stage and the share done.

    Raises
    ------
    FieldsRefused
        Too few or too many slices, different sizes, nothing sharp anywhere; and as `lay_series`.
    """
    if not FEWEST_SLICES <= len(names) <= MOST_SLICES:
        raise FieldsRefused(f"Choose {FEWEST_SLICES} to {MOST_SLICES} slices of a focus series, not {len(names)}.")
    tell = tell or (lambda stage, share: None)
    places, residuals = lay_series(slices, names, lambda stage, share: tell(stage, 0.5 * share))
    shape = slices[0].shape
    step = max(2, -(-max(shape) // _GRID_SIDE))
    contrast = []
    for number, place in enumerate(places):
        tell("looking for what is sharp", 0.5 + 0.2 * number / len(places))
        contrast.append(contrast_of(slices[number], place, step))
    depth = depth_of(np.stack(contrast), step)
    if not depth.known_share:
        raise FieldsRefused(
            "Nothing in this series goes through focus: no place is sharper in the middle of it than before and after. "
            "Take slices from above the highest place to below the deepest one, in the order of the focus."
        )
    srgb = _picture(slices, places, depth, tell)
    return Merged(srgb, depth, tuple(places), tuple(residuals))


def _picture(slices: Sequence[Bytes], places: Sequence[Place], depth: Depth, tell: Tell) -> Bytes:
    """Each place from its sharpest slice."""
    shape = slices[0].shape[:2]
    wanted = _enlarged(depth.sharpest, depth.step, shape)
    total, weights = np.zeros((*shape, 3), np.float32), np.full(shape, 1e-6, np.float32)
    for number, place in enumerate(places):
        tell("drawing the sharp picture", 0.7 + 0.3 * number / len(places))
        weight = np.clip((0.5 + _CROSSING / 2 - np.abs(wanted - number)) / _CROSSING, 0, 1)
        # a place that its own slice doesn't reach is taken from the nearest one that does
        weight = np.maximum(weight, np.float32(1e-4) / (1 + np.abs(wanted - number)) ** 4)
        moved, reached = _moved(slices[number], place, shape)
        weight = np.where(reached, weight, 0).astype(np.float32)
        total += weight[..., None] * moved
        weights += weight
    return np.clip(np.round(total / weights[..., None]), 0, 255).astype(np.uint8)


def _moved(srgb: Bytes, place: Place, shape: tuple[int, int]) -> tuple[Floats, Floats]:
    """A slice in the common frame, and 1 where it reaches."""
    way = place.back()
    if abs(way.turn - 1) < 1e-12 and abs(way.shift) < 1e-9:
        return srgb.astype(np.float32), np.ones(shape, np.float32)
    a, b = way.turn.real, way.turn.imag
    matrix = AffineTransform(np.array([[a, -b, way.shift.real], [b, a, way.shift.imag], [0, 0, 1]]))
    moved = warp(srgb.astype(np.float32), matrix, order=3, mode="edge", preserve_range=True)
    rows, cols = np.ogrid[0 : shape[0], 0 : shape[1]]
    seen = way.of(cols + 1j * rows)
    inside = (seen.real >= -0.5) & (seen.imag >= -0.5) & (seen.real <= shape[1] - 0.5) & (seen.imag <= shape[0] - 0.5)
    return np.asarray(moved, np.float32), inside.astype(np.float32)


def _enlarged(grid: Floats, step: int, shape: tuple[int, int]) -> Floats:
    """A grid of `step` px on every pixel of `shape`."""
    start = (0.5 / step) - 0.5
    found = ndimage.affine_transform(grid, [1 / step, 1 / step], [start, start], shape, order=1, mode="nearest")
    return np.asarray(found, np.float32)
