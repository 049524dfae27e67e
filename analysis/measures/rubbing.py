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
from analysis.imaging.photo import Photo
from analysis.imaging.scale import Scale

Grey = NDArray[np.float32]

_STEP = 4  # array pixels per place of the maps
_LINE_SIGMA, _LIGHT_SIGMA = 1.5, 12.0  # array px: finer is noise, coarser is light and shape
_STEEPEST = 0.05  # slopes of log brightness are cut here, so that glints and hairs don't outweigh the surface
_LOOK_MM = 0.3  # radius over which a place's slopes are gathered: several layer lines
_RISE = 0.45  # log share from which a place may be rubbed
_NECK_MM = 0.35  # bridges thinner than twice this don't join two patches
_LEAST_MM2 = 2.5  # smaller rises are found on unrubbed surfaces too (dents, specks, grease), so they can't be told
_FLATTENED = -0.05  # log change of the slopes across the lines: a rubbed patch's lines are lower than beside it
_SCRATCHED = (0.05, 1.1)  # log change of the slopes along them: more than beside it, but less than at a rim of grease
_BIN_DEG = 2.0
_HARMONIC = 0.3  # share of the highest repeat that an earlier one must have: every second line may be brighter
_REPEAT = 0.15  # least autocorrelation of the layer lines at their period
_COMPACT = 0.7  # least share of its convex hull that a patch fills; rims of grease are rings and crescents
_LEAST_LINES = 0.3  # how much the slopes must agree on one direction for the layer lines to be trusted


