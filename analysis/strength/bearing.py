"""What an assessment of strength says between overload and a weak build, in the form in which measures are weighed.

The number is P(the load would have exceeded the fully bonded face too | it exceeded the face as built, and the part
stood its service). Near 1 the welds that were missing made no difference: overload. Near 0 they made the whole
difference: a weak build. It leans on the bonded map just as the bonded share does, so it belongs into one group with
that share and must not count beside it in full.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from analysis.strength.assessment import Assessment
from analysis.strength.wording import UNLIKELY

# Proposed ranges: even in the middle, narrow at the ends where the odds run away. Judgement.
EDGES = (0.1, 0.35, 0.65, 0.9)


@dataclass(frozen=True)
class Bearing:
    """`value` 0 (weak build) to 1 (overload) with the least and greatest over the rival loads as `bounds`.

    `shares` : probability of each range between `EDGES`, summing to 1. `strength` : 1, or less where the break was
    improbable under every load given, so that the number rests on the tails of the ranges.
    """

    value: float
    bounds: tuple[float, float]
    shares: tuple[float, ...]
    strength: float
    words: str


def bearing(found: Assessment, edges: Sequence[float] = EDGES) -> tuple[Bearing | None, str]:
    """The assessment as evidence; None and the reason where it bears on nothing."""
    if found.whole_too is None:
        reasons = [*found.reasons.values(), *(why for one in found.cases for why in one.reasons.values())]
        return None, reasons[0] if reasons else "There is no fully bonded face to hold the load against."
    shares = [0.0] * (len(edges) + 1)
    told = [(one.explains or 0.0, one.whole_too) for one in found.cases if one.whole_too is not None]
    total = sum(weight for weight, _ in told)
    for weight, value in told:
        shares[sum(value >= edge for edge in edges)] += weight / total
    likeliest = max(one.broke or 0.0 for one in found.cases)
    return Bearing(
        value=found.whole_too,
        bounds=found.whole_too_bounds or (found.whole_too, found.whole_too),
        shares=tuple(shares),
        strength=min(1.0, likeliest / UNLIKELY),
        words=_words(shares, edges),
    ), ""


def bins_words(edges: Sequence[float] = EDGES) -> tuple[str, ...]:
    """Words for the ranges, in per cent."""
    cents = [round(100 * edge) for edge in edges]
    return (
        f"under {cents[0]} %",
        *(f"{low} to {high} %" for low, high in pairwise(cents)),
        f"{cents[-1]} % and more",
    )


def _words(shares: Sequence[float], edges: Sequence[float]) -> str:
    best = max(range(len(shares)), key=lambda place: shares[place])
    return f"chance that a fully bonded face would have broken too: {bins_words(edges)[best]}"
