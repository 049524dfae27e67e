"""What pages show of gaps: marks on the picture, a table, and the form of one gap with the place enlarged."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlmodel import Session

from analysis.measures.gapcause import confirmed_words, point_to
from server.gaps.causes import causes_of, earlier_words, entries_on
from server.gaps.found import Gap, SeamLine, gaps_of, hint_words
from server.measuring.surroundings import surroundings
from server.pages import moment
from server.photos.face_page import trail_of
from server.records import GapCause, Measurement, Photo
from server.wording import words

LABEL_OFF = 0.022  # of the photo's longer side, from the gap to its number
SEAM_OVER = 0.015  # of the photo's longer side, that the seam's line goes on beyond the walls' ends
LEAST_WINDOW_MM = 4.0  # shown about a gap, so that its neighbours are seen too


@dataclass(frozen=True)
class GapMark:
    """A gap on the picture: its course, where its number stands in per cent, what the other half says of it."""

    number: int
    path: str
    left: str
    top: str
    code: str  # "", yes, no, cant_tell


@dataclass(frozen=True)
class GapRow:
    """A gap in the table."""

    number: int
    wall: str
    place: str
    length: str
    mate: str
    code: str
    hints: list[str]
    pointer: str
    cause: str
    said_by: str
    note: str
    old: list[str]


def gap_section(session: Session, measurement: Measurement, photo: Photo) -> dict[str, Any]:
    """Return all that the page of a measurement shows of its gaps."""
    gaps, seams = gaps_of(measurement)
    entries = causes_of(session, [measurement.id])[measurement.id or 0] if gaps else []
    return {
        "gaps": [_row(gap, entries_on(entries, gap)) for gap in gaps],
        "gap_marks": [_mark(gap, photo) for gap in gaps],
        "seam_lines": [svg(_over(seam.line_px, photo)) for seam in seams],
        "seam_words": [seam_words(seam) for seam in seams],
        "seams": seams,
        "asked_mate": any(gap.asked_mate for gap in gaps),
    }


def seam_words(seam: SeamLine) -> str:
    """Say where gaps line up and what that most likely is."""
    what = "begin or end" if not seam.whole_stretch else "begin and end"
    likely = (
        "The same stretch is missing on each: look whether the toolpath wants it at all; it may also be the seam."
        if seam.whole_stretch
        else "That is most likely the seam, where each wall's road begins."
    )
    return f"Gaps of {seam.walls} walls {what} at one line, more than chance would bring. {likely}"


def code_of(gap: Gap) -> str:
    """Return what the other half says of the gap: yes, no, cant_tell; "" where it wasn't asked."""
    return confirmed_words(gap.hint.confirmed) if gap.asked_mate else ""


def _row(gap: Gap, said: list[GapCause]) -> GapRow:
    now, code = (said[-1] if said else None), code_of(gap)
    share = gap.hint.confirmed
    mate = words(code, "answer") if code else ""
    if code in {"yes", "no"} and share is not None and 0.005 < share < 0.995:
        mate += f" ({share * 100:.0f} % of it)"
    pointer = point_to(now.answers if now else {}, gap.hint)
    return GapRow(
        gap.number,
        gap.wall,
        f"{gap.start_mm:.1f} to {gap.end_mm:.1f} mm",
        f"{gap.length_mm:.1f} mm",
        mate,
        code,
        hint_words(gap),
        pointer.why,
        words(now.cause, "gap_cause") if now else "",
        " · ".join(filter(None, [now.who, moment(now.entered_at)])) if now else "",
        now.note if now else "",
        [f"{words(one.cause, 'gap_cause')} ({one.who}, {moment(one.entered_at)})" for one in said[:-1]][::-1],
    )


def _mark(gap: Gap, photo: Photo) -> GapMark:
    middle = gap.path_px[len(gap.path_px) // 2]
    before, after = gap.path_px[0], gap.path_px[-1]
    aside = np.array([after[1] - before[1], before[0] - after[0]])
    aside = aside / max(float(np.hypot(*aside)), 1e-9)
    size = np.array([photo.width_px, photo.height_px])
    away = np.sign(float(np.dot(middle - size / 2, aside))) or 1.0  # towards the photo's edge: off the face
    x, y = np.clip((middle + away * aside * LABEL_OFF * size.max() + 0.5) / size * 100, 2, 98)
    return GapMark(gap.number, svg(gap.path_px), f"{x:.2f}%", f"{y:.2f}%", code_of(gap))


def _over(line: NDArray[np.float64], photo: Photo) -> NDArray[np.float64]:
    """The line across the walls, a little beyond its first and last point."""
    over = SEAM_OVER * max(photo.width_px, photo.height_px)
    first, last = line[0] - line[1], line[-1] - line[-2]
    ends = [line[k] + over * d / max(float(np.hypot(*d)), 1e-9) for k, d in ((0, first), (-1, last))]
    return np.vstack([ends[0], line, ends[1]])


def svg(points: NDArray[np.float64]) -> str:
    """Return points as SVG writes them; the view draws pixel centres half a pixel from the corner."""
    return " ".join(f"{x + 0.5:.1f},{y + 0.5:.1f}" for x, y in points)


def gap_page(session: Session, measurement: Measurement, photo: Photo, gap: Gap, form: Any) -> dict[str, Any]:
    """Return what the page of one gap shows."""
    around = surroundings(session, photo)
    entries = entries_on(causes_of(session, [measurement.id])[measurement.id or 0], gap)
    gaps, seams = gaps_of(measurement)
    return {
        "title": f"Why is the road missing? Gap {gap.number} of {len(gaps)}",
        "trail": trail_of(session, around.face),
        "measurement": measurement,
        "photo": photo,
        "gap": _row(gap, entries),
        "window": _window(gap, measurement, photo),
        "path": svg(gap.path_px),
        "others": [svg(other.path_px) for other in gaps if other.number != gap.number],
        "seam_lines": [svg(_over(seam.line_px, photo)) for seam in seams],
        "earlier": earlier_words(session, measurement, gap),
        "form": form,
        "before": gap.number - 1 or None,
        "after": gap.number + 1 if gap.number < len(gaps) else None,
    }


def _window(gap: Gap, measurement: Measurement, photo: Photo) -> str:
    """The square of the photo that is shown about the gap, as an SVG viewBox."""
    low, high = gap.path_px.min(0), gap.path_px.max(0)
    least = LEAST_WINDOW_MM * 1000 / measurement.given["um_per_px"]
    side = max(least, float((high - low).max()) * 1.5)
    side = min(side, float(max(photo.width_px, photo.height_px)))
    x, y = (low + high) / 2 - side / 2
    return f"{x:.1f} {y:.1f} {side:.1f} {side:.1f}"
