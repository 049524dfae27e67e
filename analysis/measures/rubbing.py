"""Outer surfaces: the patch that something rubbed flat, and the way it was rubbed.

Layer lines leave slopes across them and hardly any along them. Rubbing flattens the lines and scratches across the
surface, so the share of slope along the lines rises in the patch. Light on a curved side changes that share too, but in
bands square to the lines, which are taken off. A patch that fills most of such a band, or that grease adjoins, is
measured wrongly or missed; the limits below were set on 18 rendered surfaces and on no real ones.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage import measure, morphology

from analysis.common.polygons import Points
from analysis.common.smooth import gauss
from analysis.imaging.photo import Photo
from analysis.imaging.scale import Scale
from analysis.measures.layer_lines import STEEPEST, STEP, find_layer_lines, slopes_of

Grey = NDArray[np.float32]

_LOOK_MM = 0.3  # radius over which a place's slopes are gathered: several layer lines
_RISE = 0.45  # log share from which a place may be rubbed
_NECK_MM = 0.35  # bridges thinner than twice this don't join two patches
_LEAST_MM2 = 2.5  # smaller rises are found on unrubbed surfaces too (dents, specks, grease), so they can't be told
_FLATTENED = -0.05  # log change of the slopes across the lines: a rubbed patch's lines are lower than beside it
_SCRATCHED = (0.05, 1.1)  # log change of the slopes along them: more than beside it, but less than at a rim of grease
_BIN_DEG = 2.0
_COMPACT = 0.7  # least share of its convex hull that a patch fills; rims of grease are rings and crescents
# Judgement: with more slope along the lines than this, no patch doesn't mean unrubbed, as all of it may be worn. Six
# rendered surfaces that nothing rubbed had 0.05 to 0.18, real ones worn all over 0.10 to 0.15: below it, it's open.
_ALL_OVER = 0.25
_NAMES = ("rub_area_mm2", "scratch_deg", "layer_line_deg", "layer_line_period_mm", "slopes_along_to_across")


@dataclass(frozen=True)
class RubMeasure:
    """What was measured on an outer surface; None with a reason where it can't be told.

    `rub_area_mm2` 0.0 means that no patch differs from what lies around it; a surface worn evenly all over shows none,
    so it is None where the lines look worn everywhere.
    `slopes_along_to_across`: see `LayerLines`. Directions in degrees from +x, clockwise on the photo, modulo 180.
    `patch_outline_px` in px of the original photo; `mask` bool (rows, cols) of the photo's array.
    """

    rub_area_mm2: float | None
    scratch_deg: float | None
    layer_line_deg: float | None
    layer_line_period_mm: float | None
    patch_outline_px: Points | None
    mask: NDArray[np.bool_]
    reasons: dict[str, str] = field(default_factory=dict)
    slopes_along_to_across: float | None = None


def measure_rub(photo: Photo, scale: Scale) -> RubMeasure:
    """Measure the rubbed patch of an outer surface.

    Parameters
    ----------
    photo : Photo
        An outer surface that fills most of the picture, layer lines visible.
    scale : Scale
        Of the original photo.

    Returns
    -------
    RubMeasure
        `rub_area_mm2` None where no layer lines were found to compare with, or all of them look worn alike.
    """
    um_per_pixel = scale.um_per_px * photo.px_per_pixel
    grey = np.log(photo.srgb.astype(np.float32).mean(axis=2) + np.float32(12.0))
    slopes = slopes_of(grey)
    found = find_layer_lines(grey, slopes, um_per_pixel)
    empty = np.zeros(photo.srgb.shape[:2], dtype=bool)
    if found is None:
        why = "no layer lines were found that a rubbed patch could be told from"
        return RubMeasure(None, None, None, None, None, empty, dict.fromkeys(_NAMES, why))
    near = slopes.gathered(_LOOK_MM * 1000.0 / um_per_pixel / STEP)
    raised, lines = (np.log(near.along(found.slopes_deg + turn) + 1e-9) for turn in (0.0, 90.0))
    along, across = (_without_bands(part, found.slopes_deg) for part in (raised, lines))
    patch = _patch(along, across, um_per_pixel * STEP / 1000.0)
    wear = found.slopes_along_to_across
    period_mm = None if found.period_px is None else found.period_px * um_per_pixel / 1000.0
    reasons = {} if period_mm is not None else {"layer_line_period_mm": "the layer lines have no clear period"}
    if patch is None:
        reasons["scratch_deg"] = "no rubbed patch was found"
        if wear > _ALL_OVER:
            reasons["rub_area_mm2"] = (
                "no patch stands out, but there is as much slope along the layer lines as on a surface worn all over: "
                "compare it with a piece that wasn't rubbed, photographed alike"
            )
        return RubMeasure(None if wear > _ALL_OVER else 0.0, None, found.deg, period_mm, None, empty, reasons, wear)
    scratch_deg = _scratch_direction(grey, patch, found.deg)
    ring = max(measure.find_contours(np.pad(patch, 1).astype(float), 0.5), key=len)[:-1, ::-1] - 1.0
    ring_px = ((ring + 0.5) * STEP) * photo.px_per_pixel - 0.5
    area_mm2 = float(patch.sum()) * (um_per_pixel * STEP / 1000.0) ** 2
    if scratch_deg is None:
        reasons["scratch_deg"] = "no direction stands out in the rubbed patch"
    mask = _full_size(patch, photo.srgb.shape)
    return RubMeasure(area_mm2, scratch_deg, found.deg, period_mm, ring_px, mask, reasons, wear)


def _full_size(patch: NDArray[np.bool_], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    full = patch.repeat(STEP, axis=0).repeat(STEP, axis=1)[: shape[0], : shape[1]]
    return np.pad(full, ((0, shape[0] - full.shape[0]), (0, shape[1] - full.shape[1])))


def _without_bands(rise: Grey, line_deg: float) -> Grey:
    """Take the median off each band square to the lines, one coarse pixel wide."""
    y, x = np.indices(rise.shape)
    place = np.round(x * np.cos(np.radians(line_deg)) + y * np.sin(np.radians(line_deg))).astype(np.intp)
    place -= place.min()
    order = np.argsort(place.ravel(), kind="stable")
    parts = np.split(rise.ravel()[order], np.cumsum(np.bincount(place.ravel()))[:-1])
    usual = np.array([np.median(part) if len(part) else 0.0 for part in parts])
    return np.asarray(rise - ndimage.gaussian_filter1d(usual, 2.0)[place], dtype=np.float32)


def _patch(along: Grey, across: Grey, mm_per_place: float) -> NDArray[np.bool_] | None:
    """The patch on the coarse grid: compact, off the border, lines lower and more slope along them than beside it."""
    rise = along - across
    solid = morphology.isotropic_opening(rise > _RISE, _NECK_MM / mm_per_place)
    labels, _ = ndimage.label(ndimage.binary_fill_holes(solid))
    best, best_total = None, 0.0
    for region in measure.regionprops(labels):
        inside = labels == region.label
        row0, col0, row1, col1 = region.bbox
        off_border = min(row0, col0, rise.shape[0] - row1, rise.shape[1] - col1) > 2
        large = region.area * mm_per_place**2 >= _LEAST_MM2 and region.solidity >= _COMPACT
        if not (off_border and large) or np.median(across[inside]) > _FLATTENED:
            continue
        if not _SCRATCHED[0] < np.median(along[inside]) < _SCRATCHED[1]:
            continue
        total = float(rise[inside].sum())
        if total > best_total:
            best, best_total = inside, total
    if best is None:
        return None
    # gathering blurs the patch's rim; it lies where the rise has fallen to half
    half = best & (rise > 0.5 * np.median(rise[best]))
    labels, count = ndimage.label(ndimage.binary_fill_holes(half))
    return np.asarray(labels == 1 + int(np.argmax(np.bincount(labels.ravel())[1:]))) if count else best


def _scratch_direction(grey: Grey, patch: NDArray[np.bool_], line_deg: float) -> float | None:
    """Direction of the scratches: the commonest direction of fine slopes in the patch beyond those found beside it.

    Slopes are counted by direction, weighted by their square; what the same directions hold beside the patch, scaled to
    the layer lines' own share, is taken off. None where nothing is left.
    """
    rows = slice(*_span(np.asarray(patch.any(axis=1)), grey.shape[0]))
    cols = slice(*_span(np.asarray(patch.any(axis=0)), grey.shape[1]))
    cut = grey[rows, cols]
    fine = gauss(cut, 1.2) - gauss(cut, 6.0)
    x, y = ndimage.sobel(fine, 1) / np.float32(8.0), ndimage.sobel(fine, 0) / np.float32(8.0)
    inside = _full_size(patch, grey.shape)[rows, cols]
    weight = np.minimum(x * x + y * y, np.float32(STEEPEST**2))
    bins = np.floor((np.degrees(np.arctan2(y, x)) + 90.0 - line_deg) % 180.0 / _BIN_DEG).astype(np.intp)
    count = round(180.0 / _BIN_DEG)
    here, beside = (np.bincount(bins[w] % count, weight[w], count) / max(w.sum(), 1) for w in (inside, ~inside))
    here, beside = (ndimage.gaussian_filter1d(part, 5.0 / _BIN_DEG, mode="wrap") for part in (here, beside))
    # slopes across the lines fall on bin 0: scaled there, the lines vanish and the scratches stay
    left = here - beside * (here[0] / max(beside[0], 1e-12))
    best = int(np.argmax(left))
    if left[best] <= 0.0:
        return None
    before, after = left[best - 1], left[(best + 1) % count]
    bend = before - 2.0 * left[best] + after
    shift = 0.5 * (before - after) / bend if bend < 0 else 0.0
    return float((line_deg + (best + 0.5 + shift) * _BIN_DEG) % 180.0)


def _span(used: NDArray[np.bool_], size: int) -> tuple[int, int]:
    """First and last array pixel of the coarse places used, with as much again on each side for comparison."""
    places = np.nonzero(used)[0]
    reach = places[-1] - places[0] + 1
    return max(0, int(places[0] - reach // 2) * STEP), min(size, int(places[-1] + 1 + reach // 2) * STEP)
