"""Runs the stages in order: photo in, the result's JSON object and the pictures' parts out. Knows all the others."""

from __future__ import annotations

import io
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
from PIL import Image

from analysis import gaps as wall_gaps
from analysis.bonding import Reading, read_face
from analysis.caveats import reason, warning
from analysis.classes import OUTSIDE
from analysis.intervals import find_spread
from analysis.outline import Outline, check_outline, find_outline, outline_mask
from analysis.photo import Photo, PhotoLimits, read_photo
from analysis.planes import find_planes, planes_json
from analysis.scale import Scale, check_scale, scale_from_um_per_px
from analysis.shares import contact_areas, fraction_json, label_map, share_json
from analysis.unknown import unknown_zones
from analysis.walls import WallField, find_walls, strip, trace_walls
from analysis.workview import FINE, ROAD_PX, Workview, make_workview

Points = npt.NDArray[np.float64]
Progress = Callable[[str, float], None]
_WALLS_ASSUMED = 2  # common practice, no source: most prints have two or three walls


class RequestRefused(ValueError):  # noqa: N818  refusing is its meaning
    """A setting of the request can't be used; the message says which and why."""


@dataclass(frozen=True)
class ExamineRequest:
    """What a person knows of one photo. Lengths in mm, the outline and the zones in px of the upright photo.

    `outline` : an `Outline`, or a mapping with `outer_px` (or `outline_px`) and `holes_px`; found where it is None.
    `colour` is kept for the record and not used: the face's own colour is read from the photo.
    """

    photo: bytes | Path
    um_per_px: float
    line_width_mm: float
    layer_height_mm: float
    scale_relative_sd: float = 0.01
    wall_count: int | None = None
    contact_band_mm: float | None = None
    road_spacing_mm: float | None = None
    outline: Outline | Mapping[str, Any] | None = None
    unknown_zones_px: Sequence[Any] = ()
    surface: Literal["fracture", "outer"] = "fracture"
    mate: bytes | Path | None = None
    mate_um_per_px: float | None = None
    colour: str | None = None
    limits: PhotoLimits = field(default_factory=PhotoLimits)


@dataclass(frozen=True)
class WallStrip:
    """A wall unrolled: `labels` and `picture` (depth, along), row 0 on the outline's side."""

    outline: str
    index: int
    length_mm: float
    labels: npt.NDArray[np.uint8]
    picture: npt.NDArray[np.uint8]


@dataclass(frozen=True)
class Examination:
    """The JSON object, and what the pictures are drawn from.

    `labels` (rows, cols) class codes at working resolution; `px_per_pixel` photo px per label pixel;
    `origin_px` photo px of the outer corner of label pixel (0, 0): its centre is origin + px_per_pixel/2 - 1/2.
    """

    result: dict[str, Any]
    labels: npt.NDArray[np.uint8]
    px_per_pixel: float
    origin_px: tuple[float, float] = (0.0, 0.0)
    wall_strips: list[WallStrip] = field(default_factory=list)
    cues: dict[str, npt.NDArray[np.float32]] = field(default_factory=dict)


def examine(request: ExamineRequest, progress: Progress | None = None) -> Examination:
    """Measure one photo.

    Parameters
    ----------
    request : ExamineRequest
    progress : callable, optional
        Called with a stage's name and the share done, 0 to 1. What it raises passes through: so a job is cancelled.

    Returns
    -------
    Examination
        `result` holds every key of the contract; what can't be had is None and has an entry under `reasons`.

    Raises
    ------
    PhotoRefused, ScaleRefused, OutlineRefused, FaceTooSmall, RequestRefused
        The input can't be used; the message says what to do.
    """
    tell = progress or (lambda stage, share: None)
    _check(request)
    tell("photo", 0.0)
    begun = time.perf_counter()
    photo = read_photo(request.photo, request.limits, max_side_px=_side_wanted(request))
    decoded = time.perf_counter()
    scale = scale_from_um_per_px(request.um_per_px, request.scale_relative_sd)
    check_scale(scale, photo.facts.width_px, photo.facts.height_px, request.line_width_mm)
    tell("outline", 0.2)
    if request.surface == "outer":
        found = _examine_outer(request, photo)
    else:
        found = _examine_fracture(request, photo, scale, tell)
    _weigh(found.result)
    found.result["seconds"] = {
        "decode": round(decoded - begun, 4),
        "measure": round(time.perf_counter() - decoded, 4),
    }
    tell("done", 1.0)
    return found


def _check(request: ExamineRequest) -> None:
    numbers = {
        "line width": request.line_width_mm,
        "layer height": request.layer_height_mm,
        "contact band": request.contact_band_mm,
        "road spacing": request.road_spacing_mm,
    }
    for name, value in numbers.items():
        if value is not None and not (np.isfinite(value) and value > 0):
            raise RequestRefused(f"The {name} must be above 0 mm, not {value:g}.")
    if request.layer_height_mm >= request.line_width_mm * 2:
        raise RequestRefused("The layer height is more than twice the line width: one of the two is wrong.")
    if request.contact_band_mm is not None and request.contact_band_mm > request.line_width_mm:
        raise RequestRefused("The contact band is wider than the road it lies on.")
    if request.wall_count is not None and not 0 <= request.wall_count <= 100:
        raise RequestRefused(f"The number of walls must be 0 to 100, not {request.wall_count}.")
    if request.surface not in ("fracture", "outer"):
        raise RequestRefused(f"The surface must be fracture or outer, not {request.surface!r}.")


