"""Marks of a person on a measured photo: read from a text, ordered to be measured with, and what they moved."""

from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from analysis.common.classes import BARE, BONDED, NAMES, UNKNOWN
from analysis.welds.marks import Mark, MarkRefused, as_lists, check_marks
from server.measuring import jobs
from server.measuring.measured import NAMES as MEASURES
from server.measuring.measured import percent
from server.measuring.overlays import face_window
from server.records import Job, Measurement, Photo

RADIUS_ROADS = 0.3  # of a mark set by a tap: it stays within most contact bands
KINDS = {NAMES[BONDED]: "b", NAMES[BARE]: "e", NAMES[UNKNOWN]: "u"}  # the keys are those of the count by hand
SAYS = {
    "bonded": ("bonded", "welded here, and torn open: rough or whitened"),
    "bare": ("bare", "a road lies here, smooth: it never joined"),
    "unknown": ("can't be told", "grease, glare or shadow hides it"),
}
MOVED = ("bonded_share_of_face", "bonded_area_fraction")


def usual_radius_px(measurement: Measurement) -> float:
    """Return the radius of a mark that a tap sets, px of the photo."""
    given = measurement.given
    return float(round(max(RADIUS_ROADS * given["line_width_mm"] * 1000 / given["um_per_px"], 1.0), 1))


def read_marks(text: str | None, photo: Photo, radius_px: float) -> tuple[Mark, ...]:
    """Return the marks in `text`, one a line. Raises `MarkRefused`, naming the line."""
    lines = [line for line in (text or "").splitlines() if line.strip()]
    return check_marks([_line(line, radius_px) for line in lines], photo.width_px, photo.height_px)


def _line(line: str, radius_px: float) -> list[Any]:
    parts = line.replace(",", " ").replace(";", " ").split()
    numbers = parts[:3] if len(parts) > 3 and _is_number(parts[2]) else parts[:2]
    words = " ".join(parts[len(numbers) :]).casefold().replace("’", "'")
    kind = next((kind for kind, key in KINDS.items() if words in {kind, key, SAYS[kind][0]}), None)
    if len(numbers) < 2 or kind is None or not all(map(_is_number, numbers)):
        raise MarkRefused(f"“{line.strip()[:40]}” is not a mark. Write it as 120, 340, bonded.")
    x, y, *rest = map(float, numbers)
    return [x, y, rest[0] if rest else radius_px, kind]


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True


def write_marks(given: list[list[Any]], radius_px: float) -> str:
    """Return marks as the text that `read_marks` takes; the radius only where it isn't the usual one."""
    return "\n".join(
        f"{x:.1f}, {y:.1f}, {kind}" if abs(radius - radius_px) < 0.05 else f"{x:.1f}, {y:.1f}, {radius:.1f}, {kind}"
        for x, y, radius, kind in given
    )


def order_with(session: Session, measurement: Measurement, marks: tuple[Mark, ...]) -> Job:
    """Queue a measuring with the very same inputs and these marks; the old measurement stays as it is."""
    kept = {name: value for name, value in measurement.given.items() if name not in {"marks", "marks_of"}}
    return jobs.enqueue(session, measurement.photo_id, kept | {"marks": as_lists(marks), "marks_of": measurement.id})


@dataclass(frozen=True)
class Shown:
    """A mark on the picture: number, place in px of the view, kind, and its words."""

    number: int
    x: str
    y: str
    radius: str
    kind: str
    words: str


def shown(given: list[list[Any]]) -> list[Shown]:
    """Return the marks as the picture shows them; the view draws pixel centres half a pixel from the corner."""
    return [
        Shown(number, f"{x + 0.5:.1f}", f"{y + 0.5:.1f}", f"{radius:.1f}", kind, SAYS[kind][0])
        for number, (x, y, radius, kind) in enumerate(given, 1)
    ]


@dataclass(frozen=True)
class Moved:
    """One number before and after the marks."""

    name: str
    before: str
    after: str
    change: str


def moved(before: dict[str, Any], after: dict[str, Any]) -> list[Moved]:
    """Return what the marks changed, number beside number."""
    rows = [_moved_share(MEASURES[name], before.get(name), after.get(name)) for name in MOVED]
    for name, unit, digits in (("unknown_share", "%", 1), ("largest_gap_mm", "mm", 1)):
        old, new = before.get(name), after.get(name)
        if old is not None or new is not None:
            rows.append(_moved_number(MEASURES[name], old, new, unit, digits))
    return rows


def _moved_share(name: str, before: dict[str, Any] | None, after: dict[str, Any] | None) -> Moved:
    def words(entry: dict[str, Any] | None) -> str:
        if not entry or entry.get("value") is None:
            return "not known"
        low, high = entry.get("interval") or (None, None)
        return percent(entry["value"]) + (f" ({percent(low)} to {percent(high)})" if low is not None else "")

    old, new = (entry.get("value") if entry else None for entry in (before, after))
    return Moved(name, words(before), words(after), _change(old, new, "%", 1))


def _moved_number(name: str, before: float | None, after: float | None, unit: str, digits: int) -> Moved:
    factor = 100 if unit == "%" else 1

    def words(value: float | None) -> str:
        return "not known" if value is None else f"{value * factor:.{digits}f} {unit}"

    return Moved(name, words(before), words(after), _change(before, after, unit, digits))


def _change(before: float | None, after: float | None, unit: str, digits: int) -> str:
    if before is None or after is None:
        return "–"
    by = round((after - before) * (100 if unit == "%" else 1), digits)
    if not by:
        return "none"
    return f"{by:+.{digits}f} {'points' if unit == '%' else unit}".replace("-", "−")


def marks_of(session: Session, measurement: Measurement) -> dict[str, Any] | None:
    """Return what the page of a measurement with marks shows of them; None where it has none."""
    given = measurement.given.get("marks")
    if not given:
        return None
    before = session.get(Measurement, measurement.given.get("marks_of") or 0)
    counts = [(SAYS[kind][0], sum(one[3] == kind for one in given)) for kind in SAYS]
    return {
        "shown": shown(given),
        "counts": ", ".join(f"{count} {words}" for words, count in counts if count),
        "before": before,
        "before_marks": len(before.given.get("marks") or []) if before else 0,
        "moved": moved(before.result, measurement.result) if before else [],
    }


def marks_page(measurement: Measurement, photo: Photo, text: str) -> dict[str, Any]:
    """Return what the page for setting marks shows beside the picture."""
    radius = usual_radius_px(measurement)
    try:
        given = as_lists(read_marks(text, photo, radius))
    except MarkRefused:
        given = []
    return {
        "radius": radius,
        "window": face_window(measurement, photo),
        "drawn": shown(given),
        "kinds": [
            {"kind": kind, "key": KINDS[kind], "words": SAYS[kind][0], "meaning": SAYS[kind][1]} for kind in SAYS
        ],
        "advice": ADVICE,
    }


ADVICE = (
    "Set a few marks of both kinds, bonded and bare, where you can tell without doubt, and best where the layers shown "
    "are wrong. Two already help. Leave out what you are not sure of: one wrong mark in four does more harm than the "
    "others do good."
)
