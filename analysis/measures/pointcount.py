"""Area fraction by counting points on a grid, after ASTM E562.

A person lays a grid of points over several fields of the face and counts those that fall on the feature; a point
on its boundary counts one half. Pixels of a segmented photo are not such points: neighbours are not independent,
so the number of pixels must never be used as the number of points.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy import stats

# Grid by the estimated share of the feature (E562 table 2, from memory): the scarcer, the more points.
GRIDS: tuple[tuple[float, int], ...] = ((0.20, 16), (0.10, 25), (0.05, 49), (0.0, 100))
CONFIDENCE = 0.95


class PointCountRefused(ValueError):
    """A count that can't be right; the message says which field and what to mend."""


@dataclass(frozen=True)
class PointCount:
    """The result over all fields; shares of 1, not per cent.

    `sd`, `half_width` and `interval` are None for a single field, `relative_accuracy` also when nothing was hit;
    `reason` then says why. The interval is cut off at 0 and 1.
    """

    points_per_field: int
    hits: tuple[float, ...]
    shares: tuple[float, ...]
    mean: float
    sd: float | None
    half_width: float | None
    interval: tuple[float, float] | None
    relative_accuracy: float | None
    reason: str | None

    def table(self) -> list[dict[str, float]]:
        """One row per field for a page: field number, hits, points, share."""
        return [
            {"field": i, "hits": hit, "points": self.points_per_field, "share": share}
            for i, (hit, share) in enumerate(zip(self.hits, self.shares, strict=True), start=1)
        ]


def field_hits(inside: int, on_boundary: int = 0) -> float:
    """Hits of one field: points inside count one, points on the boundary one half (E562)."""
    if inside < 0 or on_boundary < 0:
        raise PointCountRefused("a number of points can't be below 0; count again")
    return inside + on_boundary / 2


def point_count(hits: Sequence[float], points_per_field: int) -> PointCount:
    """Mean share, standard deviation, 95 % interval and relative accuracy over fields (E562 section 10).

    Parameters
    ----------
    hits : sequence of float
        Hits per field, whole or half numbers, each 0 to `points_per_field`.
    points_per_field : int
        Points of the grid, P_T.

    Notes
    -----
    P_P = hits / P_T; mean over fields; s with n - 1; half-width t(0.975, n-1) s / sqrt(n); relative accuracy =
    half-width / mean. Fields must be laid out by chance or evenly, not where the feature is.
    """
    _check(hits, points_per_field)
    shares = tuple(hit / points_per_field for hit in hits)
    count = len(shares)
    mean = math.fsum(shares) / count
    if count < 2:
        alone = "one field says nothing about how fields differ; count at least one more"
        return PointCount(points_per_field, tuple(hits), shares, mean, None, None, None, None, alone)
    sd = math.sqrt(math.fsum((share - mean) ** 2 for share in shares) / (count - 1))
    half = t_multiplier(count) * sd / math.sqrt(count)
    relative = half / mean if mean > 0 else None
    reason = None if mean > 0 else "no point hit the feature: a relative accuracy can't be given"
    interval = (max(0.0, mean - half), min(1.0, mean + half))
    return PointCount(points_per_field, tuple(hits), shares, mean, sd, half, interval, relative, reason)


def t_multiplier(fields: int) -> float:
    """Student's t for the two-sided 95 % interval of n fields, n - 1 degrees of freedom (E562 table 1)."""
    if fields < 2:
        raise PointCountRefused("an interval needs at least two fields")
    return float(stats.t.ppf((1 + CONFIDENCE) / 2, fields - 1))


def grid_points(estimated_share: float) -> int:
    """Points of the grid to use for an estimated share (0..1); over one half count the other phase instead."""
    if not 0 < estimated_share < 1:
        raise PointCountRefused("estimate the share between 0 and 1, both left out")
    scarcer = min(estimated_share, 1 - estimated_share)
    return next(points for least, points in GRIDS if scarcer > least or least == 0.0)


def fields_needed(share: float, points_per_field: int, relative_accuracy: float, binomial: bool = False) -> int:
    """Fields to plan for a wanted relative accuracy (0.1 = 10 %).

    The short form n = 4 / (E² V P_T) gives the cells of E562's planning table; with `binomial` the exact form
    n P_T = (2/E)² (1 - V) / V of Hilliard and Cahn is used, which asks for fewer.
    """
    if not 0 < share < 1 or points_per_field < 1 or not relative_accuracy > 0:
        raise PointCountRefused("give a share between 0 and 1, at least one point and an accuracy above 0")
    unlike = 1 - share if binomial else 1.0
    # Rounding guards against a whole number that floating point has pushed just above itself.
    return max(1, math.ceil(round(4 * unlike / (relative_accuracy**2 * share * points_per_field), 9)))


def fields_still_needed(count: PointCount, relative_accuracy: float) -> int | None:
    """Fields to add to those counted, from the spread between them; None when nothing can be said yet.

    The relative accuracy falls as 1 / sqrt(n), so half of it needs four times the fields (E562 section 11). The
    change of t with n is left out, which errs on the side of more fields.
    """
    if not relative_accuracy > 0:
        raise PointCountRefused("the wanted relative accuracy must be above 0")
    if count.relative_accuracy is None:
        return None
    wanted = len(count.hits) * (count.relative_accuracy / relative_accuracy) ** 2
    return max(0, math.ceil(round(wanted, 9)) - len(count.hits))


def wilson_interval(hits: int, points: int) -> tuple[float, float]:
    """Wilson's 95 % interval of one share of independent points; for a single field, where no spread is known."""
    if not 0 <= hits <= points or points < 1:
        raise PointCountRefused("hits must lie between 0 and the number of points, and there must be a point")
    interval = stats.binomtest(hits, points).proportion_ci(CONFIDENCE, method="wilson")
    return float(interval.low), float(interval.high)


def _check(hits: Sequence[float], points_per_field: int) -> None:
    if points_per_field < 1:
        raise PointCountRefused("the grid needs at least one point")
    if not hits:
        raise PointCountRefused("no field was counted; count at least one")
    for number, hit in enumerate(hits, start=1):
        if not 0 <= hit <= points_per_field:
            raise PointCountRefused(f"field {number}: {hit} hits on a grid of {points_per_field} points; count again")
        if hit * 2 != int(hit * 2):
            raise PointCountRefused(f"field {number}: {hit} hits; a point counts one, or one half on the boundary")
