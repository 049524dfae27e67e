"""How sure a face's section properties are: scale, place of the outline, bonded area as measured."""

from __future__ import annotations

import math
from typing import Any

from analysis.strength.facewelds import FaceWelds, outline_log_sd
from analysis.strength.section import Section, SectionRefused
from analysis.strength.weldgroup import WeldGroup

POWERS = {"area_mm2": 2, "ix_mm4": 4, "iy_mm4": 4, "i1_mm4": 4, "i2_mm4": 4, "polar_mm4": 4} | dict.fromkeys(
    ("z_top_mm3", "z_bottom_mm3", "z_left_mm3", "z_right_mm3"), 3
)


def relative_sds(face: FaceWelds, full: Section, shrunk: Section | None, bonded_sd: float) -> dict[str, float]:
    """Relative standard deviation of each property of `POWERS`; `shrunk` is the section without its rim."""
    spread = {}
    for name, power in POWERS.items():
        value = getattr(full, name)
        per_px = 1.0 if shrunk is None else math.log(value / getattr(shrunk, name))
        parts = (power * face.scale_relative_sd, outline_log_sd(face.edge_sd_px, per_px), bonded_sd)
        spread[name] = math.hypot(*parts)
    return spread


def sections_json(face: FaceWelds) -> dict[str, Any]:
    """Gross face, fully bonded face and face as built (unknown zones like the rest), each with relative spreads."""
    inner = face.without_rim
    groups: dict[str, tuple[WeldGroup | None, WeldGroup | None, float]] = {
        "gross": (face.outline, None if inner is None else inner.outline, 0.0),
        "fully_bonded": (face.whole, None if inner is None else inner.whole, 0.0),
        "as_built": (face.built(), None if inner is None else inner.built(), face.bonded_relative_sd),
    }
    told = {name: _one(face, *parts) for name, parts in groups.items()}
    return told | {"eccentricity_mm": eccentricity_mm(face)}


def eccentricity_mm(face: FaceWelds) -> list[float] | None:
    """Centroid of the welds from the centroid of the gross face, (x, y) in mm; None where nothing is bonded."""
    welds, gross = _section(face.built()), face.outline.section
    return None if welds is None else [round(welds.x_mm - gross.x_mm, 4), round(welds.y_mm - gross.y_mm, 4)]


def _one(face: FaceWelds, group: WeldGroup | None, shrunk: WeldGroup | None, bonded_sd: float) -> dict[str, Any] | None:
    section = _section(group)
    if section is None:
        return None
    spread = relative_sds(face, section, _section(shrunk), bonded_sd)
    return section.to_json() | {"relative_sd": {name: round(value, 4) for name, value in spread.items()}}


def _section(group: WeldGroup | None) -> Section | None:
    try:
        return None if group is None else group.section
    except SectionRefused:
        return None
