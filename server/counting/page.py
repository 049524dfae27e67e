"""What the page of a count by hand shows: the start, then the points with how far one is."""

from typing import Any

from sqlmodel import Session

from analysis.measures.facecount import CODES
from analysis.measures.pointcount import fields_needed, wilson_interval
from server.counting.counts import counted, counts_of, ground_of
from server.forms.counts import CountFinishForm, CountStartForm
from server.measuring.measured import percent
from server.measuring.surroundings import measurements_of, prefilled, surroundings
from server.photos.face_page import trail_of
from server.photos.keeping import current_scale
from server.records import Photo, PointCount, PointCountDraft
from server.wording import words

PLAN_SHARES = (0.05, 0.10, 0.20, 0.50)
PLAN_ACCURACIES = (0.10, 0.20, 0.33)
SEEN_ROADS = 8  # judgement: road widths across the enlarged view, enough to see how a road lies
# What each judgement means; the words of measurement.md's table, shortened.
MEANINGS = {
    "b": "welded and torn: whitened, fibrils, torn flank, or a rough break of a brittle polymer",
    "e": "road surface that was never joined: smooth, rounded or pressed flat",
    "v": "no road: a gap, or an opening of a sparse filling",
    "u": "grease, glare, shadow or blur",
    "x": "on the line between bonded and not: counts one half",
}


def codes() -> list[dict[str, str]]:
    """Return the judgements with key, words and meaning, in the order of the buttons."""
    return [{"key": key, "words": words(name, "count"), "meaning": MEANINGS[key]} for key, name in CODES.items()]


def around(session: Session, photo: Photo) -> dict[str, Any]:
    """Return what both states of the page and the result share."""
    place = surroundings(session, photo)
    return {"trail": trail_of(session, place.face), "photo": photo, "face": place.face, "codes": codes()}


def start_page(session: Session, photo: Photo, form: CountStartForm) -> dict[str, Any]:
    """Return the page before a count."""
    counts = counts_of(session, photo)
    replaced = {one.replaces_id for one in counts}
    context = around(session, photo)
    face = context["face"]
    return context | {
        "title": f"Count by hand: {face.name if face else photo.file_name}",
        "form": form,
        "ground": ground_of(session, photo),
        "outer": bool(face and face.surface == "outer"),
        "counts": [{"record": one, "share": share_words(one), "replaced": one.id in replaced} for one in counts],
        "plan": plan(25),
        "plan_heads": [percent(value) for value in PLAN_ACCURACIES],
        "measured": bool(measurements_of(session, photo)),
    }


def plan(points_per_field: int) -> list[dict[str, Any]]:
    """Return E562's planning table for fields of this size: fields for each share and accuracy."""
    return [
        {
            "share": percent(share),
            "fields": [fields_needed(share, points_per_field, accuracy) for accuracy in PLAN_ACCURACIES],
        }
        for share in PLAN_SHARES
    ]


def share_words(count: PointCount) -> str:
    """Say a finished count in one line."""
    found = count.result["bonded_share"]
    if found["value"] is None:
        return count.result.get("reason") or "not known"
    low, high = found["interval"]
    return f"{percent(found['value'])} bonded, {percent(low)} to {percent(high)} (95 % interval)"


def draft_page(
    session: Session, photo: Photo, draft: PointCountDraft, field: int, form: CountFinishForm
) -> dict[str, Any]:
    """Return the page of a count under way; `field` is the one listed where there is no script."""
    context = around(session, photo)
    face = context["face"]
    window = window_px(session, photo, draft)
    return context | {
        "title": f"Count by hand: {face.name if face else photo.file_name}",
        "draft": draft,
        "form": form,
        "points": [
            [*place, of, code] for place, of, code in zip(draft.places_px, draft.field_of, draft.codes, strict=True)
        ],
        "window": window,
        "field": field,
        "fields": field_links(draft),
        "rows": rows_of(draft, field, window),
        "running": running(draft),
        "tight": spacing_warning(session, photo, draft),
        "rings": rings(draft.outline),
    }


