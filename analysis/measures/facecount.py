"""From judged points to the bonded share of the face, after ASTM E562; points that can't be told are left out."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from analysis.measures.pointcount import (
    CONFIDENCE,
    PointCount,
    PointCountRefused,
    field_hits,
    fields_needed,
    fields_still_needed,
    point_count,
    t_multiplier,
    wilson_interval,
)

# One letter a point: the key that is pressed for it. "" is a point not looked at yet.
CODES: dict[str, str] = {
    "b": "bonded",
    "e": "bare",
    "v": "void",
    "u": "cant_tell",
    "x": "on_boundary",
}
ACCURACIES = (0.10, 0.20, 0.33)  # the columns of E562's planning table


@dataclass(frozen=True)
class Tally:
    """One field: how often each code was given; `left` points were not looked at."""

    number: int
    given: Mapping[str, int]
    left: int

    @property
    def points(self) -> int:
        """Points of the field."""
        return sum(self.given.values()) + self.left

    @property
    def told(self) -> int:
        """Points that count: all that were judged but those that can't be told."""
        return sum(self.given.values()) - self.given["u"]

    @property
    def hits(self) -> float:
        """Bonded points, one half for each on the boundary."""
        return field_hits(self.given["b"], self.given["x"])


@dataclass(frozen=True)
class FaceCount:
    """The count of a face. Shares of 1.

    `share` is bonded over all that could be told, `interval` its 95 % interval and `by` what that rests on: "fields"
    (their spread), "points" (one field only: as if the points were independent) or "" where there is none.
    `bounds` are the shares if all that can't be told were not bonded, and if all of it were. `spread` holds the
    statistics over the fields that are complete; None for fewer than two.
    """

    fields: tuple[Tally, ...]
    used: tuple[Tally, ...]
    share: float | None
    interval: tuple[float, float] | None
    by: str
    bounds: tuple[float, float] | None
    spread: PointCount | None
    reason: str | None


def tally(codes: Sequence[str], field_of: Sequence[int]) -> tuple[Tally, ...]:
    """Count the codes of each field; codes as in `CODES`, "" where a point was not looked at."""
    if len(codes) != len(field_of):
        raise PointCountRefused("each point needs its field")
    unknown = set(codes) - {"", *CODES}
    if unknown:
        raise PointCountRefused(f"“{min(unknown)}” is no code of a point; use {', '.join(CODES)}")
    fields: dict[int, list[str]] = {}
    for code, number in zip(codes, field_of, strict=True):
        fields.setdefault(number, []).append(code)
    return tuple(
        Tally(number, {code: given.count(code) for code in CODES}, given.count(""))
        for number, given in sorted(fields.items())
    )


def face_count(fields: Sequence[Tally]) -> FaceCount:
    """Bonded share of the face with its 95 % interval.

    Only fields that are complete, and have a point that could be told, are used: half a field is not chosen by chance.

    Notes
    -----
    Fields of equal size give E562's mean, s, t s / sqrt(n) and relative accuracy exactly. Where the fields differ
    (points that can't be told) the share is that of all points together and s is the spread of the ratio's residuals,
    e_i = (hits_i - share told_i) / mean(told), the usual estimator for a ratio (Cochran, Sampling Techniques, ch. 6,
    from memory); with equal fields e_i is the field's share less the mean.
    """
    used = tuple(one for one in fields if one.left == 0 and one.told > 0)
    if not used:
        nothing = all(one.left for one in fields)
        words = "no field is complete yet" if nothing else "no point of a complete field could be told"
        return FaceCount(tuple(fields), (), None, None, "", None, None, words)
    hits, told = [one.hits for one in used], [one.told for one in used]
    share = math.fsum(hits) / sum(told)
    complete = [one for one in fields if one.left == 0]
    bounds = _bounds(complete)
    if len(used) == 1:
        interval = _of_points(hits[0], told[0])
        words = "one field says nothing about how fields differ; count at least one more"
        return FaceCount(tuple(fields), used, share, interval, "points", bounds, None, words)
    spread = _spread(hits, told)
    if spread.sd == 0:
        # Fields that are all alike have no spread to tell, which is no proof that the share is known exactly.
        interval = _of_points(sum(hits), sum(told))
        words = "all fields have the same share, so their spread says nothing; the interval is that of the points"
        return FaceCount(tuple(fields), used, share, interval, "points", bounds, spread, words)
    return FaceCount(tuple(fields), used, share, spread.interval, "fields", bounds, spread, spread.reason)


