"""What the page of a measurement shows: the layers, the numbers with their width and reason, each wall as a strip."""

from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from analysis.common.caveats import reason
from analysis.evidence.catalogue import load_catalogue
from analysis.evidence.verdict import MODES
from server.gaps.page import gap_section
from server.measuring.course import strokes_of, told
from server.measuring.overlays import bar_length_mm
from server.measuring.patterns import looks_of
from server.measuring.strips import strips_of
from server.measuring.surroundings import measurements_of, surroundings
from server.photos.face_page import trail_of
from server.records import Measurement, Photo
from server.wording import words

NAMES = {
    "bonded_share_of_face": "Bonded share of the face",
    "bonded_area_fraction": "Bonded part of the contact area",
    "bonded_area_fraction_all": "Bonded part of the contact area",
    "touched_share": "Touched but not joined",
    "gap_agreement": "Gaps confirmed by the mating face",
    "gap_agreement_by_chance": "Gaps confirmed by chance",
    "mate_fit": "Fit of the mating face",
    "mate_affine": "Lie of the mating face",
    "rub_area_mm2": "Rubbed area",
    "scratch_deg": "Direction of the scratches",
    "layer_line_deg": "Direction of the layer lines",
    "layer_line_period_mm": "Distance from layer line to layer line",
    "scratch_to_lines_deg": "Scratches to layer lines",
    "slopes_along_to_across": "Slopes along the layer lines",
    "largest_gap_mm": "Longest gap in a wall",
    "layer_planes": "Layer planes",
    "course": "How the break went over the face",
    "walls": "Walls",
    "face_area_mm2": "Area of the face",
    "unknown_share": "Unknown",
    "verdict": "Verdict",
}
MEANINGS = {
    "bonded_share_of_face": "torn area over face area, unknown left out of both",
    "bonded_area_fraction": "torn area over the area that should have been pressed onto the next layer, "
    "unknown left out of both",
}


@dataclass(frozen=True)
class Figure:
    """One number with how sure it is and why."""

    name: str
    meaning: str
    value: str
    interval: str = ""
    bounds: str = ""
    why: str = ""


def percent(value: float | None) -> str:
    """Write a share in per cent, with a decimal only where it is small."""
    if value is None:
        return "not known"
    hundred = value * 100
    return f"{hundred:.1f} %" if 0 < hundred < 9.95 else f"{hundred:.0f} %"


def shares(result: dict[str, Any]) -> list[Figure]:
    """Return the bonded shares with interval and bounds; one that can't be had says why."""
    return [_share(result, name) for name in MEANINGS]


def _share(result: dict[str, Any], name: str) -> Figure:
    found, reasons = result.get(name), result.get("reasons") or {}
    why = " ".join(text for key, text in reasons.items() if key == name or key.startswith(f"{name}."))
    if not found or found.get("value") is None:
        return Figure(NAMES[name], MEANINGS[name], "not known", why=why or "No reason was given.")
    low, high = found.get("interval") or (None, None)
    interval = f"{percent(low)} to {percent(high)} (90 % interval)" if low is not None else ""
    bounds = found.get("bounds")
    between = ""
    if bounds and (result.get("unknown_share") or 0) > 0:
        bare, bonded = percent(bounds[0]), percent(bounds[1])
        between = f"{bare} if all that is unknown were bare, {bonded} if all of it were bonded"
    return Figure(NAMES[name], MEANINGS[name], percent(found["value"]), interval, between, why)


NOT_A_FACE = reason("outer_surface")
RUB_MEANINGS = {
    "rub_area_mm2": "the patch on which the layer lines are flattened and something scratched along",
    "scratch_deg": "from the photo's horizontal, clockwise",
    "scratch_to_lines_deg": "0° runs along the layer lines, 90° straight across them",
    "layer_line_period_mm": "the layer height where the surface stands upright, more where it slopes",
    "slopes_along_to_across": "rises as lines are flattened and scratched, patch or none; compares photos of one "
    "surface taken alike, and nothing else",
}


