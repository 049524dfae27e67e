"""What an assessment of strength says between overload and a weak build, in the form in which measures are weighed.

The number is P(the load would have exceeded the fully bonded face too | it exceeded the face as built, and the part
stood its service). Near 1 the welds that were missing made no difference: overload. Near 0 they made the whole
difference: a weak build. It leans on the bonded map just as the bonded share does, so it belongs into one group with
that share and must not count beside it in full.
"""

from __future__ import annotations

from dataclasses import dataclass

from analysis.strength.assessment import Assessment
from analysis.strength.wording import UNLIKELY


@dataclass(frozen=True)
class Bearing:
    """`overload` 0 (weak build) to 1 (overload); `weak_build` is its rest: exceeded as built, not as designed.

    `bounds` : least and greatest of `overload` over the rival loads. `trust` : 1, or less where the break was
    improbable under every load given, so that the number rests on the far ends of the ranges.
    """

    overload: float
    weak_build: float
    bounds: tuple[float, float]
    trust: float


def bearing(found: Assessment) -> tuple[Bearing | None, str]:
    """The assessment as evidence; None and the reason where it bears on nothing."""
    if found.whole_too is None:
        reasons = [*found.reasons.values(), *(why for one in found.cases for why in one.reasons.values())]
        return None, reasons[0] if reasons else "There is no fully bonded face to hold the load against."
    likeliest = max(one.broke or 0.0 for one in found.cases)
    return Bearing(
        overload=found.whole_too,
        weak_build=1.0 - found.whole_too,
        bounds=found.whole_too_bounds or (found.whole_too, found.whole_too),
        trust=min(1.0, likeliest / UNLIKELY),
    ), ""
