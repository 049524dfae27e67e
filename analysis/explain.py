"""The result's JSON object before anything is known, and the warnings and reasons that go with what was found."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.common.caveats import reason, warning
from analysis.outlines.outline import Outline
from analysis.reading.half import WALLS_ASSUMED, Half, Roads
from analysis.reading.wallcheck import check_walls
from analysis.roads.workview import ROAD_PX

MATE_KEYS = ("gap_agreement", "gap_agreement_by_chance", "mate_fit", "mate_affine")
RUB_KEYS = ("rub_area_mm2", "scratch_deg")
FRACTURE_KEYS = (
    "unknown_share",
    "bonded_share_of_face",
    "bonded_area_fraction",
    "walls",
    "largest_gap_mm",
    "layer_planes",
    "touched_share",
    "course",
)


def empty_result(surface: str, area_mm2: float, outline: Outline | None) -> dict[str, Any]:
    """Every key of the contract, with nothing known yet."""

    def ring(points: npt.NDArray[np.float64]) -> list[list[float]]:
        return [[round(float(x), 2), round(float(y), 2)] for x, y in points]

    result: dict[str, Any] = dict.fromkeys((*FRACTURE_KEYS, *MATE_KEYS, *RUB_KEYS))
    return {
        "surface": surface,
        "face_area_mm2": round(float(area_mm2), 4),
        "outline_px": ring(outline.outer_px) if outline else [],
        "holes_px": [ring(h) for h in outline.holes_px] if outline else [],
        **result,
        "walls": [],
        "layer_planes": [],
        "evidence": [],
        "verdict": None,
        "warnings": [],
        "reasons": {},
        "seconds": {"decode": 0.0, "measure": 0.0},
    }


def explain_fracture(result: dict[str, Any], half: Half, roads: Roads) -> None:
    """Add warnings, and a reason beside every null that isn't about the mate."""
    result["warnings"] += _warnings(result, half, roads)
    reasons = result["reasons"]
    reasons["touched_share"] = reason("touched")
    reasons |= dict.fromkeys(RUB_KEYS, reason("fracture_face"))
    if result["bonded_share_of_face"] is None:
        reasons["bonded_share_of_face"] = reason("all_unknown")
    if result["bonded_area_fraction"] is None:
        known = result["bonded_share_of_face"] is not None
        reasons["bonded_area_fraction"] = reason("no_contact" if known else "all_unknown")
    if not result["walls"]:
        reasons["walls"] = reasons["largest_gap_mm"] = reason("no_walls")
    if len(result["layer_planes"]) > 1:
        reasons["level"] = reason("level")


def _warnings(result: dict[str, Any], half: Half, roads: Roads) -> list[str]:
    found = []
    fit = len({w["index"] for w in result["walls"] if w["outline"] == "outer"})
    if roads.wall_count is None:
        found.append(warning("walls_guessed", count=WALLS_ASSUMED))
    elif fit < roads.wall_count:
        found.append(warning("walls_too_many", given=roads.wall_count, fit=fit))
    found += _mismatches(half, roads)
    if roads.contact_band_mm is None:
        found.append(warning("band_guessed", band=roads.band_mm))
    if half.spacing_measured:
        spacing = half.walls.spacing_px * half.view.mm_per_px
        found.append(warning("spacing", spacing=spacing, width=roads.line_width_mm))
    if half.reading.own_chroma < 0.05 and float(np.median(half.view.linear[half.view.inside])) > 0.25:
        found.append(warning("white"))
    if result["unknown_share"] > 0.1:
        found.append(warning("unknown_large", share=result["unknown_share"]))
    if half.outline.method == "found" and half.outline.confidence < 0.7:
        found.append(warning("outline_unsure"))
    pixels = roads.line_width_mm * 1000 / half.scale.um_per_px
    if pixels < ROAD_PX:
        found.append(warning("coarse", pixels=pixels))
    entry = result["bonded_area_fraction"]
    if entry and entry["interval"][1] - entry["interval"][0] > 0.3:
        found.append(warning("wide_interval"))
    return found


def _mismatches(half: Half, roads: Roads) -> list[str]:
    """Where the photo shows another number of walls, or another width, than was given: both are named."""
    given = half.walls.wall_count
    check = check_walls(half.view, half.walls, given)
    found = []
    if check.count_seen is not None:
        found.append(warning("walls_seen", given=given, seen=check.count_seen))
    seen, spacing = check.width_mm_seen, roads.spacing_mm
    if seen is not None and (spacing is None or abs(seen / spacing - 1) > 0.15):
        found.append(warning("width_seen", given=roads.line_width_mm, seen=seen))
    return found


def explain_outer(result: dict[str, Any]) -> None:
    """Reasons for everything that a fracture face has and an outer surface has not."""
    result["reasons"] |= dict.fromkeys((*FRACTURE_KEYS, *MATE_KEYS), reason("outer_surface"))
