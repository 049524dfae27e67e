"""Scale and outline between the form and the record: texts become checked shapes, records become texts."""

import math
from collections.abc import Sequence
from typing import Any

from sqlmodel import Session

from analysis.imaging.scale import (
    Scale,
    ScaleRefused,
    check_scale,
    scale_from_points,
    scale_from_roads,
    scale_from_um_per_px,
)
from analysis.outlines.outline import OutlineRefused, check_outline
from server.forms.photos import PrepareForm
from server.photos.keeping import current_outline, current_scale
from server.records import OutlineRecord, Photo, ScaleRecord

Rings = list[list[list[float]]]
MOST_CORNERS = 20_000
USUAL_LINE_WIDTH_MM = 0.4  # only to judge a scale before the line width is known
ENDS = ("x1_px", "y1_px", "x2_px", "y2_px")
FIELDS_OF_METHOD = {
    "points": (*ENDS, "distance_mm", "distance_sd_mm"),
    "roads": (*ENDS, "road_count", "road_pitch_mm"),
    "um_per_px": ("um_per_px", "relative_sd_percent"),
}
FIELD_TO_BLAME = {"points": "distance_mm", "roads": "road_count", "um_per_px": "um_per_px"}


def read_rings(text: str | None, name: str) -> Rings:
    """Return the shapes in `text`: one corner a line, an empty line between shapes. Raises `OutlineRefused`."""
    rings: Rings = [[]]
    for number, line in enumerate((text or "").replace(";", "\n").splitlines(), 1):
        if not line.strip():
            rings.append([])
            continue
        rings[-1].append(_corner(line, number, name))
    if sum(map(len, rings)) > MOST_CORNERS:
        raise OutlineRefused(f"{name}: more than {MOST_CORNERS} corners. Use fewer; a few dozen follow any face.")
    return [ring for ring in rings if ring]


def _corner(line: str, number: int, name: str) -> list[float]:
    parts = line.replace(",", " ").split()
    try:
        corner = [float(part) for part in parts]
    except ValueError:
        corner = []
    if len(corner) != 2 or not all(map(math.isfinite, corner)):
        raise OutlineRefused(f"{name}: line {number}, “{line.strip()[:30]}”, is not a corner. Write it as 120.5, 340.")
    return [round(value, 2) for value in corner]


def write_rings(rings: Sequence[Sequence[Sequence[float]]]) -> str:
    """Return shapes as the text that `read_rings` takes."""
    return "\n\n".join("\n".join(f"{x:.1f}, {y:.1f}" for x, y in ring) for ring in rings)


def fill_from_record(form: PrepareForm, scale: ScaleRecord | None, outline: OutlineRecord | None) -> None:
    """Put what is kept of a photo's scale and outline into the form."""
    if scale:
        form.scale_method.data = scale.method
        for name, value in scale.given.items():
            if name in form:
                form[name].data = value
    if outline:
        form.outer_px.data = write_rings([outline.outer_px])
        form.holes_px.data = write_rings(outline.holes_px)
        form.unknown_px.data = write_rings(outline.unknown_px)


def scale_of(form: PrepareForm, photo: Photo) -> Scale | None:
    """Return the scale that the form gives; on a mistake put its words beside the field to blame and return None."""
    method = form.scale_method.data or "points"
    if method not in FIELDS_OF_METHOD or any(form[name].errors for name in FIELDS_OF_METHOD[method]):
        return None
    try:
        scale = _scale(form, method)
    except ScaleRefused as error:
        _blame(form, FIELD_TO_BLAME[method], str(error))
        return None
    width = form.line_width_mm.data or USUAL_LINE_WIDTH_MM
    try:
        check_scale(scale, photo.width_px, photo.height_px, width)
    except ScaleRefused as error:
        about_width = "line width" in str(error) and form.line_width_mm.data is not None
        _blame(form, "line_width_mm" if about_width else FIELD_TO_BLAME[method], str(error))
        return None
    return scale


def _scale(form: PrepareForm, method: str) -> Scale:
    if method == "um_per_px":
        percent = form.relative_sd_percent.data
        return scale_from_um_per_px(_needed(form, "um_per_px"), 0.01 if percent is None else percent / 100)
    if any(form[name].data is None for name in ENDS):
        raise ScaleRefused("Set both ends on the photo first: drag them, or write their x and y.")
    x1, y1, x2, y2 = (form[name].data for name in ENDS)
    if method == "roads":
        pitch = form.road_pitch_mm.data or form.line_width_mm.data
        if pitch is None:
            raise ScaleRefused("Give the distance from road to road, or the line width further down.")
        return scale_from_roads((x1, y1), (x2, y2), int(_needed(form, "road_count")), pitch)
    sd_mm = form.distance_sd_mm.data or 0.0
    return scale_from_points((x1, y1), (x2, y2), _needed(form, "distance_mm"), sd_mm)


