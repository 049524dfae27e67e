"""What the page of a finished count shows, and whether the program's measurement of the same photo agrees with it."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlmodel import Session

from analysis.common.caveats import WARNINGS
from analysis.common.classes import BONDED, OUTSIDE, UNKNOWN
from server.counting.counts import counts_of, open_draft
from server.counting.page import around, rings, share_words
from server.measuring.measured import percent
from server.measuring.overlays import labels_at
from server.measuring.surroundings import measurements_of
from server.records import Measurement, Photo, PointCount
from server.store import MissingOriginal, Store

OVERLAP_MEANS = (
    "On this face neither contradicts the other. It does not show that either is right: what misleads the eye may "
    "mislead the program too. Ranges as wide as these can overlap although the two differ."
)
APART_MEANS = (
    "At least one of them is further off than its own range says. Look at the points where they differ: were they "
    "misjudged, or does the light or the filament mislead the program? Until that is known, use the count."
)
WIDTH_WORDS = {
    "throws": "Each field was a grid thrown anew on the whole face, so the interval is that of chance alone.",
    "patches": "The fields were patches, so the interval takes in how the face differs from place to place.",
}


@dataclass(frozen=True)
class Comparison:
    """The measurement beside the count; `state` is agree, apart or open."""

    state: str
    words: str
    means: str = ""
    measurement: Measurement | None = None
    measured: str = ""
    cautions: tuple[str, ...] = ()
    points: str = ""
    differing: tuple[int, ...] = ()


def compare(session: Session, store: Store, photo: Photo, count: PointCount) -> Comparison:
    """Set the newest measurement of the photo beside the count."""
    made = measurements_of(session, photo)
    usable = [one for one in made if (one.result.get("bonded_share_of_face") or {}).get("interval")]
    if not usable:
        why = "The program gave no bonded share for this photo" if made else "This photo has not been measured yet"
        return Comparison("open", f"{why}; there is nothing to set beside the count.")
    found, share = usable[0], count.result["bonded_share"]
    low, high = found.result["bonded_share_of_face"]["interval"]
    value = percent(found.result["bonded_share_of_face"]["value"])
    measured = f"{value}, {percent(low)} to {percent(high)} (90 % interval)"
    points, differing = _points(store, found, count)
    more: dict[str, Any] = {"measurement": found, "measured": measured, "cautions": cautions(found, count)}
    more |= {"points": points, "differing": differing}
    if share["value"] is None:
        return Comparison("open", "The count has no share, so the two can't be compared.", **more)
    if share["interval"][0] <= high and low <= share["interval"][1]:
        return Comparison("agree", "They agree: the two ranges overlap.", OVERLAP_MEANS, **more)
    return Comparison("apart", "They do not agree: the two ranges do not overlap.", APART_MEANS, **more)


def cautions(found: Measurement, count: PointCount) -> tuple[str, ...]:
    """Return what to keep in mind when the two are set side by side."""
    said = []
    if is_white(found):
        said.append("The filament is white: whitening can't be seen on it, so the count is the measure here.")
    if count.result["bonded_share"]["by"] == "points":
        said.append("The count's range takes its points as independent, which neighbours are not: it is too narrow.")
    same = found.given.get("outline_id") == count.outline_id
    if count.outline_id is None:
        same = count.outline.get("measurement_id") == found.id
    if not same:
        said.append("They were made inside different outlines, so they speak of slightly different areas.")
    return tuple(said)


def is_white(found: Measurement) -> bool:
    """Whether the measurement says that the filament hides whitening."""
    colour = str(found.given.get("colour") or "").casefold()
    return WARNINGS["white"] in (found.result.get("warnings") or []) or "white" in colour


def _points(store: Store, found: Measurement, count: PointCount) -> tuple[str, tuple[int, ...]]:
    """Say at how many points both say the same, and which are judged otherwise."""
    if not found.labels_sha256 or not count.places_px:
        return "", ()
    try:
        labels = labels_at(store, found, np.asarray(count.places_px, dtype=np.float64))
    except MissingOriginal:
        return "", ()
    told = [k for k, code in enumerate(count.codes) if code in {"b", "e", "v"} and labels[k] not in {OUTSIDE, UNKNOWN}]
    by_hand = [k for k in told if count.codes[k] == "b" and labels[k] != BONDED]
    by_program = [k for k in told if count.codes[k] != "b" and labels[k] == BONDED]
    alike = len(told) - len(by_hand) - len(by_program)
    text = (
        f"Point by point: of {len(told)} that both could tell, {alike} are judged alike, {len(by_hand)} are bonded by "
        f"hand only, {len(by_program)} by the program only."
    )
    return text, tuple(sorted([*by_hand, *by_program]))


def result_page(session: Session, store: Store, photo: Photo, count: PointCount) -> dict[str, Any]:
    """Return the page of a finished count."""
    context, result = around(session, photo), count.result
    face, share = context["face"], result["bonded_share"]
    others = counts_of(session, photo)
    comparison = compare(session, store, photo, count)
    return context | {
        "title": f"Count by hand of {face.name if face else photo.file_name}",
        "count": count,
        "share": percent(share["value"]),
        "line": share_words(count),
        "rows": facts(count),
        "fields": [{**one, "share": percent(one["share"])} for one in result["fields"]],
        "needed": needed_rows(result),
        "hint": hint(result),
        "width_words": WIDTH_WORDS[count.layout],
        "comparison": comparison,
        "marks": marks(count, comparison.differing),
        "rings": rings(count.outline),
        "others": others,
        "replaced_by": next((one for one in others if one.replaces_id == count.id), None),
        "can_correct": open_draft(session, photo) is None,
        "mark_px": max(photo.width_px, photo.height_px) / 110,
    }


def facts(count: PointCount) -> list[tuple[str, str]]:
    """Return the figures of the count as names and words."""
    result, share = count.result, count.result["bonded_share"]
    used = sum(one["used"] for one in result["fields"])
    rows = [("Fields", f"{used} of {count.field_count} used, {count.points_per_field} points asked for in each")]
    rows.append(("Points that could be told", str(result["points_told"])))
    if share["interval"]:
        basis = "from the spread between fields" if share["by"] == "fields" else "as if the points were independent"
        low, high = share["interval"]
        rows.append(("95 % interval", f"{percent(low)} to {percent(high)}, {basis}"))
    rows.append(("Standard deviation between fields", percent(result["sd"])))
    accuracy = result["relative_accuracy"]
    why = f"not known: {result['reason']}"
    rows.append(("Relative accuracy", why if accuracy is None else f"± {percent(accuracy)} of the share"))
    if result["totals"]["cant_tell"] and share["bounds"]:
        none, all_of_it = map(percent, share["bounds"])
        rows.append(("If what can't be told were known", f"{none} with none of it bonded, {all_of_it} with all of it"))
    return rows


def needed_rows(result: dict[str, Any]) -> list[dict[str, str]]:
    """Return the table of fields and points still needed, in words."""

    def said(fields: int | None, size: int) -> str:
        return "not known" if fields is None else f"{fields} ({fields * size})"

    return [
        {
            "accuracy": percent(row["accuracy"]),
            "still": "none" if row["still"] == 0 else said(row["still"], row["points_per_field"]),
            "planned": said(row["planned"], row["points_per_field"]),
        }
        for row in result["needed"]
    ]


def hint(result: dict[str, Any]) -> str:
    """Say which class to count where more than half is bonded: relative accuracy is meant for the scarcer one."""
    share, half = result["bonded_share"]["value"], result["half_width"]
    if share is None or share <= 0.5:
        return ""
    rest = 1 - share
    said = "More than half is bonded. Relative accuracy is meant for the scarcer class, so count what is not bonded: "
    said += percent(rest)
    if half is None or rest == 0:
        return f"{said}. The same points serve for it."
    return f"{said}, ± {percent(half / rest)} of itself. The same points serve for it; nothing has to be counted anew."


def marks(count: PointCount, differing: tuple[int, ...]) -> list[dict[str, Any]]:
    """Return the points for the picture."""
    return [
        {"x": x, "y": y, "code": code, "differs": number in differing}
        for number, ((x, y), code) in enumerate(zip(count.places_px, count.codes, strict=True))
        if code
    ]
