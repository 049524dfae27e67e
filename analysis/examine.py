"""Runs the stages in order: photo in, the result's JSON object and the pictures' parts out. Knows all the others."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from analysis.common.caveats import reason, warning
from analysis.course.report import course_json
from analysis.evidence.observations import from_measures
from analysis.evidence.verdict import weigh
from analysis.explain import MATE_KEYS, empty_result, explain_fracture, explain_outer
from analysis.halves.gaps import gap_agreement, gap_line
from analysis.halves.mating import fit_mate
from analysis.halves.pairing import combine, parted
from analysis.imaging.photo import Photo, PhotoLimits, PhotoRefused, read_photo
from analysis.imaging.scale import Scale, ScaleRefused, check_scale, scale_from_um_per_px
from analysis.measures.areas import contact_areas
from analysis.measures.gaps import Gaps, MeasuredWall, find_gaps, measure_wall, missing_along, stamp_gaps, wall_json
from analysis.measures.intervals import Spread, find_spread
from analysis.measures.marked import after_marks, mark_warnings
from analysis.measures.planes import find_planes, planes_json
from analysis.measures.rubbing import measure_rub
from analysis.measures.rubjson import rub_json, rub_labels
from analysis.measures.shares import fraction_json, label_map, share_json
from analysis.outlines.outline import Outline, OutlineRefused, outline_mask
from analysis.reading.half import Half, RequestRefused, Roads, outline_of, read_half, side_wanted
from analysis.reading.marked import with_marks
from analysis.roads.walls import Wall, strip, trace_walls
from analysis.roads.workview import FaceTooSmall
from analysis.welds.adapting import Adaptation
from analysis.welds.marks import Mark, check_marks, spared

__all__ = ["Examination", "ExamineRequest", "RequestRefused", "WallStrip", "examine"]

Progress = Callable[[str, float], None]


@dataclass(frozen=True)
class ExamineRequest:
    """What a person knows of one photo. Lengths in mm, the outline and the zones in px of the upright photo.

    `outline` : an `Outline`, or a mapping with `outer_px` (or `outline_px`) and `holes_px`; found where it is None.
    `colour` is kept for the record and not used: the face's own colour is read from the photo.
    `marks` : what the person says of single places, each (x_px, y_px, radius_px, BONDED, BARE or UNKNOWN).
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
    marks: Sequence[Any] = ()
    limits: PhotoLimits = field(default_factory=PhotoLimits)

    @property
    def roads(self) -> Roads:
        """The toolpath's numbers on their own."""
        return Roads(
            self.line_width_mm, self.layer_height_mm, self.wall_count, self.contact_band_mm, self.road_spacing_mm
        )


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
    `cues` maps on the labels' grid, 0 to 1, that the labels were decided by. `spread` : what the intervals are made of.
    """

    result: dict[str, Any]
    labels: npt.NDArray[np.uint8]
    px_per_pixel: float
    origin_px: tuple[float, float] = (0.0, 0.0)
    wall_strips: list[WallStrip] = field(default_factory=list)
    cues: dict[str, npt.NDArray[np.float32]] = field(default_factory=dict)
    spread: Spread | None = None


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
    PhotoRefused, ScaleRefused, OutlineRefused, FaceTooSmall, RequestRefused, MarkRefused
        The input can't be used; the message says what to do.
    """
    tell = progress or (lambda stage, share: None)
    _check(request)
    tell("photo", 0.0)
    begun = time.perf_counter()
    wanted = None
    if request.surface == "fracture":
        wanted = side_wanted(request.photo, request.um_per_px, request.line_width_mm)
    photo = read_photo(request.photo, request.limits, max_side_px=wanted)
    decoded = time.perf_counter()
    scale = scale_from_um_per_px(request.um_per_px, request.scale_relative_sd)
    check_scale(scale, photo.facts.width_px, photo.facts.height_px, request.line_width_mm)
    found = (
        _examine_outer(request, photo, scale) if request.surface == "outer" else _fracture(request, photo, scale, tell)
    )
    verdict = weigh(from_measures(found.result))
    found.result["verdict"], found.result["evidence"] = verdict.to_json(), verdict.evidence_json()
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
    if request.layer_height_mm > request.line_width_mm * 2:
        raise RequestRefused("The layer height is more than twice the line width: one of the two is wrong.")
    if request.contact_band_mm is not None and request.contact_band_mm > request.line_width_mm:
        raise RequestRefused("The contact band is wider than the road it lies on.")
    spacing = request.road_spacing_mm or request.line_width_mm
    if not 0.3 <= spacing / request.line_width_mm <= 3:
        raise RequestRefused("The road spacing must be within a third and three times the line width.")
    if request.wall_count is not None and not 0 <= request.wall_count <= 100:
        raise RequestRefused(f"The number of walls must be 0 to 100, not {request.wall_count}.")
    if request.surface not in ("fracture", "outer"):
        raise RequestRefused(f"The surface must be fracture or outer, not {request.surface!r}.")


