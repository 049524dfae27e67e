"""Two mating faces are two looks at one break: what each says is joined before it is weighed."""

import math
from collections.abc import Sequence

from analysis.evidence.observations import Seen

# A road that was never laid leaves its hole on the half that it belonged to; the mate shows a whole road there,
# only bare. So for missing material the half that shows more of it is the one that knows.
MORE_COUNTS = frozenset({"wall_gap_share", "longest_gap", "plane_count"})


def of_both_halves(first: Sequence[Seen], second: Sequence[Seen]) -> list[Seen]:
    """Join the observations of two mating faces; each code is told once.

    Where both halves speak, missing material and the number of planes are taken from the half that shows more
    (a gap of one layer leaves the other layer's road whole), and every other measure from the half that is surer,
    which is the one whose probability lies in fewer ranges. With one half empty the other is returned as it is.
    """
    other = {entry.code: entry for entry in second}
    joined = [_choose(entry, other.pop(entry.code)) if entry.code in other else entry for entry in first]
    return [*joined, *other.values()]


def _choose(one: Seen, two: Seen) -> Seen:
    if not (one.shares and two.shares):
        return one
    if one.code in MORE_COUNTS:
        return one if _middle(one.shares) >= _middle(two.shares) else two
    return one if _spread_bits(one.shares) <= _spread_bits(two.shares) else two


def _middle(shares: Sequence[float]) -> float:
    return sum(place * share for place, share in enumerate(shares))


def _spread_bits(shares: Sequence[float]) -> float:
    """Entropy of the ranges: 0 where one range is certain."""
    return -sum(share * math.log2(share) for share in shares if share > 0)