def _of_points(hits: float, points: int) -> tuple[float, float]:
    # A half hit lies between two whole numbers; both together give the wider interval.
    return wilson_interval(math.floor(hits), points)[0], wilson_interval(math.ceil(hits), points)[1]


def _bounds(fields: Sequence[Tally]) -> tuple[float, float]:
    hits, points = math.fsum(one.hits for one in fields), sum(one.points for one in fields)
    return hits / points, (hits + sum(one.given["u"] for one in fields)) / points


def _spread(hits: Sequence[float], told: Sequence[int]) -> PointCount:
    """E562's statistics; for fields of unequal size by the residuals of the ratio."""
    if len(set(told)) == 1:
        return point_count(hits, told[0])
    count, typical = len(hits), sum(told) / len(told)
    share = math.fsum(hits) / sum(told)
    rests = [(hit - share * size) / typical for hit, size in zip(hits, told, strict=True)]
    sd = math.sqrt(math.fsum(rest**2 for rest in rests) / (count - 1))
    half = t_multiplier(count) * sd / math.sqrt(count)
    shares = tuple(hit / size for hit, size in zip(hits, told, strict=True))
    relative = half / share if share > 0 else None
    reason = None if share > 0 else "no point hit the feature: a relative accuracy can't be given"
    interval = (max(0.0, share - half), min(1.0, share + half))
    return PointCount(round(typical), tuple(hits), shares, share, sd, half, interval, relative, reason)


def needed(count: FaceCount) -> list[dict[str, Any]]:
    """Fields and points for 10, 20 and 33 % relative accuracy of the bonded share.

    `still` are the fields to add by the spread between those counted, `planned` is E562's planning table for this
    share; None where it can't be said.
    """
    size = round(sum(one.points for one in count.used) / len(count.used)) if count.used else 0
    plannable = count.share is not None and 0 < count.share < 1 and size > 0
    rows = []
    for accuracy in ACCURACIES:
        planned = fields_needed(count.share or 0.0, size, accuracy) if plannable else None
        # A spread of nought would say that nothing more is needed, which it can't know.
        known = count.spread if count.by == "fields" else None
        still = fields_still_needed(known, accuracy) if known else None
        rows.append({"accuracy": accuracy, "still": still, "planned": planned, "points_per_field": size})
    return rows


def result_of(count: FaceCount) -> dict[str, Any]:
    """Return the count as plain data to be kept; shares of 1, `fields` numbered from 1."""
    spread = count.spread if count.by == "fields" else None
    return {
        "bonded_share": {
            "value": count.share,
            "interval": list(count.interval) if count.interval else None,
            "confidence": CONFIDENCE,
            "by": count.by,
            "bounds": list(count.bounds) if count.bounds else None,
        },
        "sd": count.spread.sd if count.spread else None,
        "half_width": spread.half_width if spread else None,
        "relative_accuracy": spread.relative_accuracy if spread else None,
        "fields": [_field(one, one in count.used) for one in count.fields],
        "totals": {name: sum(one.given[code] for one in count.fields) for code, name in CODES.items()},
        "points_told": sum(one.told for one in count.used),
        "needed": needed(count),
        "reason": count.reason,
    }


def _field(one: Tally, used: bool) -> dict[str, Any]:
    return {
        "field": one.number + 1,
        "points": one.points,
        "told": one.told,
        "hits": one.hits,
        "share": one.hits / one.told if one.told else None,
        "used": used,
        **{name: one.given[code] for code, name in CODES.items()},
    }