def _fracture(request: ExamineRequest, photo: Photo, scale: Scale, tell: Progress) -> Examination:
    marks = check_marks(request.marks, photo.facts.width_px, photo.facts.height_px)
    tell("outline", 0.2)
    outline = outline_of(request.outline, photo, scale)
    tell("bonding", 0.4)
    half = own = read_half(photo, scale, outline, request.roads, request.unknown_zones_px)
    area = half.view.inside.sum() * half.view.mm_per_px**2
    result = empty_result("fracture", area, outline)
    tell("mate", 0.6)
    paired = _read_mate(request, half, result)
    if paired is not None:
        mate, affine = paired
        mixed = combine(half.view, half.reading, half.known, mate.view, mate.reading, mate.known, affine)
        half = replace(half, reading=mixed)
    tell("measures", 0.8)
    half, told = with_marks(half, marks)
    half, traced, gaps = _with_gaps(half, marks)
    walls, spread = _measure(half, request.roads, 1 if paired is None else 2, (traced, gaps), result, told)
    planes = find_planes(half.view, half.walls).numbers
    result["layer_planes"] = planes_json(half.view, half.walls, planes)
    result["course"], why = course_json(half, planes, own, *(paired or (None, None)))
    if why:
        result["reasons"]["course"] = why
    if paired is not None:
        _agree(half, walls, *paired, request.line_width_mm, result)
    explain_fracture(result, half, request.roads)
    result["warnings"] += mark_warnings(told)
    return replace(_with_pictures(half, walls, result), spread=spread)


def _read_mate(
    request: ExamineRequest, half: Half, result: dict[str, Any]
) -> tuple[Half, npt.NDArray[np.float64]] | None:
    """The mating half and the way it lies on this one, where a photo of it was given and it fits."""
    mate, why = _mate_half(request)
    if mate is None:
        result["reasons"] |= dict.fromkeys(MATE_KEYS, why)
        return None
    fit = fit_mate(half.outline, mate.outline, half.scale, mate.scale, request.line_width_mm, half.view, mate.view)
    result["mate_fit"] = fit.fit
    if fit.affine is not None:
        result["mate_affine"] = [[round(float(v), 6) for v in row] for row in fit.affine]
    if fit.affine is not None and fit.fit == "fits":
        return mate, np.asarray(fit.affine, float)
    missing = (key for key in MATE_KEYS if result[key] is None)
    result["reasons"] |= dict.fromkeys(missing, " ".join(fit.reasons))
    return None


def _mate_half(request: ExamineRequest) -> tuple[Half | None, str]:
    """The mate, read by its own outline, or why it can't be. A bad photo of the mate doesn't spoil this face."""
    if request.mate is None:
        return None, reason("no_mate")
    if request.mate_um_per_px is None:
        return None, reason("mate_without_scale")
    try:
        wanted = side_wanted(request.mate, request.mate_um_per_px, request.line_width_mm)
        photo = read_photo(request.mate, request.limits, max_side_px=wanted)
        scale = scale_from_um_per_px(request.mate_um_per_px, request.scale_relative_sd)
        check_scale(scale, photo.facts.width_px, photo.facts.height_px, request.line_width_mm)
        return read_half(photo, scale, outline_of(None, photo, scale), request.roads), ""
    except (PhotoRefused, ScaleRefused, OutlineRefused, FaceTooSmall) as error:
        return None, f"{reason('mate_unread')} {error}"


def _with_gaps(half: Half, marks: Sequence[Mark] = ()) -> tuple[Half, list[Wall], list[Gaps]]:
    """The walls with their gaps, and the reading with the gaps' roads called missing."""
    walls = trace_walls(half.view, half.walls)
    missing = missing_along(half.view, half.reading, walls)
    missing = [spared(half.view, wall, one, marks) for wall, one in zip(walls, missing, strict=True)]
    gaps = [find_gaps(half.view, wall, one) for wall, one in zip(walls, missing, strict=True)]
    return replace(half, reading=stamp_gaps(half.view, half.walls, half.reading, walls, gaps)), walls, gaps