def rub_figures(result: dict[str, Any]) -> list[Figure]:
    """Return what an outer surface shows; what can't be had says why."""
    area, scratch, angle = (result.get(key) for key in ("rub_area_mm2", "scratch_deg", "scratch_to_lines_deg"))
    period, slopes = result.get("layer_line_period_mm"), result.get("slopes_along_to_across")
    values = {
        "rub_area_mm2": None if area is None else "no rubbed patch" if area == 0 else f"{area:.1f} mm²",
        "scratch_deg": None if scratch is None else f"{scratch:.0f}°",
        "scratch_to_lines_deg": None if angle is None else f"{angle:.0f}°, {_lie(angle)}",
        "layer_line_period_mm": None if period is None else f"{period:.2f} mm",
        "slopes_along_to_across": None if slopes is None else f"{slopes:.3f} of those across",
    }
    reasons = result.get("reasons") or {}
    return [
        Figure(NAMES[key], RUB_MEANINGS[key], value or "not known", why="" if value else reasons.get(key, ""))
        for key, value in values.items()
    ]


def _lie(angle_deg: float) -> str:
    # A third of the quarter turn each; judgement.
    return "along them" if angle_deg < 30 else "across them" if angle_deg > 60 else "aslant"


def width_words(given: dict[str, Any]) -> str:
    """Say what the intervals' width is made of, with the part that the person can better: the scale."""
    sd = given.get("scale_relative_sd")
    scale = "the scale" if sd is None else f"the scale (± {sd * 100:.1f} %)"
    return (
        "The intervals take in how surely bonded and bare could be told apart on this photo, that neighbouring places "
        f"are alike and so count as few samples, {scale} and the place of the outline."
    )


def facts(result: dict[str, Any]) -> list[tuple[str, str]]:
    """Return the plain numbers that could be had."""
    if result.get("surface") == "outer":
        along = result.get("layer_line_deg")
        lie = "not known" if along is None else f"at {along:.0f}°"
        return [("Surface measured", _unit(result.get("face_area_mm2"), "mm²", 1)), ("Layer lines", lie)]
    rows = [("Area of the face", _unit(result.get("face_area_mm2"), "mm²", 1))]
    rows.append(("Unknown", percent(result.get("unknown_share"))))
    if result.get("largest_gap_mm") is not None:
        gap = result["largest_gap_mm"]
        rows.append(("Longest gap in a wall", _unit(gap, "mm", 1) if gap else "no gap"))
    if result.get("touched_share") is not None:
        rows.append(("Touched but not joined", percent(result["touched_share"])))
    for plane in result.get("layer_planes") or []:
        level = plane.get("level")
        where = "" if level is None else f", {_level(level)}"
        road = plane.get("road_deg")
        along = "" if road is None else f", roads at {road:.0f}°"
        rows.append(("Layer plane", f"{percent(plane.get('area_share'))} of the face{along}{where}"))
    if result.get("gap_agreement") is not None:
        agreed, chance = percent(result["gap_agreement"]), percent(result.get("gap_agreement_by_chance"))
        rows.append(("Gaps confirmed by the mating face", f"{agreed} ({chance} by chance)"))
    if result.get("mate_fit"):
        rows.append(("Fit of the mating face", result["mate_fit"]))
    return rows


def _unit(value: float | None, unit: str, digits: int) -> str:
    return "not known" if value is None else f"{value:.{digits}f} {unit}"


def _level(level: float) -> str:
    if level == 0:
        return "the reference plane"
    layers = f"{abs(level):g} layer{'s' if abs(level) != 1 else ''}"
    return f"{layers} {'above' if level > 0 else 'below'} the reference plane"


