"""Layer lines of an outer surface: which way they run, how far apart they lie, how much of them was worn away.

Layer lines leave slopes across them and hardly any along them, and that is what they are known by. Their period is the
strongest one of the profiles across them, not the first repeat: where every second line is a little brighter, the
repeat at twice the period is the clearer one, while most of the power stays at the lines' own period.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from analysis.common.smooth import gauss

Grey = NDArray[np.float32]

STEP = 4  # array pixels per place of the maps of slopes
STEEPEST = 0.05  # slopes of log brightness are cut here, so that glints and hairs don't outweigh the surface
_LINE_SIGMA, _LIGHT_SIGMA = 1.5, 12.0  # array px: finer is noise, coarser is light and shape
_LEAST_LINES = 0.3  # how much the slopes must agree on one direction for the layer lines to be trusted
_TURNS_DEG = np.arange(-6.0, 6.01, 0.5)  # tried around the direction that the slopes give
_EVERY = 3  # rows and columns left out while directions are tried
_BANDS = 7  # bands along the lines whose powers are averaged: over one of them even bowed lines are straight
_COARSEST_MM = 1.0  # longest period looked for
_FEWEST_LINES = 6  # in the picture, to speak of a period
_FINER = 8  # frequencies between those that the profile's length gives
_CLEAR = 0.33  # least share of the profiles' power at the period: layer lines have 0.38 on, lines at random up to 0.34
# Judgement: with so much of its power at twice the period, that is the lines' own, and the strongest its overtone. Of
# every second line brighter, real surfaces had up to 0.29; of two edges a line, a rendered one had 0.68.
_OVERTONE = 0.5


@dataclass(frozen=True)
class Slopes:
    """Products of slopes on the coarse grid: `xx`, `yy`, `xy` float32 (rows, cols)."""

    xx: Grey
    yy: Grey
    xy: Grey

    def gathered(self, sigma: float) -> Slopes:
        """Smoothed by a Gaussian of `sigma` places."""
        return Slopes(*(gauss(part, sigma) for part in (self.xx, self.yy, self.xy)))

    def along(self, deg: float) -> Grey:
        """Mean squared slope in the direction given."""
        c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
        return np.asarray(self.xx * c * c + self.yy * s * s + 2.0 * self.xy * c * s, dtype=np.float32)


@dataclass(frozen=True)
class LayerLines:
    """Direction and period of the lines, and how much slope there is along them.

    `deg` from +x, clockwise on the photo, modulo 180; `slopes_deg` is what single places say of it, which light and
    scratches turn by a few degrees, and along which their slopes are least. `period_px` array pixels across the lines;
    None where no period stands out. `slopes_along_to_across` mean squared slope along the lines over that across them:
    0 for lines drawn with a ruler, 1 where the surface is as rough along as across. Rubbing flattens the lines and
    scratches, so it rises; but noise, light and the filament's own texture raise it too, so only photos of one surface,
    taken alike, compare: among rendered surfaces, unrubbed ones had 0.05 to 0.18, among gel pictures worn ones 0.11 to
    0.15. So whether a surface is worn all over can't be told from one photo.
    """

    deg: float
    slopes_deg: float
    period_px: float | None
    slopes_along_to_across: float


def slopes_of(grey: Grey) -> Slopes:
    """Slopes of log brightness `grey` (rows, cols) at the layer lines' scale, `STEP` array pixels a place."""
    lines = gauss(grey, _LINE_SIGMA) - gauss(grey, _LIGHT_SIGMA)
    x, y = (np.clip(ndimage.sobel(lines, axis) / np.float32(8.0), -STEEPEST, STEEPEST) for axis in (1, 0))
    half = STEP // 2
    return Slopes(*(ndimage.uniform_filter(part, STEP)[half::STEP, half::STEP] for part in (x * x, y * y, x * y)))


def find_layer_lines(grey: Grey, slopes: Slopes, um_per_pixel: float) -> LayerLines | None:
    """Find the layer lines; None where the slopes agree on no direction.

    Parameters
    ----------
    grey : float32 (rows, cols)
        Log brightness.
    slopes : Slopes
        Of the same picture, from `slopes_of`.
    um_per_pixel : float
        Of `grey`.
    """
    slopes_deg, agreement = line_direction(slopes)
    if agreement < _LEAST_LINES:
        return None
    lines = grey - gauss(grey, _COARSEST_MM * 1000.0 / um_per_pixel / 2.0)
    deg = _turned(lines, slopes_deg)
    along, across = (float(slopes.along(way).mean()) for way in (deg, deg + 90.0))
    period_px = _period(lines, deg, _COARSEST_MM * 1000.0 / um_per_pixel)
    return LayerLines(deg, slopes_deg, period_px, along / max(across, 1e-12))


