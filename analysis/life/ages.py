"""Ages at failure and ages reached without one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


class AgesRefused(ValueError):
    """Ages that nothing can be reckoned from; the message says why."""


@dataclass(frozen=True)
class Ages:
    """One unit an element: the age it reached, and whether that age is its failure.

    A unit that had not failed (still in use, or taken out sound) is censored: it is known to have lasted this long,
    not how much longer it would have. Where both fall on one age, the failure is taken to come first.
    """

    reached: Floats
    failed: Bools

    @classmethod
    def of(cls, failed: Iterable[float] = (), censored: Iterable[float] = ()) -> Ages:
        """Return the ages of units that failed and of units that did not.

        Raises
        ------
        AgesRefused
            An age is not a finite number above 0, or there are none.
        """
        at, until = list(failed), list(censored)
        return cls.each([*at, *until], [True] * len(at) + [False] * len(until))

    @classmethod
    def each(cls, reached: Iterable[float], failed: Iterable[bool]) -> Ages:
        """Return the ages of units given one by one; raises as `of` does."""
        ages = np.fromiter(reached, np.float64)
        ends = np.fromiter(failed, np.bool_)
        if not len(ages) or not np.all(np.isfinite(ages) & (ages > 0)):
            raise AgesRefused("Ages have to be finite numbers above 0, one for each unit, and there has to be a unit.")
        if len(ages) != len(ends):
            raise AgesRefused("Each age needs to be said to be a failure or not.")
        return cls(ages, ends)

    @property
    def failures(self) -> int:
        """How many units failed."""
        return int(self.failed.sum())

    @property
    def total(self) -> float:
        """All ages together: the time under observation."""
        return float(self.reached.sum())

    def __len__(self) -> int:
        return len(self.reached)


def steps(ages: Ages) -> tuple[Floats, Floats, Floats]:
    """Return the distinct ages at failure in order, the units at risk at each, and the failures at each.

    A unit censored at the very age of a failure is still at risk then (NAG routine g12aac states the same rule).
    """
    at, failures = np.unique(ages.reached[ages.failed], return_counts=True)
    at_risk = len(ages) - np.searchsorted(np.sort(ages.reached), at, side="left")
    return at, at_risk.astype(np.float64), failures.astype(np.float64)