def _measure(
    half: Half,
    roads: Roads,
    readings: int,
    traced: tuple[list[Wall], list[Gaps]],
    result: dict[str, Any],
    told: Adaptation | None = None,
) -> tuple[list[MeasuredWall], Spread | None]:
    """Fill in shares, walls and gaps."""
    view, unknown = half.view, half.unknown
    result["unknown_share"] = round(float(unknown.sum() / max(view.inside.sum(), 1)), 4)
    areas = contact_areas(view, half.reading, unknown, roads.band_share)
    spread = None
    if areas.known.any():
        spread = find_spread(view, half.reading, areas, half.outline.edge_sd_px, half.scale.relative_sd, readings)
        spread = after_marks(spread, areas, told)
        result["bonded_share_of_face"] = share_json(areas, spread)
        result["bonded_area_fraction"] = fraction_json(areas, spread)
    walls = [
        measure_wall(view, half.walls, half.reading, areas.known, wall, gaps, roads.band_share)
        for wall, gaps in zip(*traced, strict=True)
    ]
    result["walls"] = [wall_json(view, one) for one in walls]
    if walls:
        result["largest_gap_mm"] = max((g["length_mm"] for w in result["walls"] for g in w["gaps"]), default=0.0)
    return walls, spread


def _agree(
    half: Half,
    walls: Sequence[MeasuredWall],
    mate: Half,
    affine: npt.NDArray[np.float64],
    line_width_mm: float,
    result: dict[str, Any],
) -> None:
    lines = [gap_line(half.view, one) for one in walls]
    told = gap_agreement(lines, parted(mate.reading, mate.known), mate.view, affine, line_width_mm)
    for wall, shares in zip(result["walls"], told.per_wall, strict=True):
        for gap, share in zip(wall["gaps"], shares, strict=True):
            gap["confirmed"] = None if share is None else round(share, 4)  # None: the mate can't tell
    if told.share is None or told.by_chance is None:
        result["reasons"] |= dict.fromkeys(("gap_agreement", "gap_agreement_by_chance"), told.reason)
        return
    result["gap_agreement"], result["gap_agreement_by_chance"] = round(told.share, 4), round(told.by_chance, 4)


def _with_pictures(half: Half, walls: Sequence[MeasuredWall], result: dict[str, Any]) -> Examination:
    view = half.view
    labels = label_map(view, half.reading, half.unknown)
    picture = _as_srgb(view.linear)
    strips = [
        WallStrip(
            one.wall.outline,
            one.wall.index,
            one.wall.length_px * view.mm_per_px,
            np.asarray(strip(labels, one.wall, view.road_px, order=0), np.uint8),
            np.asarray(strip(picture, one.wall, view.road_px), np.uint8),
        )
        for one in walls
    ]
    classes = half.reading.classes
    cues = {
        "bonded": classes[..., 0],
        "missing": classes[..., 2],
        "hidden": half.reading.hidden,
        "step": half.reading.border,
    }
    return Examination(result, labels, view.step, view.origin_px, strips, cues)


def _as_srgb(linear: npt.NDArray[np.float32]) -> npt.NDArray[np.uint8]:
    """Linear light to 8-bit sRGB (IEC 61966-2-1)."""
    bright = np.clip(linear, 0, 1)
    coded = np.where(bright <= 0.0031308, bright * 12.92, 1.055 * bright ** (1 / 2.4) - 0.055)
    return np.asarray(np.rint(coded * 255), np.uint8)


def _examine_outer(request: ExamineRequest, photo: Photo, scale: Scale) -> Examination:
    """An outer surface: rub marks alone. Without an outline the whole photo is the surface."""
    outline = None if request.outline is None else outline_of(request.outline, photo, scale)
    shape = (photo.srgb.shape[0], photo.srgb.shape[1])
    mask = np.ones(shape, bool)
    if outline is not None:
        mask = outline_mask(outline, shape, photo.px_per_pixel)
    result = empty_result("outer", float(mask.sum()) * (scale.mm_per_px * photo.px_per_pixel) ** 2, outline)
    explain_outer(result)
    rub = measure_rub(photo, scale)
    entries, reasons = rub_json(rub)
    result |= entries
    result["reasons"] |= reasons
    if rub.rub_area_mm2 == 0:
        result["warnings"].append(warning("even_rub"))
    cues = {"rubbed": rub.mask.astype(np.float32)}
    return Examination(result, rub_labels(rub), photo.px_per_pixel, cues=cues)