def line_direction(slopes: Slopes) -> tuple[float, float]:
    """Direction of the lines in degrees, and how far all slopes agree on it, 0 to 1 (coherence)."""
    xx, yy, xy = (float(np.median(part)) for part in (slopes.xx, slopes.yy, slopes.xy))
    across = 0.5 * np.degrees(np.arctan2(2.0 * xy, xx - yy))
    agreement = float(np.hypot(xx - yy, 2.0 * xy) / max(xx + yy, 1e-12))
    return float((across + 90.0) % 180.0), agreement


def _turned(lines: Grey, deg: float) -> float:
    """The direction near `deg` along which averaging leaves most of the lines, to a fraction of the step tried."""
    few = lines[::_EVERY, ::_EVERY]
    left = np.array([_left_after_averaging(few, deg + turn) for turn in _TURNS_DEG])
    best = int(np.clip(np.argmax(left), 1, len(left) - 2))
    before, here, after = left[best - 1 : best + 2]
    bend = before - 2.0 * here + after
    shift = float(np.clip(0.5 * (before - after) / bend, -1.0, 1.0)) if bend < 0 else 0.0
    return float((deg + _TURNS_DEG[best] + shift * (_TURNS_DEG[1] - _TURNS_DEG[0])) % 180.0)


def _left_after_averaging(few: Grey, deg: float) -> float:
    """Power of the profile that is left when a picture, each `_EVERY`th pixel, is averaged along a direction."""
    y, x = np.ogrid[: few.shape[0], : few.shape[1]]
    # one bin a pixel of the whole picture: the lines must not fold over where pixels are left out
    place = np.round(_EVERY * (y * np.cos(np.radians(deg)) - x * np.sin(np.radians(deg)))).astype(np.intp)
    place = (place - place.min()).ravel()
    number = np.bincount(place)
    return float((np.bincount(place, few.ravel()) ** 2 / np.maximum(number, 1)).sum())


def _period(lines: Grey, deg: float, longest_px: float) -> float | None:
    """Period across the lines in pixels: the strongest frequency of the profiles; None where none stands out."""
    y, x = np.ogrid[: lines.shape[0], : lines.shape[1]]
    c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
    across = np.round(y * c - x * s).astype(np.intp)
    across -= across.min()
    along = x * c + y * s
    band = np.floor((along - along.min()) / (np.ptp(along) + 1e-6) * _BANDS).astype(np.intp)
    length = int(across.max()) + 1
    at = (band * length + across).ravel()
    number = np.bincount(at, minlength=_BANDS * length).reshape(_BANDS, length)
    total = np.bincount(at, lines.ravel(), _BANDS * length).astype(np.float64).reshape(_BANDS, length)
    powers = [_power(t, n) for t, n in zip(total, number, strict=True) if (n > 0).sum() > length // 3]
    frequency = np.fft.rfftfreq(_FINER * length)
    looked = (frequency > max(1.0 / longest_px, _FEWEST_LINES / length)) & (frequency < 0.4)
    if not powers or not looked.any():
        return None
    seen = np.where(looked, np.sum(powers, axis=0), 0.0)
    best, width = int(np.argmax(seen)), round(2.5 * _FINER)
    if _near(seen, best, width) < _CLEAR * seen.sum():
        return None
    half = round(best / 2)
    if _near(seen, half, width) > _OVERTONE * _near(seen, best, width):
        best = half - width + int(np.argmax(seen[half - width : half + width + 1]))
    before, here, after = seen[best - 1 : best + 2]
    bend = before - 2.0 * here + after
    if bend >= 0 or not (before and after):
        return None  # at the end of what was looked for it is no peak
    return float(1.0 / (frequency[best] + 0.5 * (before - after) / bend * frequency[1]))


def _near(power: NDArray[np.float64], place: int, width: int) -> float:
    return float(power[max(place - width, 0) : place + width + 1].sum())


def _power(total: NDArray[np.float64], number: NDArray[np.intp]) -> NDArray[np.float64]:
    """Power by frequency of one band's profile, its ends faded out; weighted by the pixels it rests on."""
    there = np.nonzero(number)[0]
    part = slice(int(there[0]), int(there[-1]) + 1)
    profile = np.interp(np.arange(part.start, part.stop), there, total[there] / number[there])
    profile = (profile - profile.mean()) * np.hanning(len(profile))
    power: NDArray[np.float64] = np.abs(np.fft.rfft(profile, _FINER * len(number))) ** 2
    return power * float(number.sum())
