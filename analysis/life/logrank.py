"""Whether groups differ in how long they last: the log-rank test (Mantel 1966) of any number of groups."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from analysis.life.ages import Ages, AgesRefused, Floats

ROUNDING = 1e-9  # observed less expected add up to 0, so one direction has no variance but for rounding


@dataclass(frozen=True)
class LogRank:
    """What the test compares: failures of each group, and those expected if all lasted alike.

    `p` is how often chance alone sets groups that last alike at least this far apart; by the chi-square
    approximation, which is poor where a group's expected failures are few.
    """

    observed: tuple[int, ...]
    expected: tuple[float, ...]
    covariance: Floats
    chi2: float
    df: int
    p: float


def log_rank(groups: Sequence[Ages]) -> LogRank | None:
    """Compare groups; None where no failure happened while units of two groups were at risk.

    Observed less expected failures of each group, in the metric of their hypergeometric covariance (Klein and
    Moeschberger, Survival Analysis, section 7.3, from memory).

    Raises
    ------
    AgesRefused
        There are fewer than two groups.
    """
    if len(groups) < 2:
        raise AgesRefused("A comparison needs two groups or more.")
    observed, expected, covariance = _moments(groups)
    least = ROUNDING * float(np.max(np.diag(covariance), initial=0.0))
    df = int(np.linalg.matrix_rank(covariance, tol=least, hermitian=True)) if least else 0
    if not df:
        return None
    apart = observed - expected
    statistic = max(0.0, float(apart @ np.linalg.pinv(covariance, rcond=ROUNDING, hermitian=True) @ apart))
    return LogRank(
        tuple(int(n) for n in observed),
        tuple(float(n) for n in expected),
        covariance,
        statistic,
        df,
        float(chi2.sf(statistic, df)),
    )


def trend(result: LogRank, scores: Sequence[float]) -> float:
    """Return the chi-square (1 degree of freedom) of a trend over groups in the order of their scores."""
    weights = np.asarray(scores, np.float64)
    apart = np.asarray(result.observed) - np.asarray(result.expected)
    return float((weights @ apart) ** 2 / (weights @ result.covariance @ weights))


def _moments(groups: Sequence[Ages]) -> tuple[Floats, Floats, Floats]:
    at = np.unique(np.concatenate([one.reached[one.failed] for one in groups]))
    at_risk = np.array([len(one) - np.searchsorted(np.sort(one.reached), at, side="left") for one in groups], float)
    failures = np.array([_counted(one, at) for one in groups], float)
    everyone, failed = at_risk.sum(axis=0), failures.sum(axis=0)
    portion = at_risk / np.maximum(everyone, 1)
    # With one unit left nothing is drawn by chance: its failure has no variance.
    spread = failed * (everyone - failed) / np.maximum(everyone - 1, 1)
    covariance = np.diag((portion * spread).sum(axis=1)) - (portion * spread) @ portion.T
    return failures.sum(axis=1), (portion * failed).sum(axis=1), covariance


def _counted(ages: Ages, at: Floats) -> Floats:
    own = np.sort(ages.reached[ages.failed])
    return np.asarray(np.searchsorted(own, at, side="right") - np.searchsorted(own, at, side="left"), np.float64)