def _side_wanted(request: ExamineRequest) -> int | None:
    """Longest side to decode to: a little finer than the working grid needs, so large photos are read reduced."""
    if not (np.isfinite(request.um_per_px) and request.um_per_px > 0):
        return None
    spare = request.line_width_mm * 1000 / request.um_per_px / (ROAD_PX * FINE)
    if spare <= 2.2:
        return None
    try:
        source = request.photo if isinstance(request.photo, Path) else io.BytesIO(request.photo)
        with Image.open(source) as image:
            longest = max(image.size)
    except Exception:  # read_photo refuses what can't be opened, with words of its own
        return None
    return max(int(longest / (spare / 1.6)), 600)


def _outline_of(request: ExamineRequest, photo: Photo, scale: Scale) -> Outline:
    given = request.outline
    if given is None:
        return find_outline(photo, scale)
    if isinstance(given, Outline):
        return given
    outer = given.get("outer_px", given.get("outline_px"))
    if outer is None:
        raise RequestRefused('The outline has no "outline_px": give a list of [x, y] points.')
    return check_outline(outer, given.get("holes_px") or (), photo.facts.width_px, photo.facts.height_px)


def _examine_fracture(request: ExamineRequest, photo: Photo, scale: Scale, tell: Progress) -> Examination:
    outline = _outline_of(request, photo, scale)
    tell("walls", 0.4)
    view = make_workview(
        photo.srgb, photo.px_per_pixel, scale.um_per_px, request.line_width_mm, outline.outer_px, outline.holes_px
    )
    spacing = request.road_spacing_mm or request.line_width_mm
    count = _WALLS_ASSUMED if request.wall_count is None else request.wall_count
    walls = find_walls(view, count, spacing / view.mm_per_px)
    band = request.contact_band_mm or max(request.line_width_mm - request.layer_height_mm, 0.2 * request.line_width_mm)
    band_share = min(band / request.line_width_mm, 1.0)
    tell("bonding", 0.5)
    reading = read_face(view, walls, band, request.line_width_mm)
    tell("measures", 0.8)
    return _measured(request, outline, scale, view, walls, reading, band_share)


def _measured(
    request: ExamineRequest,
    outline: Outline,
    scale: Scale,
    view: Workview,
    walls: WallField,
    reading: Reading,
    band_share: float,
) -> Examination:
    own = reading.own_chroma
    unknown = unknown_zones(view, reading, own, request.unknown_zones_px)
    labels = label_map(view, reading, unknown)
    areas = contact_areas(view, reading, unknown, band_share)
    result = _empty("fracture", view.inside.sum() * view.mm_per_px**2, outline)
    result["unknown_share"] = round(float(unknown.sum() / max(view.inside.sum(), 1)), 4)
    if areas.known.any():
        spread = find_spread(
            view, reading, areas.bonded, areas.nominal, areas.known, outline.edge_sd_px, scale.relative_sd
        )
        result["bonded_share_of_face"] = share_json(areas, spread)
        result["bonded_area_fraction"] = fraction_json(areas, spread)
    measured = [
        wall_gaps.measure_wall(view, walls, reading, areas.known, wall, band_share) for wall in trace_walls(view, walls)
    ]
    result["walls"] = [wall_gaps.wall_json(view, m) for m in measured]
    lengths = [g["length_mm"] for w in result["walls"] for g in w["gaps"]]
    result["largest_gap_mm"] = max(lengths, default=0.0) if measured else None
    result["layer_planes"] = planes_json(view, walls, find_planes(view, reading))
    _say_why(result, request, reading, view, outline, own, measured)
    picture = _as_srgb(view.linear)
    strips = [
        WallStrip(
            m.wall.outline,
            m.wall.index,
            m.wall.length_px * view.mm_per_px,
            np.asarray(strip(labels, m.wall, view.road_px, order=0), np.uint8),
            np.asarray(strip(picture, m.wall, view.road_px), np.uint8),
        )
        for m in measured
    ]
    cues = {"bonded": reading.classes[..., 0], "missing": reading.classes[..., 2], "hidden": reading.hidden}
    return Examination(result, labels, view.step, view.origin_px, strips, cues)


def _as_srgb(linear: npt.NDArray[np.float32]) -> npt.NDArray[np.uint8]:
    bright = np.clip(linear, 0, 1)
    coded = np.where(bright <= 0.0031308, bright * 12.92, 1.055 * bright ** (1 / 2.4) - 0.055)
    return np.asarray(np.rint(coded * 255), np.uint8)


