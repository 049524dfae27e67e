"""Two halves show one weld. Their two readings become one map, and one number that is surer than either."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from analysis.measures.intervals import Z90
from analysis.roads.workview import Bools, Floats, Workview

# Both halves are read by one reader, so part of what it gets wrong it gets wrong twice (judgement).
SHARED_ERROR = 0.5
_SMALLEST_SD = 1e-4


@dataclass(frozen=True)
class JointValue:
    """One share from two readings of it. `half_width` is that of the 90 % interval.

    disagreement : difference of the two readings in standard deviations of that difference; above 1 they disagree by
    more than their own intervals expect, and the joint interval is widened by as much.
    """

    value: float
    half_width: float
    disagreement: float


@dataclass(frozen=True)
class JointMap:
    """Both readings on this face's working grid.

    bonded : (rows, cols) probability, 0 where unknown. known : told by at least one half. both : told by both.
    correlation : of the two readings where both tell, -1 to 1; near 0 says that one of them, or the fit, is wrong.
    None where too little can be compared or one of the readings is flat.
    """

    bonded: Floats
    known: Bools
    both: Bools
    correlation: float | None


def joint_value(
    value: float, half_width: float, value_mate: float, half_width_mate: float, shared_error: float = SHARED_ERROR
) -> JointValue:
    """Best value of two correlated readings of one share, each with the half width of its 90 % interval.

    Least-variance mean of two values with correlation `shared_error` (no weight below 0), so for two alike the
    variance falls to (1 + r)/2 of either's. Where they differ by more than their intervals expect the interval grows
    by the Birge ratio (R. T. Birge, Phys. Rev. 40, 207, 1932, from memory).
    """
    if not 0 <= shared_error < 1:
        raise ValueError(f"shared_error must be 0 or more and below 1, not {shared_error}")
    first, second = (max(half / Z90, _SMALLEST_SD) for half in (half_width, half_width_mate))
    common = shared_error * first * second
    apart = first**2 + second**2 - 2 * common
    weight = float(np.clip((second**2 - common) / apart, 0, 1))
    variance = (weight * first) ** 2 + ((1 - weight) * second) ** 2 + 2 * weight * (1 - weight) * common
    disagreement = abs(value - value_mate) / float(np.sqrt(apart))
    half = Z90 * float(np.sqrt(variance)) * max(1.0, disagreement)
    return JointValue(weight * value + (1 - weight) * value_mate, half, disagreement)


def joint_map(
    bonded: Floats,
    known: Bools,
    view: Workview,
    bonded_mate: Floats,
    known_mate: Bools,
    view_mate: Workview,
    affine: NDArray[np.float64],
    weight: float = 0.5,
) -> JointMap:
    """Lay the mate's reading on this face's.

    Parameters
    ----------
    bonded, known : (rows, cols)
        Probability of bonded on this face's working grid, and where it can be told.
    bonded_mate, known_mate : (rows, cols)
        The mate's, on its own grid.
    affine : (2, 3)
        Photo px to the mate's photo px.
    weight : float
        Of this face where both tell; log odds are averaged, so a sure reading outweighs an unsure one.

    Returns
    -------
    JointMap
        Where one half alone can tell it is believed: grease on one doesn't hide what the other shows.
    """
    rows, cols = np.indices(bonded.shape)
    places = view.to_photo(np.column_stack([cols.ravel(), rows.ravel()]).astype(float))
    x, y = view_mate.from_photo(places @ affine[:, :2].T + affine[:, 2]).T
    there = ndimage.map_coordinates(bonded_mate, [y, x], order=1, cval=0.0).reshape(bonded.shape)
    told = ndimage.map_coordinates(known_mate.astype(np.uint8), [y, x], order=0, cval=0).reshape(bonded.shape) > 0
    told &= view.inside
    both = known & told
    odds = weight * _log_odds(bonded) + (1 - weight) * _log_odds(there)
    joint = np.where(both, 1 / (1 + np.exp(-odds)), np.where(known, bonded, np.where(told, there, 0.0)))
    return JointMap(joint.astype(np.float32), known | told, both, _correlation(bonded, there, both, view.road_px))


def _log_odds(p: Floats) -> Floats:
    p = np.clip(p, 1e-3, 1 - 1e-3)
    return np.asarray(np.log(p / (1 - p)))


def _correlation(here: Floats, there: Floats, both: Bools, road_px: float) -> float | None:
    """Of the two readings smoothed over a third of a road, beyond which a fit isn't better."""
    if both.sum() < 20 * road_px**2:
        return None
    # Off the common ground stands the mean: any other value would make both edges look alike.
    level = [np.where(both, p - p[both].mean(), 0) for p in (here, there)]
    smooth = [ndimage.gaussian_filter(p, road_px / 3)[both] for p in level]
    spread = float(smooth[0].std() * smooth[1].std())
    if spread < 1e-6:
        return None
    return float(np.mean((smooth[0] - smooth[0].mean()) * (smooth[1] - smooth[1].mean())) / spread)
