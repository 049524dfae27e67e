"""What was seen on a part: a person's answers, and measures that speak for themselves."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

from analysis.evidence.catalogue import Catalogue, Observation, load_catalogue

__all__ = ["ANSWERS", "ObservationRefused", "Seen", "from_measures", "load_catalogue", "range_shares"]

Answer = Literal["yes", "no", "cant_tell"]
ANSWERS: tuple[Answer, ...] = ("yes", "no", "cant_tell")

# A 90 % interval of a normal distribution reaches this many standard deviations to either side.
Z90 = 1.6448536269514722


class ObservationRefused(ValueError):
    """An observation that can't be weighed; the message says what was wrong and what to give instead."""


@dataclass(frozen=True)
class Seen:
    """One observation as it was made.

    `strength` runs from 0 (could as well not have looked) to 1 (sure); in between, the likelihoods are mixed with
    the common reference in that proportion. A measure has answer "yes" and holds in `shares` the probability of
    each of its ranges. `origin` is the caller's own reference to the photo or the answer, handed through unread.
    """

    code: str
    answer: Answer
    strength: float = 1.0
    origin: str = ""
    note: str = ""
    value: str = ""
    shares: tuple[float, ...] = ()
    number: float | None = None  # a measure's reading in its own unit

    def __post_init__(self) -> None:
        if self.answer not in ANSWERS:
            raise ObservationRefused(f"{self.code}: the answer is {self.answer!r}; give yes, no or cant_tell")
        if not 0.0 <= self.strength <= 1.0:
            raise ObservationRefused(f"{self.code}: strength {self.strength} is not between 0 and 1")


@dataclass(frozen=True)
class _Reading:
    """A measure's value with its standard deviation, both in the measure's own unit, and its words for a page."""

    value: float
    sd: float
    words: str


def range_shares(value: float, sd: float, edges: Sequence[float], low: float, high: float) -> tuple[float, ...]:
    """Probability that the true value lies in each range, as a normal cut off at what is possible.

    Parameters
    ----------
    value, sd : float
        Reading and its standard deviation (0 or more), in the unit of the edges.
    edges : sequence of float
        Inner limits of the ranges, rising; a value on a limit belongs to the range above it.
    low, high : float
        The least and the greatest value that can exist; may be infinite.

    Returns
    -------
    tuple of float
        len(edges) + 1 probabilities, sum 1.
    """
    if sd <= 0:
        place = sum(value >= edge for edge in edges)
        return tuple(1.0 if i == place else 0.0 for i in range(len(edges) + 1))
    inside = min(max(value, low), high)
    heights = [0.5 * (1 + math.erf((x - inside) / (sd * math.sqrt(2)))) for x in (low, *edges, high)]
    total = heights[-1] - heights[0]
    return tuple((b - a) / total for a, b in pairwise(heights))


def from_measures(result: Mapping[str, Any], catalogue: Catalogue | None = None, origin: str = "measure") -> list[Seen]:
    """Observations that follow from one face's measures.

    A measure that is null gives no observation: unknown weighs nothing. A wide interval spreads over several
    ranges and so weighs less. An outer surface speaks about rubbing alone; that there is a photo of one is no
    evidence of a rub.

    Parameters
    ----------
    result : mapping
        The measuring result (`surface`, `bonded_area_fraction`, `walls`, ...); missing keys count as null.
    origin : str
        The caller's reference to the measurement, put into every observation.
    """
    book = catalogue or load_catalogue()
    wanted = OUTER if result.get("surface") == "outer" else FRACTURE
    seen = []
    for code, read in wanted.items():
        reading = read(result, book.settings)
        if reading is not None:
            seen.append(_as_seen(book.observations[code], reading, origin))
    if wanted is FRACTURE and result.get("face_area_mm2"):
        seen.append(Seen("came_apart", "yes", origin=origin, value="a fracture face was photographed"))
    return seen


def _as_seen(observation: Observation, reading: _Reading, origin: str) -> Seen:
    low, high = LIMITS[observation.code]
    shares = range_shares(reading.value, reading.sd, observation.edges, low, high)
    return Seen(
        observation.code,
        "yes",
        strength=max(shares),
        origin=origin,
        value=reading.words,
        shares=shares,
        number=reading.value,
    )


