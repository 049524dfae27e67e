"""The geometry of the wall strips on the page: all on one mm scale, places in per cent of the widest."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from server.records import Measurement

MOST_TICKS = 8  # labelled ones; more run into each other on a phone
LABEL_ROOM_PERCENT = 7.5  # of the page's width on a phone, for a number of three signs


@dataclass(frozen=True)
class Mark:
    """A stretch or a place on a strip: from, width, and the words there."""

    left: str
    width: str
    middle: str
    label: str


@dataclass(frozen=True)
class Strip:
    """One straightened wall as the page shows it."""

    number: int
    title: str
    length: str
    width: str
    continuity: str
    bonded: str
    is_broken: bool
    gaps: list[Mark]
    gap_words: list[str]
    ticks: list[Mark]
    seams: list[str]  # where on the strip gaps of several walls line up


def strips_of(measurement: Measurement, seams: Sequence[Mapping[tuple[str, int], float]] = ()) -> list[Strip]:
    """Return the strips in the order they were stored: outline first, the wall at the edge first.

    `seams` : of each likely seam the mm at which it crosses a wall (outline, index).
    """
    walls = {(wall["outline"], wall["index"]): wall for wall in measurement.result.get("walls") or []}
    longest = max((entry["length_mm"] for entry in measurement.strips), default=1.0) or 1.0
    return [
        _strip(number, entry, walls.get((entry["outline"], entry["index"]), {}), longest, seams)
        for number, entry in enumerate(measurement.strips)
    ]


def _strip(
    number: int,
    entry: dict[str, Any],
    wall: dict[str, Any],
    longest_mm: float,
    seams: Sequence[Mapping[tuple[str, int], float]],
) -> Strip:
    key = (entry["outline"], entry["index"])
    length, gaps = entry["length_mm"], wall.get("gaps") or []
    continuity, bonded = wall.get("continuity"), wall.get("bonded_fraction")
    return Strip(
        number=number,
        title=title_of(entry),
        length=f"{length:.1f} mm",
        width=_percent(length, longest_mm),
        continuity="continuity not known" if continuity is None else f"{continuity * 100:.0f} % there",
        bonded="bonded part not known" if bonded is None else f"{bonded * 100:.0f} % of it bonded",
        is_broken=bool(gaps),
        gaps=_apart([mark for gap in gaps for mark in _gap_marks(gap, length, longest_mm)]),
        gap_words=[f"{gap['length_mm']:.1f} mm, from {gap['start_mm']:.1f} to {gap['end_mm']:.1f} mm" for gap in gaps],
        ticks=ticks_of(length, longest_mm),
        seams=[_percent(seam[key], longest_mm) for seam in seams if key in seam],
    )


def title_of(entry: dict[str, Any]) -> str:
    """Name a wall: walls are counted from the edge, holes from one."""
    name, number = entry["outline"], entry["index"] + 1
    where = " (at the edge)" if number == 1 else ""
    if name == "outer":
        return f"Outer wall {number}{where}"
    return f"Hole {int(name.removeprefix('hole')) + 1}, wall {number}{where}"


def _gap_marks(gap: dict[str, Any], length_mm: float, longest_mm: float) -> list[Mark]:
    start, end = gap["start_mm"], gap["end_mm"]
    if end < start:
        end += length_mm
    label = f"{gap['length_mm']:.1f}"
    if end <= length_mm:
        return [_mark(start, end, longest_mm, label)]
    # A gap across the start point: its two ends are at the two ends of the strip.
    pieces = [(start, length_mm), (0.0, end - length_mm)]
    pieces.sort(key=lambda piece: piece[0] - piece[1])
    return [_mark(*pieces[0], longest_mm, label), _mark(*pieces[1], longest_mm, "")]


def _apart(marks: list[Mark]) -> list[Mark]:
    """Leave out the label of a gap that would run into the one before; all lengths stand below the strip as well."""
    kept: list[Mark] = []
    last = -LABEL_ROOM_PERCENT
    for mark in sorted(marks, key=lambda one: float(one.middle[:-1])):
        middle = float(mark.middle[:-1])
        fits = bool(mark.label) and middle - last >= LABEL_ROOM_PERCENT
        last = middle if fits else last
        kept.append(mark if fits else replace(mark, label=""))
    return kept


def _mark(start: float, end: float, longest_mm: float, label: str) -> Mark:
    middle = min(max((start + end) / 2 / longest_mm * 100, 3.5), 96.5)
    return Mark(_percent(start, longest_mm), _percent(end - start, longest_mm), f"{middle:.2f}%", label)


def ticks_of(length_mm: float, longest_mm: float) -> list[Mark]:
    """Return a tick each mm (each 5 or 10 on long walls); every round one has its number."""
    step = next(step for step in (1, 2, 5, 10, 20, 50, 100, 1000) if longest_mm / step <= MOST_TICKS)
    fine = step / 5 if step in {5, 10, 50, 100} else step / 2
    marks = []
    for number in range(int(length_mm / fine + 1e-9) + 1):
        place = number * fine
        labelled = abs(place / step - round(place / step)) < 1e-9
        marks.append(Mark(_percent(place, longest_mm), "", "", f"{place:g}" if labelled else ""))
    return marks


def _percent(value: float, whole: float) -> str:
    return f"{value / whole * 100:.2f}%"
