"""What a face shows that its other half shows too: light, colour, roughness and edges, freed of light and walls.

Torn polymer is whitened and rough on both halves at the mirrored place, cliffs between layers run along the same lines,
and where a road is missing here the road above shows no tear there. What says nothing about the pair is taken out: the
light by a running mean over the face, the walls that every face of this outline has by the mean at each depth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from analysis.common.smooth import block_mean, gauss
from analysis.roads.workview import FINE, Bools, Floats, Workview

COARSE = 2  # working px per cue px: six cue px to a road
_SMOOTH, _AROUND = 0.25, 2.0  # road widths
_CLIP = 2.5
_ZONES_ROADS = (1.9, 3.5)  # rim, middle and core; sparse fillings of the two halves cross and may disagree in the core
# Judgement after looking at a dozen rendered pairs: bright specks and lost colour are whitening and hold in every
# zone, light and dark lines are often the filling's own.
PLANE_WEIGHTS = np.array([0.5, 1.0, 0.7, 0.5, 1.0])
_SHIFTS = 12  # on each ring of wrong places
_PATCH_ROADS = 0.6  # cue px this near say the same thing twice (judgement)


@dataclass(frozen=True)
class Cues:
    """Cues of one half on a grid of `COARSE` working px.

    planes : (rows, cols, 5) light, colour kept, roughness, dark lines, bright specks; mean 0, sd near 1 on the face.
    weight : (rows, cols) 0 off the face, growing to 1 a road inside it. zone : (rows, cols) 0 rim, 1 middle, 2 core.
    """

    planes: Floats
    weight: Floats
    zone: NDArray[np.int_]
    view: Workview

    def to_photo(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Cue (x, y) to photo px."""
        return self.view.to_photo((points + 0.5) * COARSE - 0.5)

    def from_photo(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Photo px to cue (x, y)."""
        return (self.view.from_photo(points) + 0.5) / COARSE - 0.5


def read_cues(view: Workview) -> Cues:
    """Cues of one half from its working view."""
    light = np.log(np.maximum(view.linear.mean(-1), 0) + 0.01)
    most = view.linear.max(-1)
    colour = (most - view.linear.min(-1)) / (most + 0.02)
    fine = np.log(np.maximum(view.fine, 0) + 0.01)
    rough = _pool((fine - gauss(fine, 1.5)) ** 2, FINE)
    wide = 2 * int(0.19 * view.road_px * FINE) + 1
    dark = ndimage.grey_closing(fine, size=(wide, wide)) - fine
    bright = fine - ndimage.grey_opening(fine, size=(wide, wide))
    planes = [_pool(light, COARSE), _pool(colour, COARSE), _pool(np.log(rough + 1e-6), COARSE)]
    planes += [_pool(dark, COARSE * FINE), _pool(bright, COARSE * FINE)]
    inside = _pool(view.inside.astype(np.float32), COARSE) > 0.99
    road = view.road_px / COARSE
    depth = ndimage.distance_transform_edt(np.pad(inside, 1))[1:-1, 1:-1] / road
    weight = (np.clip(depth, 0, 1) * inside).astype(np.float32)
    levelled = np.stack([_levelled(plane, weight, depth, road) for plane in planes], -1)
    return Cues(levelled, weight, np.digitize(depth, _ZONES_ROADS), view)


def agreement(cues: Cues, mate: Cues, affine: NDArray[np.float64], stride: int = 1) -> float:
    """How far the two faces agree when `affine` (2x3, photo px to the mate's photo px) lays one on the other.

    Returns
    -------
    float
        The correlation of each cue in each zone, its Fisher z over the number of patches that can differ, added up:
        near 0 for two faces that have nothing to do with each other, more the better they agree. Cues overlap in what
        they say, so it is no number of standard errors yet; see `beyond_chance`. 0.0 where the two don't overlap.
    """
    rows, cols = np.nonzero(cues.weight[::stride, ::stride] > 0)
    rows, cols = rows * stride, cols * stride
    photo_px = cues.to_photo(np.column_stack([cols, rows]).astype(float))
    c, r = np.round(mate.from_photo(photo_px @ affine[:, :2].T + affine[:, 2])).astype(int).T
    kept = (r >= 0) & (c >= 0) & (r < mate.weight.shape[0]) & (c < mate.weight.shape[1])
    rows, cols, r, c = rows[kept], cols[kept], r[kept], c[kept]
    weight = cues.weight[rows, cols] * mate.weight[r, c]
    here, there, zone = cues.planes[rows, cols], mate.planes[r, c], cues.zone[rows, cols]
    patch = (_PATCH_ROADS * cues.view.road_px / COARSE / stride) ** 2
    total, squares = 0.0, 0.0
    for k in range(len(_ZONES_ROADS) + 1):
        of = zone == k
        patches = float(weight[of].sum()) / patch
        if patches < 10:
            continue
        r_of = _correlations(here[of], there[of], weight[of])
        worth = np.sqrt(patches) * PLANE_WEIGHTS
        total += float((np.arctanh(np.clip(r_of, -0.99, 0.99)) * np.sqrt(patches - 3) * worth).sum())
        squares += float((worth**2).sum())
    return total / np.sqrt(squares) if squares > 0 else 0.0


def beyond_chance(cues: Cues, mate: Cues, affine: NDArray[np.float64]) -> float:
    """`agreement` in standard errors, as these very faces show them when they are laid on each other wrongly.

    The errors are the root mean square over two rings of shifts by two and by three and a half roads: far enough that
    nothing true is left, near enough that walls and filling still lie alike.
    """
    road_px = mate.view.road_px * mate.view.step
    shown = []
    for away, first in ((2.0, 0.0), (3.5, np.pi / _SHIFTS)):
        for angle in first + np.arange(_SHIFTS) * 2 * np.pi / _SHIFTS:
            shifted = affine.copy()
            shifted[:, 2] += away * road_px * np.array([np.cos(angle), np.sin(angle)])
            shown.append(agreement(cues, mate, shifted, stride=2))
    return agreement(cues, mate, affine) / max(float(np.sqrt(np.mean(np.square(shown)))), 1.0)


def _correlations(here: Floats, there: Floats, weight: Floats) -> Floats:
    w = weight[:, None] / weight.sum()
    here = here - (w * here).sum(0)
    there = there - (w * there).sum(0)
    spread = np.sqrt((w * here**2).sum(0) * (w * there**2).sum(0))
    return np.asarray((w * here * there).sum(0) / np.maximum(spread, 1e-6))


def _levelled(plane: Floats, weight: Floats, depth: Floats, road: float) -> Floats:
    inside = weight > 0
    plane = np.where(inside, plane, 0).astype(np.float32)
    plane = _inside_mean(plane, weight, _SMOOTH * road) - _inside_mean(plane, weight, _AROUND * road)
    plane = _standard(plane, inside)
    ring = np.minimum((depth * 4).astype(int), 40)[inside]
    mean = np.bincount(ring, plane[inside], minlength=41) / np.maximum(np.bincount(ring, minlength=41), 1)
    out = np.zeros_like(plane)
    out[inside] = plane[inside] - mean[ring]
    return _standard(out, inside)


def _standard(plane: Floats, inside: Bools) -> Floats:
    values = plane[inside]
    if values.size == 0:
        return plane
    middle = np.median(values)
    spread = max(1.4826 * float(np.median(np.abs(values - middle))), 0.3 * float(values.std()), 1e-6)
    return np.asarray(np.clip((plane - middle) / spread, -_CLIP, _CLIP) * inside, np.float32)


def _inside_mean(values: Floats, weight: Floats, sigma_px: float) -> Floats:
    total = gauss(weight, sigma_px, truncate=2.5)
    return np.asarray(gauss(values * weight, sigma_px, truncate=2.5) / np.maximum(total, 1e-3))


def _pool(plane: Floats, by: int) -> Floats:
    return block_mean(plane, by)
