"""The share still working at each age, after Kaplan and Meier (1958), with Greenwood's errors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import ndtri

from analysis.life.ages import Ages, Floats, steps

Kind = Literal["linear", "log", "log-log"]


@dataclass(frozen=True)
class Curve:
    """A curve that falls at each of the ages `at` and is level between; it is 1 before the first.

    `se` is Greenwood's standard error of `share`; it is nan where the last unit at risk failed and the share is 0.
    """

    at: Floats
    at_risk: Floats
    failures: Floats
    share: Floats
    se: Floats
    last: float  # the highest age reached by any unit: nothing is known beyond it

    def limits(self, kind: Kind = "log-log", confidence: float = 0.95) -> tuple[Floats, Floats]:
        """Return pointwise limits of the share at each fall, within 0 and 1.

        "linear" is share ± z·se; "log" and "log-log" are symmetric on log(share) and log(-log(share)), the latter
        within 0 and 1 by itself and the best of the three in small samples (Borgan and Liestøl 1990, from memory).
        nan where the share is 0. Formulas: Klein and Moeschberger, Survival Analysis, section 4.3 (from memory).
        """
        z = float(ndtri((1 + confidence) / 2))
        with np.errstate(divide="ignore", invalid="ignore"):
            relative = self.se / self.share
            if kind == "linear":
                low, high = self.share - z * self.se, self.share + z * self.se
            elif kind == "log":
                low, high = self.share * np.exp(-z * relative), self.share * np.exp(z * relative)
            else:
                turn = np.exp(z * relative / np.log(self.share))  # below 1, as the logarithm of a share is
                low, high = self.share ** (1 / turn), self.share**turn
        return np.clip(low, 0, 1), np.clip(high, 0, 1)

    def share_at(self, age: float) -> float | None:
        """Return the share still working at an age; None beyond the highest age that any unit reached."""
        if age > self.last:
            return None
        passed = int(np.searchsorted(self.at, age, side="right"))
        return float(self.share[passed - 1]) if passed else 1.0

    @property
    def median(self) -> float | None:
        """The age at which half have failed; None where the curve doesn't come down to half."""
        down = np.flatnonzero(self.share <= 0.5 + 1e-12)
        return float(self.at[down[0]]) if len(down) else None


def survival(ages: Ages) -> Curve:
    """Return the Kaplan-Meier curve of units of which some may not have failed."""
    at, at_risk, failures = steps(ages)
    share = np.cumprod(1 - failures / at_risk, dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        greenwood = np.cumsum(failures / (at_risk * (at_risk - failures)))
        se = np.where(share > 0, share * np.sqrt(greenwood), np.nan)
    return Curve(at, at_risk, failures, share, np.asarray(se, np.float64), float(ages.reached.max()))


def still_watched(ages: Ages, at: Floats) -> list[int]:
    """Return how many units had neither failed nor been censored before each age."""
    return [int(n) for n in len(ages) - np.searchsorted(np.sort(ages.reached), at, side="left")]
