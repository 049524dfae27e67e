"""Scores for probabilities that were stated before the truth was known."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

Case = TypeVar("Case")


def brier_sum(rows: Sequence[Sequence[float]], truth: Sequence[int]) -> float:
    """Mean over cases of the sum over classes of (p - o)²; 0 is perfect, 2 is sure and wrong (Brier 1950).

    For a yes/no forecast the single-class form, mean (f - o)², is half of this.
    """
    _check(rows, truth)
    return _mean([sum((p - (k == t)) ** 2 for k, p in enumerate(row)) for row, t in zip(rows, truth, strict=True)])


def log_score(rows: Sequence[Sequence[float]], truth: Sequence[int]) -> float:
    """Mean of -ln p(true class), nat; infinite if a true class was given 0."""
    _check(rows, truth)
    given = [row[t] for row, t in zip(rows, truth, strict=True)]
    return _mean([math.inf if p <= 0 else -math.log(p) for p in given])


@dataclass(frozen=True)
class CalibrationBin:
    """Cases whose stated probability fell in one bin: how many, mean statement, share that came true."""

    count: int
    stated: float
    came_true: float


def calibration_bins(stated: Sequence[float], came_true: Sequence[bool], bins: int = 5) -> list[CalibrationBin]:
    """Equal bins closed on the right, (0, 1/n], ..., as in Guo et al. 2017.

    A 0 falls in the first bin; empty bins are left out. A statement that only floating point pushes over an edge
    stays below it: 0.6 belongs to (0.4, 0.6].
    """
    sorted_in: dict[int, list[tuple[float, bool]]] = {}
    for p, o in zip(stated, came_true, strict=True):
        place = max(0, math.ceil(round(p * bins, 9)) - 1)
        sorted_in.setdefault(place, []).append((p, o))
    return [
        CalibrationBin(len(cases), _mean([p for p, _ in cases]), _mean([float(o) for _, o in cases]))
        for _, cases in sorted(sorted_in.items())
    ]


def calibration_error(stated: Sequence[float], came_true: Sequence[bool], bins: int = 5) -> tuple[float, float]:
    """Expected and greatest calibration error: |stated - came true| per bin, weighted by count, and the worst."""
    found = calibration_bins(stated, came_true, bins)
    gaps = [abs(b.stated - b.came_true) for b in found]
    total = sum(b.count for b in found)
    return sum(b.count * gap for b, gap in zip(found, gaps, strict=True)) / total, max(gaps)


def murphy_parts(stated: Sequence[float], came_true: Sequence[bool]) -> tuple[float, float, float]:
    """Reliability, resolution and uncertainty of yes/no forecasts, grouped by distinct statement.

    The Brier score, mean (f - o)², equals reliability - resolution + uncertainty exactly; binning would need two
    further terms (Stephenson et al. 2008).
    """
    groups: dict[float, list[bool]] = {}
    for f, o in zip(stated, came_true, strict=True):
        groups.setdefault(f, []).append(o)
    total = len(stated)
    base = sum(came_true) / total
    reliability = sum(len(o) * (f - sum(o) / len(o)) ** 2 for f, o in groups.items()) / total
    resolution = sum(len(o) * (sum(o) / len(o) - base) ** 2 for o in groups.values()) / total
    return reliability, resolution, base * (1 - base)


def bootstrap_interval(
    cases: Sequence[Case],
    statistic: Callable[[Sequence[Case]], float | None],
    level: float = 0.90,
    draws: int = 1000,
    seed: int = 1,
) -> tuple[float, float] | None:
    """Percentile interval of a score under resampling of whole cases (Efron 1979).

    Parameters
    ----------
    cases : sequence
        What one draw is made of; a case is taken or left as a whole, so statements about one face stay together.
    statistic : callable
        The score of a list of cases, or None where it can't be had of that draw; such draws are left out.
    level : float
        Share of the draws inside, half of the rest on either side.

    Returns
    -------
    (low, high) or None
        None with fewer than two cases, or where fewer than half of the draws had a score.
    """
    if len(cases) < 2:
        return None
    rng = np.random.default_rng(seed)
    told = [statistic([cases[i] for i in rng.integers(len(cases), size=len(cases))]) for _ in range(draws)]
    found = [value for value in told if value is not None]
    if len(found) < draws / 2:
        return None
    low, high = np.quantile(found, [(1 - level) / 2, (1 + level) / 2])
    return float(low), float(high)


def cohen_kappa(table: Sequence[Sequence[float]]) -> float | None:
    """Agreement of two judges beyond chance, (p_o - p_e) / (1 - p_e) (Cohen 1960).

    `table[i][j]` counts the cases that the first judge put in class i and the second in class j. None where chance
    alone would agree always, or without a case.
    """
    total = sum(sum(row) for row in table)
    if not total:
        return None
    same = sum(table[i][i] for i in range(len(table))) / total
    columns = [sum(column) for column in zip(*table, strict=True)]
    chance = sum(sum(row) * column for row, column in zip(table, columns, strict=True)) / total**2
    return None if chance >= 1 else (same - chance) / (1 - chance)


def _check(rows: Sequence[Sequence[float]], truth: Sequence[int]) -> None:
    if len(rows) != len(truth) or not rows:
        raise ValueError("rows and truth must have the same length, at least 1")
    for row in rows:
        if abs(sum(row) - 1) > 1e-6:
            raise ValueError(f"probabilities must sum to 1, not {sum(row)}")


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)