def _bonded(result: Mapping[str, Any], settings: Mapping[str, float]) -> _Reading | None:
    entry = result.get("bonded_area_fraction")
    value = _number(entry.get("value")) if isinstance(entry, Mapping) else None
    if entry is None or value is None:
        return None
    low, high = _pair(entry.get("interval"))
    # An interval that can't be had is not an interval of width 0: the reading then counts as a rough estimate.
    sd = settings["bonded_sd_without_interval"] if low is None or high is None else (high - low) / (2 * Z90)
    least, most = _pair(entry.get("bounds"))
    unknown_sd = 0.0 if least is None or most is None else (most - least) / math.sqrt(12)
    sd = math.hypot(max(sd, settings["bonded_sd_floor"]), unknown_sd)
    span = "" if low is None or high is None else f" (90 % interval {low:.0%} to {high:.0%})"
    return _Reading(value, sd, f"{value:.0%} of the contact area{span}")


def _wall_gaps(result: Mapping[str, Any], settings: Mapping[str, float]) -> _Reading | None:
    walls = [
        (length, continuity)
        for wall in result.get("walls") or ()
        if (length := _number(wall.get("length_mm"))) and (continuity := _number(wall.get("continuity"))) is not None
    ]
    if not walls:
        return None
    missing = 1.0 - sum(length * share for length, share in walls) / sum(length for length, _ in walls)
    unread = (_number(result.get("unknown_share")) or 0.0) / math.sqrt(12)
    sd = math.hypot(settings["gap_sd_floor"], settings["gap_sd_relative"] * missing) + missing * unread
    return _Reading(missing, sd, f"{missing:.1%} of the walls' length")


def _longest_gap(result: Mapping[str, Any], settings: Mapping[str, float]) -> _Reading | None:
    length = _number(result.get("largest_gap_mm"))
    if length is None:
        return None
    sd = math.hypot(settings["gap_length_sd_mm"], settings["gap_length_sd_relative"] * length)
    return _Reading(length, sd, f"{length:.1f} mm")


def _planes(result: Mapping[str, Any], settings: Mapping[str, float]) -> _Reading | None:
    planes = result.get("layer_planes")
    if not planes:
        return None
    count = len(planes)
    return _Reading(float(count), settings["plane_count_sd"], f"{count} layer plane{'s' if count > 1 else ''}")


def _touched(result: Mapping[str, Any], settings: Mapping[str, float]) -> _Reading | None:
    value = _number(result.get("touched_share"))
    return None if value is None else _Reading(value, settings["touched_sd"], f"{value:.0%} of the contact area")


def _gap_agreement(result: Mapping[str, Any], settings: Mapping[str, float]) -> _Reading | None:
    agreed, chance = _number(result.get("gap_agreement")), _number(result.get("gap_agreement_by_chance"))
    if agreed is None or chance is None or result.get("mate_fit") == "refused":
        return None
    words = f"{agreed:.0%} of the gap length confirmed, {chance:.0%} by chance"
    return _Reading(agreed - chance, settings["gap_agreement_sd"], words)


def _rub_area(result: Mapping[str, Any], settings: Mapping[str, float]) -> _Reading | None:
    area = _number(result.get("rub_area_mm2"))
    if area is None:
        return None
    sd = math.hypot(settings["rub_area_sd_mm2"], settings["rub_area_sd_relative"] * area)
    return _Reading(area, sd, f"{area:.1f} mm²")


_Reader = Callable[[Mapping[str, Any], Mapping[str, float]], _Reading | None]

FRACTURE: dict[str, _Reader] = {
    "bonded_contact": _bonded,
    "contact_touched": _touched,
    "wall_gap_share": _wall_gaps,
    "longest_gap": _longest_gap,
    "gaps_confirmed": _gap_agreement,
    "plane_count": _planes,
}
OUTER: dict[str, _Reader] = {"rub_area": _rub_area}

# What a measure can be at all, in its own unit.
LIMITS: dict[str, tuple[float, float]] = {
    "bonded_contact": (0.0, 1.0),
    "contact_touched": (0.0, 1.0),
    "wall_gap_share": (0.0, 1.0),
    "longest_gap": (0.0, math.inf),
    "gaps_confirmed": (-1.0, 1.0),
    "plane_count": (0.5, math.inf),
    "rub_area": (0.0, math.inf),
    "load_against_capacity": (0.0, 1.0),
}


def _number(value: object) -> float | None:
    """A finite number, or None for null, text and NaN (which are unknown, never 0)."""
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)


def _pair(value: object) -> tuple[float | None, float | None]:
    if not isinstance(value, Sequence) or isinstance(value, str) or len(value) != 2:
        return None, None
    return _number(value[0]), _number(value[1])
