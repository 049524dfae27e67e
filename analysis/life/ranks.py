"""Median ranks and the straight line through them on Weibull paper, for units of which some were suspended."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.stats import beta

from analysis.life.ages import Ages, AgesRefused, Floats


@dataclass(frozen=True)
class Line:
    """The Weibull distribution whose line fits best."""

    shape: float
    scale: float


def adjusted_ranks(ages: Ages) -> tuple[Floats, Floats]:
    """Return the ages at failure in order and their ranks, moved up for units suspended before (Johnson 1964).

    Each failure's rank is the last one's plus (n + 1 - last) / (1 + units not yet passed); Abernethy, The New Weibull
    Handbook, section 2.
    """
    order = np.lexsort((~ages.failed, ages.reached))  # a failure comes before a suspension at the same age
    rank, ranks, n = 0.0, [], len(ages)
    for passed, index in enumerate(order):
        if ages.failed[index]:
            rank += (n + 1 - rank) / (1 + n - passed)
            ranks.append(rank)
    return ages.reached[order][ages.failed[order]], np.array(ranks)


def median_ranks(ranks: Floats, n: int, method: Literal["benard", "exact"] = "benard") -> Floats:
    """Return the share failed that the failure of this rank among n marks in the middle of chance.

    "exact" is the median of the beta distribution of rank and n + 1 - rank; "benard" (rank - 0.3) / (n + 0.4).
    """
    if method == "benard":
        return np.asarray((ranks - 0.3) / (n + 0.4))
    return np.asarray(beta.ppf(0.5, ranks, n + 1 - ranks))


def rank_regression(
    ages: Ages, method: Literal["benard", "exact"] = "benard", regress: Literal["x on y", "y on x"] = "x on y"
) -> Line:
    """Return the line through log(age) and log(-log(share still working)); "x on y" takes the ages as uncertain.

    Raises
    ------
    AgesRefused
        There are fewer than two different ages at failure.
    """
    at, ranks = adjusted_ranks(ages)
    if len(np.unique(at)) < 2:
        raise AgesRefused("A line needs failures at two ages or more.")
    x, y = np.log(at), np.log(-np.log1p(-median_ranks(ranks, len(ages), method)))
    (xx, xy), (_, yy) = np.cov(x, y)
    shape = float(yy / xy if regress == "x on y" else xy / xx)
    return Line(shape, math.exp(float(np.mean(x)) - float(np.mean(y)) / shape))