def missing(result: dict[str, Any]) -> list[tuple[str, str]]:
    """Return what could not be measured, each with its reason; the two shares say it beside their own number."""
    reasons = result.get("reasons") or {}
    grouped: dict[str, list[str]] = {}
    for key, text in reasons.items():
        name = key.partition(".")[0]
        if text == NOT_A_FACE:  # said once, by the kind of surface
            continue
        if name not in MEANINGS and not (result.get("surface") == "outer" and name in RUB_MEANINGS):
            grouped.setdefault(text, []).append(NAMES.get(name, name.replace("_", " ")))
    return [("; ".join(dict.fromkeys(names)), text) for text, names in grouped.items()]


def evidence_rows(result: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the observations that the measures give, each with its weights in words."""
    known = {one.code: one.words for one in load_catalogue().observations.values()}
    return [_evidence_row(entry, known) for entry in result.get("evidence") or []]


def _evidence_row(entry: dict[str, Any], known: dict[str, str]) -> dict[str, Any]:
    weights = entry.get("weights_db") or {}
    shown = ["" if mode not in weights else f"{weights[mode]:+.1f}".replace("-", "−") for mode in MODES]
    code = entry.get("observation", "")
    return {**entry, "words": known.get(code, code), "weights": shown}


def parameters(given: dict[str, Any]) -> list[tuple[str, str]]:
    """Return what went in, as the person knows it."""
    sd = given.get("scale_relative_sd")
    rows = [("Scale", f"{given['um_per_px']:.3g} µm per pixel{'' if sd is None else f', ± {sd * 100:.1f} %'}")]
    named = {
        "line_width_mm": ("Line width", "mm"),
        "layer_height_mm": ("Layer height", "mm"),
        "wall_count": ("Walls", ""),
        "road_spacing_mm": ("Distance from road to road", "mm"),
        "contact_band_mm": ("Contact band", "mm"),
        "colour": ("Filament", ""),
    }
    known = {key: value for key, value in given.items() if key in named and value is not None}
    rows += [(named[key][0], f"{value} {named[key][1]}".strip()) for key, value in known.items()]
    unseen = "none: the whole photo is the surface" if given.get("surface") == "outer" else "found by the program"
    rows.append(("Outline", "checked or drawn by a person" if given.get("outline_id") else unseen))
    return rows


def measurement_page(session: Session, measurement: Measurement, photo: Photo) -> dict[str, Any]:
    """Return what the page of the measurement shows."""
    around, result = surroundings(session, photo), measurement.result
    others, found = measurements_of(session, photo), gap_section(session, measurement, photo)
    px_per_mm = 1000 / measurement.given["um_per_px"]
    bar_mm = bar_length_mm(photo.width_px / px_per_mm)
    return {
        "title": f"What was found on {around.face.name if around.face else photo.file_name}",
        "trail": trail_of(session, around.face),
        "measurement": measurement,
        "photo": photo,
        "face": around.face,
        "failure": around.failure,
        "looks": looks_of(result.get("surface")),
        "directions": strokes_of(result, photo),
        "course": told(result),
        "bar": {"label": f"{bar_mm:g} mm", "end": f"{3 + bar_mm * px_per_mm / photo.width_px * 100:.2f}%"},
        "rings": [_svg(ring) for ring in (result.get("outline_px") or [], *(result.get("holes_px") or [])) if ring],
        "shares": rub_figures(result) if result.get("surface") == "outer" else shares(result),
        "facts": facts(result),
        "width_words": width_words(measurement.given),
        "missing": missing(result),
        "warnings": result.get("warnings") or [],
        "evidence": evidence_rows(result),
        "modes": [words(mode, "mode") for mode in MODES],
        "has_picture": measurement.result.get("surface") != "outer",
        "strips": strips_of(measurement, [seam.at_mm for seam in found["seams"]]),
        **found,
        "has_mate": bool(result.get("mate_affine") and measurement.given.get("mate_photo_id")),
        "parameters": parameters(measurement.given),
        "others": others,
        "newer": others[0] if others and others[0].id != measurement.id else None,
    }


def _svg(ring: list[list[float]]) -> str:
    # The view draws pixel centres half a pixel from the corner.
    return " ".join(f"{x + 0.5:.1f},{y + 0.5:.1f}" for x, y in ring)
