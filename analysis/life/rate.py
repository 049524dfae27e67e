"""Failures per time in use, for units that don't age: a figure that few failures can carry, and none at all as well."""

from __future__ import annotations

from scipy.stats import binomtest, chi2

from analysis.life.ages import Ages


def mean_life_limits(ages: Ages, confidence: float = 0.95) -> tuple[float, float | None]:
    """Return limits of the mean age at failure where age makes no difference; no upper one without failures.

    For units watched until a set time: 2T / χ² with 2r + 2 and 2r degrees of freedom (Meeker and Escobar, Statistical
    Methods for Reliability Data, section 7.6, from memory). Without failures all of the doubt lies on one side.
    """
    tail, time, r = (1 - confidence) / 2, 2 * ages.total, ages.failures
    if not r:
        return time / float(chi2.ppf(confidence, 2)), None
    return time / float(chi2.ppf(1 - tail, 2 * r + 2)), time / float(chi2.ppf(tail, 2 * r))


def share_limits(hits: int, n: int, confidence: float = 0.95) -> tuple[float, float]:
    """Return the limits of Clopper and Pearson (1934) of a share of which `hits` of `n` were seen."""
    limits = binomtest(hits, n).proportion_ci(confidence, method="exact")
    return float(limits.low), float(limits.high)