def _empty(surface: str, area_mm2: float, outline: Outline | None) -> dict[str, Any]:
    """Every key of the contract, with nothing known yet."""

    def ring(points: Points) -> list[list[float]]:
        return [[round(float(x), 2), round(float(y), 2)] for x, y in points]

    return {
        "surface": surface,
        "face_area_mm2": round(float(area_mm2), 4),
        "outline_px": ring(outline.outer_px) if outline else [],
        "holes_px": [ring(h) for h in outline.holes_px] if outline else [],
        "unknown_share": None,
        "bonded_share_of_face": None,
        "bonded_area_fraction": None,
        "walls": [],
        "largest_gap_mm": None,
        "layer_planes": [],
        "touched_share": None,
        "gap_agreement": None,
        "gap_agreement_by_chance": None,
        "mate_fit": None,
        "mate_affine": None,
        "rub_area_mm2": None,
        "scratch_deg": None,
        "evidence": [],
        "verdict": None,
        "warnings": [],
        "reasons": {},
        "seconds": {"decode": 0.0, "measure": 0.0},
    }


def _say_why(
    result: dict[str, Any],
    request: ExamineRequest,
    reading: Reading,
    view: Workview,
    outline: Outline,
    own: float,
    measured: Sequence[wall_gaps.MeasuredWall],
) -> None:
    """Warnings, and a reason beside every null."""
    warnings: list[str] = result["warnings"]
    if request.wall_count is None:
        warnings.append(warning("walls_guessed", count=_WALLS_ASSUMED))
    elif len({m.wall.index for m in measured if m.wall.outline == "outer"}) < request.wall_count:
        fit = len({m.wall.index for m in measured if m.wall.outline == "outer"})
        warnings.append(warning("walls_too_many", given=request.wall_count, fit=fit))
    if request.contact_band_mm is None:
        warnings.append(
            warning("band_guessed", band=max(request.line_width_mm - request.layer_height_mm, 0.2 * request.line_width_mm))
        )
    light = view.linear[view.inside]
    if own < 0.05 and float(np.median(light)) > 0.25:
        warnings.append(warning("white"))
    if result["unknown_share"] > 0.1:
        warnings.append(warning("unknown_large", share=result["unknown_share"]))
    if outline.method == "found" and outline.confidence < 0.7:
        warnings.append(warning("outline_unsure"))
    pixels = request.line_width_mm * 1000 / request.um_per_px
    if pixels < ROAD_PX:
        warnings.append(warning("coarse", pixels=pixels))
    entry = result["bonded_area_fraction"]
    if entry and entry["interval"][1] - entry["interval"][0] > 0.3:
        warnings.append(warning("wide_interval"))
    reasons = result["reasons"]
    reasons["touched_share"] = reason("touched")
    why = reason("no_mate" if request.mate is None else "mate_not_fitted")
    for key in ("gap_agreement", "gap_agreement_by_chance", "mate_fit", "mate_affine"):
        reasons[key] = why
    for key in ("rub_area_mm2", "scratch_deg"):
        reasons[key] = reason("fracture_face")
    if result["bonded_share_of_face"] is None:
        reasons["bonded_share_of_face"] = reason("all_unknown")
    if entry is None:
        reasons["bonded_area_fraction"] = reason(
            "no_contact" if result["bonded_share_of_face"] is not None else "all_unknown"
        )
    if not measured:
        reasons["walls"] = reasons["largest_gap_mm"] = reason("no_walls")
    if len(result["layer_planes"]) > 1:
        reasons["level"] = reason("level")


def _examine_outer(request: ExamineRequest, photo: Photo) -> Examination:
    """An outer surface: rub marks where that stage is there, and nothing of a fracture face."""
    outline = None
    if request.outline is not None:
        outline = _outline_of(request, photo, scale_from_um_per_px(request.um_per_px, request.scale_relative_sd))
    mask = np.ones(photo.srgb.shape[:2], bool)
    if outline is not None:
        mask = outline_mask(outline, mask.shape, photo.px_per_pixel)
    edge_mm = request.um_per_px / 1000 * photo.px_per_pixel
    result = _empty("outer", float(mask.sum()) * edge_mm**2, outline)
    for key in (
        "unknown_share", "bonded_share_of_face", "bonded_area_fraction", "walls", "largest_gap_mm", "layer_planes",
        "touched_share", "gap_agreement", "gap_agreement_by_chance", "mate_fit", "mate_affine",
    ):  # fmt: skip
        result["reasons"][key] = reason("outer_surface")
    _measure_rub(result, request, photo, mask)
    return Examination(result, np.full((1, 1), OUTSIDE, np.uint8), photo.px_per_pixel)


def _measure_rub(
    result: dict[str, Any], request: ExamineRequest, photo: Photo, mask: npt.NDArray[np.bool_]
) -> None:
    for key in ("rub_area_mm2", "scratch_deg"):
        result["reasons"][key] = reason("rub_not_measured")


def _weigh(result: dict[str, Any]) -> None:
    """Let the measures speak: evidence and verdict."""
    from analysis.observations import from_measures
    from analysis.verdict import weigh

    verdict = weigh(from_measures(result))
    result["verdict"] = verdict.to_json()
    result["evidence"] = verdict.evidence_json()