@dataclass(frozen=True)
class RubMeasure:
    """What was measured on an outer surface; None with a reason where it can't be told.

    `rub_area_mm2` 0.0 means looked for and not found. Directions in degrees from +x, clockwise on the photo,
    modulo 180.
    `patch_outline_px` in px of the original photo; `mask` bool (rows, cols) of the photo's array.
    """

    rub_area_mm2: float | None
    scratch_deg: float | None
    layer_line_deg: float | None
    layer_line_period_mm: float | None
    patch_outline_px: Points | None
    mask: NDArray[np.bool_]
    reasons: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class _Slopes:
    """Products of slopes on the coarse grid: `xx`, `yy`, `xy` float32 (rows, cols)."""

    xx: Grey
    yy: Grey
    xy: Grey

    def gathered(self, sigma: float) -> _Slopes:
        return _Slopes(*(ndimage.gaussian_filter(part, sigma) for part in (self.xx, self.yy, self.xy)))

    def along(self, deg: float) -> Grey:
        """Mean squared slope in the direction given."""
        c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
        return np.asarray(self.xx * c * c + self.yy * s * s + 2.0 * self.xy * c * s, dtype=np.float32)


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
        `rub_area_mm2` None where no layer lines were found to compare with.
    """
    um_per_pixel = scale.um_per_px * photo.px_per_pixel
    grey = np.log(photo.srgb.astype(np.float32).mean(axis=2) + np.float32(12.0))
    slopes = _slopes(grey)
    line_deg, agreement = _line_direction(slopes)
    empty = np.zeros(photo.srgb.shape[:2], dtype=bool)
    if agreement < _LEAST_LINES:
        why = "no layer lines were found that a rubbed patch could be told from"
        names = ("rub_area_mm2", "scratch_deg", "layer_line_deg", "layer_line_period_mm")
        return RubMeasure(None, None, None, None, None, empty, dict.fromkeys(names, why))
    near = slopes.gathered(_LOOK_MM * 1000.0 / um_per_pixel / _STEP)
    raised, lines = (np.log(near.along(deg) + 1e-9) for deg in (line_deg, line_deg + 90.0))
    along, across = (_without_bands(part, line_deg) for part in (raised, lines))
    patch = _patch(along, across, um_per_pixel * _STEP / 1000.0)
    period_mm = _line_period(grey, line_deg, um_per_pixel)
    reasons = {} if period_mm is not None else {"layer_line_period_mm": "the layer lines have no clear period"}
    if patch is None:
        reasons["scratch_deg"] = "no rubbed patch was found"
        return RubMeasure(0.0, None, line_deg, period_mm, None, empty, reasons)
    scratch_deg = _scratch_direction(grey, patch, line_deg)
    ring = max(measure.find_contours(np.pad(patch, 1).astype(float), 0.5), key=len)[:-1, ::-1] - 1.0
    ring_px = ((ring + 0.5) * _STEP) * photo.px_per_pixel - 0.5
    area_mm2 = float(patch.sum()) * (um_per_pixel * _STEP / 1000.0) ** 2
    if scratch_deg is None:
        reasons["scratch_deg"] = "no direction stands out in the rubbed patch"
    mask = _full_size(patch, photo.srgb.shape)
    return RubMeasure(area_mm2, scratch_deg, line_deg, period_mm, ring_px, mask, reasons)


def _full_size(patch: NDArray[np.bool_], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    full = patch.repeat(_STEP, axis=0).repeat(_STEP, axis=1)[: shape[0], : shape[1]]
    return np.pad(full, ((0, shape[0] - full.shape[0]), (0, shape[1] - full.shape[1])))


def _slopes(grey: Grey) -> _Slopes:
    lines = ndimage.gaussian_filter(grey, _LINE_SIGMA) - ndimage.gaussian_filter(grey, _LIGHT_SIGMA)
    x, y = (np.clip(ndimage.sobel(lines, axis) / np.float32(8.0), -_STEEPEST, _STEEPEST) for axis in (1, 0))
    half = _STEP // 2
    return _Slopes(*(ndimage.uniform_filter(part, _STEP)[half::_STEP, half::_STEP] for part in (x * x, y * y, x * y)))


def _line_direction(slopes: _Slopes) -> tuple[float, float]:
    """Direction of the layer lines in degrees, and how far all slopes agree on it, 0 to 1 (coherence)."""
    xx, yy, xy = (float(np.median(part)) for part in (slopes.xx, slopes.yy, slopes.xy))
    across = 0.5 * np.degrees(np.arctan2(2.0 * xy, xx - yy))
    agreement = float(np.hypot(xx - yy, 2.0 * xy) / max(xx + yy, 1e-12))
    return float((across + 90.0) % 180.0), agreement


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
    fine = ndimage.gaussian_filter(cut, 1.2) - ndimage.gaussian_filter(cut, 6.0)
    x, y = ndimage.sobel(fine, 1) / np.float32(8.0), ndimage.sobel(fine, 0) / np.float32(8.0)
    inside = _full_size(patch, grey.shape)[rows, cols]
    weight = np.minimum(x * x + y * y, np.float32(_STEEPEST**2))
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
    return max(0, int(places[0] - reach // 2) * _STEP), min(size, int(places[-1] + 1 + reach // 2) * _STEP)


def _line_period(grey: Grey, line_deg: float, um_per_pixel: float) -> float | None:
    """Period across the lines in mm: the first strong repeat of the profiles across them; None where there is none.

    Each profile is the mean of a band along the lines, so that scratches average out; the repeat is the first peak of
    the autocorrelation, not its highest, which may be a multiple.
    """
    y, x = np.indices(grey.shape, dtype=np.float32)[:, ::2, ::2]
    angle = np.radians(line_deg)
    along, across = x * np.cos(angle) + y * np.sin(angle), y * np.cos(angle) - x * np.sin(angle)
    keep = np.abs(along - np.median(along)) < 0.06 * max(grey.shape)
    place = np.round(across[keep] - across[keep].min()).astype(np.intp)
    number = np.bincount(place)
    profile = np.bincount(place, grey[::2, ::2][keep]) / np.maximum(number, 1)
    profile = np.interp(np.arange(len(number)), np.nonzero(number)[0], profile[number > 0])
    profile = profile - ndimage.gaussian_filter1d(profile, 1000.0 / um_per_pixel / 3.0)
    power = np.abs(np.fft.rfft(profile * np.hanning(len(profile)), 2 * len(profile))) ** 2
    repeat = np.fft.irfft(power)[: len(profile) // 3]
    repeat = ndimage.gaussian_filter1d(repeat / repeat[0], 1.0)
    peaks = np.nonzero((repeat[1:-1] > repeat[:-2]) & (repeat[1:-1] >= repeat[2:]) & (repeat[1:-1] > _REPEAT))[0] + 1
    if len(peaks) == 0 or repeat.size < 4:
        return None
    first = int(peaks[repeat[peaks] > _HARMONIC * repeat[peaks].max()][0])
    before, here, after = repeat[first - 1 : first + 2]
    bend = before - 2.0 * here + after
    return float((first + (0.5 * (before - after) / bend if bend < 0 else 0.0)) * um_per_pixel / 1000.0)