def _needed(form: PrepareForm, name: str) -> float:
    value = form[name].data
    if value is None:
        raise ScaleRefused("Give this number.")
    return float(value)


def _blame(form: PrepareForm, name: str, words: str) -> None:
    form[name].errors = [*form[name].errors, words]


def shapes_of(form: PrepareForm, photo: Photo) -> dict[str, Any] | None:
    """Return outer_px, holes_px and unknown_px as drawn; on a mistake put its words beside the field, return None."""
    shapes: dict[str, Rings] = {}
    for name, words in (("outer_px", "The outline"), ("holes_px", "Holes"), ("unknown_px", "Zones")):
        try:
            shapes[name] = read_rings(form[name].data, words)
        except OutlineRefused as error:
            _blame(form, name, str(error))
    if len(shapes) < 3:
        return None
    if len(shapes["outer_px"]) > 1:
        _blame(form, "outer_px", "A face has one outline only; there is an empty line inside it.")
        return None
    return _checked(form, photo, shapes)


def _checked(form: PrepareForm, photo: Photo, shapes: dict[str, Rings]) -> dict[str, Any] | None:
    size = (photo.width_px, photo.height_px)
    outer = shapes["outer_px"][0] if shapes["outer_px"] else []
    try:
        outline = check_outline(outer, shapes["holes_px"], *size)
    except OutlineRefused as error:
        words = str(error)
        _blame(form, "holes_px" if words.startswith("Hole") else "outer_px", words)
        return None
    for number, zone in enumerate(shapes["unknown_px"], 1):
        try:
            check_outline(zone, (), *size)
        except OutlineRefused as error:
            _blame(form, "unknown_px", str(error).replace("The outline", f"Zone {number}", 1))
            return None
    holes = [hole.tolist() for hole in outline.holes_px]
    return {"outer_px": outline.outer_px.tolist(), "holes_px": holes, "unknown_px": shapes["unknown_px"]}


def keep_scale(session: Session, photo: Photo, scale: Scale, method: str, given: dict[str, Any]) -> ScaleRecord:
    """Add the scale to the record, unless it is the one that counts already."""
    before = current_scale(session, photo.id)
    if before and (before.um_per_px, before.relative_sd, before.method) == (scale.um_per_px, scale.relative_sd, method):
        return before
    record = ScaleRecord(
        photo_id=photo.id or 0,
        replaces_id=before.id if before else None,
        method=method,
        um_per_px=scale.um_per_px,
        relative_sd=scale.relative_sd,
        given=given,
    )
    session.add(record)
    session.commit()
    return record


def given_of(form: PrepareForm) -> dict[str, Any]:
    """Return what the person entered for the scale, so that the form can be shown filled in again."""
    names = FIELDS_OF_METHOD.get(form.scale_method.data, ())
    return {name: form[name].data for name in names if form[name].data is not None}


def keep_outline(session: Session, photo: Photo, shapes: dict[str, Any], found: float | None = None) -> OutlineRecord:
    """Add the outline to the record, unless it is the one that counts already; `found` is the finder's confidence."""
    before = current_outline(session, photo.id)
    if before and all(getattr(before, name) == value for name, value in shapes.items()):
        return before
    record = OutlineRecord(
        photo_id=photo.id or 0,
        replaces_id=before.id if before else None,
        method="drawn" if found is None else "found",
        confidence=found,
        **shapes,
    )
    session.add(record)
    session.commit()
    return record


def is_unsaved(form: PrepareForm, outline: OutlineRecord | None) -> bool:
    """Whether the form holds shapes that the record doesn't."""
    kept = PrepareForm()
    fill_from_record(kept, None, outline)
    return any(_lines(form[name].data) != _lines(kept[name].data) for name in ("outer_px", "holes_px", "unknown_px"))


def is_scale_unsaved(form: PrepareForm, scale: ScaleRecord | None) -> bool:
    """Whether the form holds a scale that the record doesn't."""
    given = {name: value for name, value in given_of(form).items() if name not in ENDS}
    if scale is None:
        return bool(given)
    kept = {name: value for name, value in scale.given.items() if name not in ENDS}
    return bool(given) and (scale.method, kept) != (form.scale_method.data, given)


def _lines(text: str | None) -> list[str]:
    return (text or "").split()