def rings(outline: dict[str, Any]) -> list[str]:
    """Return the outline and its holes as SVG points; pixel centres are at whole numbers."""
    return [" ".join(f"{x:.1f},{y:.1f}" for x, y in ring) for ring in (outline["outer_px"], *outline["holes_px"])]


def field_links(draft: PointCountDraft) -> list[dict[str, int]]:
    """Return each field with how many of its points are left."""
    left = [0] * draft.field_count
    for number, code in zip(draft.field_of, draft.codes, strict=True):
        left[number] += code == ""
    return [{"number": number, "left": count} for number, count in enumerate(left)]


def rows_of(draft: PointCountDraft, field: int, window: float) -> list[dict[str, Any]]:
    """Return the points of one field, each with its enlarged view."""
    chosen = [number for number, of in enumerate(draft.field_of) if of == field]
    return [
        {
            "number": number,
            "label": place + 1,
            "code": draft.codes[number],
            "x": draft.places_px[number][0],
            "y": draft.places_px[number][1],
            "left": draft.places_px[number][0] - window / 2,
            "top": draft.places_px[number][1] - window / 2,
        }
        for place, number in enumerate(chosen)
    ]


def first_field(draft: PointCountDraft) -> int:
    """Return the first field with a point left, else the last one."""
    return next((one["number"] for one in field_links(draft) if one["left"]), draft.field_count - 1)


def window_px(session: Session, photo: Photo, draft: PointCountDraft) -> float:
    """Return how many px of the photo the enlarged view shows across: some roads, else some meshes of the grid."""
    road = _road_px(session, photo)
    wanted = SEEN_ROADS * road if road else 2 * draft.spacing_px
    return float(round(min(max(wanted, 40), photo.width_px, photo.height_px)))


def _road_px(session: Session, photo: Photo) -> float | None:
    scale = current_scale(session, photo.id)
    width_mm = prefilled(session, photo, surroundings(session, photo)).get("line_width_mm")
    return width_mm * 1000 / scale.um_per_px if scale and width_mm else None


def spacing_warning(session: Session, photo: Photo, draft: PointCountDraft) -> str:
    """Say so where points lie closer than roads: then neighbours fall on one road and are no two samples."""
    road = _road_px(session, photo)
    if road is None or draft.spacing_px >= road:
        return ""
    return (
        "The points lie closer to each other than two roads do, so neighbours often fall on the same road and tell "
        "less than their number promises. Fewer points, well judged, serve better."
    )


def running(draft: PointCountDraft) -> dict[str, Any]:
    """Return how far the count is and what it comes to so far, in words."""
    count = counted(draft)
    spread = count.spread if count.by == "fields" else None
    told, hits = sum(one.told for one in count.fields), sum(one.hits for one in count.fields)
    judged = sum(code != "" for code in draft.codes)
    share = f"{percent(hits / told)} bonded" if told else "nothing to be told yet"
    interval = _running_interval(spread.interval if spread else None, hits, told, len(count.used))
    untold = f"of {told} point{'s' if told != 1 else ''} that could be told; {judged - told} can't be told"
    return {
        "judged": judged,
        "points": len(draft.codes),
        "complete": sum(one.left == 0 for one in count.fields),
        "share": share,
        "of": untold if judged else "",
        "interval": interval,
        "accuracy": _running_accuracy(spread.relative_accuracy if spread else None),
        "brief": f"{judged} of {len(draft.codes)}: {share}" + (f", 95 % {interval.split(',')[0]}" if told else ""),
    }


def _running_interval(interval: tuple[float, float] | None, hits: float, told: int, fields: int) -> str:
    if interval:
        return f"{percent(interval[0])} to {percent(interval[1])}, from the spread of {fields} fields"
    if not told:
        return "not known yet"
    low, high = wilson_interval(int(hits), told)[0], wilson_interval(min(told, int(hits + 0.5)), told)[1]
    return f"{percent(low)} to {percent(high)}, as if the points were independent"


def _running_accuracy(accuracy: float | None) -> str:
    return f"± {percent(accuracy)} of the share" if accuracy is not None else "known once two fields are complete"
