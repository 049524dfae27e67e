"""A quantity that is known as a range: strength, load, lever arm, notch factor."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

# A 90 % range of a normal distribution reaches this many standard deviations to either side (norm.ppf(0.95)).
Z90 = 1.6448536269514722


class RangeRefused(ValueError):
    """A range that can't be used; the message says what was wrong and what to give instead."""


@dataclass(frozen=True)
class Range:
    """A 90 % range of a positive quantity, read as lognormal: `low` is its 5th, `high` its 95th percentile.

    Strength, force and lever arm can't be negative and err by factors, so the logarithm is taken as normal.
    low = high says that it is known exactly.

    Raises
    ------
    RangeRefused
        Upside down, not a number, without end, or not above 0.
    """

    low: float
    high: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low) and math.isfinite(self.high)):
            raise RangeRefused("A range needs two numbers, its lower and its upper end.")
        if min(self.low, self.high) <= 0:
            raise RangeRefused(f"A range must lie above 0, not from {self.low:g} to {self.high:g}.")
        if self.low > self.high:
            raise RangeRefused(f"The range is upside down: {self.low:g} is more than {self.high:g}. Swap the two ends.")

    @classmethod
    def around(cls, median: float, log_sd: float) -> Range:
        """The 90 % range of a lognormal with this median and standard deviation of the logarithm."""
        return cls(median * math.exp(-Z90 * log_sd), median * math.exp(Z90 * log_sd))

    @property
    def median(self) -> float:
        """Geometric middle of the two ends."""
        return self.low if self.low == self.high else math.sqrt(self.low) * math.sqrt(self.high)

    @property
    def log_sd(self) -> float:
        """Standard deviation of the natural logarithm."""
        return (math.log(self.high) - math.log(self.low)) / (2 * Z90)

    def times(self, other: Range) -> Range:
        """The product of two independent quantities: again lognormal."""
        return Range.around(self.median * other.median, math.hypot(self.log_sd, other.log_sd))

    def over(self, other: Range) -> Range:
        """The quotient of two independent quantities."""
        return Range.around(self.median / other.median, math.hypot(self.log_sd, other.log_sd))

    def sample(self, rng: np.random.Generator, n: int) -> NDArray[np.float64]:
        """`n` independent draws."""
        return np.asarray(self.median * np.exp(self.log_sd * rng.standard_normal(n)))

    def quantiles(self, shares: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values below which these shares (0..1, both ends excluded) of the draws lie."""
        from scipy.special import ndtri

        return np.asarray(self.median * np.exp(self.log_sd * ndtri(shares)))

    def to_json(self) -> list[float]:
        """[low, high] to four significant digits; the name of the field holds the unit."""
        return [float(f"{self.low:.4g}"), float(f"{self.high:.4g}")]
