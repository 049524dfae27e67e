"""Steps of a height map, counted in whole layers, and how well whole layers fit.

Heights of a break along layers lie on planes that are whole layer heights apart, once the piece's tilt is taken off.
The remainder of each height by the layer height is a direction on a circle; where whole steps fit, all directions
agree, and the length of their mean (0 to 1, directional statistics, Mardia and Jupp 2000, from memory) says how well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import optimize

from analysis.fields.place import Floats

_SAMPLES = 3000
_LEAST_FIT = 0.5  # heights that scatter by 0.19 of a layer; below it no level can be told (judgement)
_MOST_TILT = 0.06  # mm per mm, 3.4 degrees: more is seen and mended under the microscope
# layer heights that have no step in common with the one that is asked for
_OTHERS = (0.61, 0.68, 0.73, 0.79, 0.86, 0.89, 1.13, 1.19, 1.29, 1.37, 1.43, 1.57, 1.63)
NO_LEVEL = np.iinfo(np.int32).min


@dataclass(frozen=True)
class Levels:
    """Levels of a height map.

    numbers : int32 (rows, cols), whole layers above the largest level; NO_LEVEL where the height is unknown. None when
        the heights don't lie on whole steps, see `reason`.
    fit : 0 to 1, how well whole layer heights fit; others : the same for other step heights, their middle. On a single
        plane every step height fits, and the two say nothing.
    tilt : height gained per mm to the right and downwards, taken off before.
    scatter_mm : standard deviation of the heights about their levels.
    """

    numbers: npt.NDArray[np.int32] | None
    fit: float
    others: float
    tilt: tuple[float, float]
    scatter_mm: float | None
    reason: str | None

    @property
    def count(self) -> int:
        """How many levels hold a hundredth of the known places each."""
        if self.numbers is None:
            return 0
        found = np.unique(self.numbers[self.numbers != NO_LEVEL], return_counts=True)[1]
        return int((found >= 0.01 * found.sum()).sum())


def levels_of(height_mm: Floats, confidence: Floats, mm_per_px: float, layer_height_mm: float) -> Levels:
    """Count a height map's steps in layers.

    Parameters
    ----------
    height_mm : (rows, cols), NaN where unknown. confidence : the same shape, 0 to 1.
    mm_per_px : of the map's grid.
    layer_height_mm : as sliced.
    """
    known = np.isfinite(height_mm)
    if known.sum() < 50:
        return Levels(None, 0.0, 0.0, (0.0, 0.0), None, "Too little of the height is known.")
    rows, cols = np.nonzero(known)
    pick = np.linspace(0, len(rows) - 1, min(_SAMPLES, len(rows))).astype(int)
    x, y = cols[pick] * mm_per_px, rows[pick] * mm_per_px
    heights, weights = height_mm[known][pick].astype(float), confidence[known][pick].astype(float) + 1e-3
    points = np.stack([x - x.mean(), y - y.mean()])
    tilt = _tilt(points, heights, weights, layer_height_mm)
    flat = heights - tilt @ points
    fit = abs(_mean(flat, weights, layer_height_mm))
    others = float(np.median([abs(_mean(flat, weights, k * layer_height_mm)) for k in _OTHERS]))
    slope = (float(tilt[0]), float(tilt[1]))
    if fit < _LEAST_FIT:
        why = f"The heights scatter too much about steps of {layer_height_mm:g} mm to be counted in layers."
        return Levels(None, fit, others, slope, None, why)
    middle = np.array([x.mean(), y.mean()])
    return _counted(
        height_mm, known, slope, middle, mm_per_px, layer_height_mm, _mean(flat, weights, layer_height_mm), others
    )


def _counted(
    height_mm: Floats,
    known: npt.NDArray[np.bool_],
    tilt: tuple[float, float],
    middle: npt.NDArray[np.float64],
    mm_per_px: float,
    layer_mm: float,
    mean: complex,
    others: float,
) -> Levels:
    rows, cols = np.indices(height_mm.shape)
    flat = height_mm - tilt[0] * (cols * mm_per_px - middle[0]) - tilt[1] * (rows * mm_per_px - middle[1])
    layers = (flat[known] / layer_mm) - np.angle(mean) / (2 * np.pi)
    whole = np.round(layers).astype(np.int64)
    values, counts = np.unique(whole, return_counts=True)
    numbers = np.full(height_mm.shape, NO_LEVEL, np.int32)
    numbers[known] = (whole - values[counts.argmax()]).astype(np.int32)
    return Levels(numbers, abs(mean), others, tilt, float((layers - whole).std() * layer_mm), None)


def _mean(heights: npt.NDArray[np.float64], weights: npt.NDArray[np.float64], step_mm: float) -> complex:
    return complex((weights * np.exp(2j * np.pi * heights / step_mm)).sum() / weights.sum())


def _tilt(
    points: npt.NDArray[np.float64], heights: npt.NDArray[np.float64], weights: npt.NDArray[np.float64], layer_mm: float
) -> npt.NDArray[np.float64]:
    """The tilt under which whole layers fit best: every one that could, by quarter layers over the face, then finer."""
    reach = np.maximum(np.ptp(points, axis=1), 1e-6)
    ways = []
    for length in reach:
        count = int(np.ceil(min(_MOST_TILT * length / (layer_mm / 4), 40)))
        ways.append(np.arange(-count, count + 1) * layer_mm / 4 / length)
    turn = 2j * np.pi / layer_mm
    base = weights * np.exp(turn * heights)
    right = np.exp(-turn * np.outer(ways[0], points[0]))
    down = np.exp(-turn * np.outer(ways[1], points[1]))
    found = np.abs((right * base) @ down.T)
    at = np.unravel_index(found.argmax(), found.shape)
    start = np.array([ways[0][at[0]], ways[1][at[1]]])
    first_steps = start + np.vstack([np.zeros(2), np.diag(0.1 * layer_mm / reach)])
    better = optimize.minimize(
        lambda tilt: -abs(_mean(heights - tilt @ points, weights, layer_mm)),
        start,
        method="Nelder-Mead",
        options={"initial_simplex": first_steps},
    )
    return np.asarray(better.x)


def levels_of_planes(numbers: npt.NDArray[np.int32], levels: Levels) -> dict[int, tuple[int, float]]:
    """For each plane (`numbers`, 1 upward, on the levels' grid): its level, and the share of its places there.

    Planes of which less than a fifth is known are left out.
    """
    found: dict[int, tuple[int, float]] = {}
    if levels.numbers is None:
        return found
    for number in range(1, int(numbers.max(initial=0)) + 1):
        region = levels.numbers[numbers == number]
        known = region[region != NO_LEVEL]
        if len(region) == 0 or len(known) < 0.2 * len(region):
            continue
        values, counts = np.unique(known, return_counts=True)
        found[number] = (int(values[counts.argmax()]), float(counts.max() / len(known)))
    return found
