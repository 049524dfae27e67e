"""What is left of the fully bonded face: ratios without unit, so that they need neither scale nor material."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.strength.facewelds import HIDDEN, NO_CONTACT, NO_WELD, FaceWelds
from analysis.strength.loadcase import Resultants
from analysis.strength.ranges import Z90
from analysis.strength.section import SectionRefused
from analysis.strength.weldgroup import WeldGroup

ANGLES_DEG = tuple(range(0, 180, 5))


@dataclass(frozen=True)
class Ratio:
    """Share of the fully bonded face's capacity, with a 90 % range.

    The range holds the bonded area's own uncertainty, and the unknown zones once as bare and once as bonded.
    """

    value: float
    low: float
    high: float

    def to_json(self) -> dict[str, Any]:
        """Value and interval, rounded."""
        return {"value": round(self.value, 4), "interval": [round(self.low, 4), round(self.high, 4)]}


@dataclass(frozen=True)
class KnockDown:
    """Ratios as built to fully bonded.

    `area` : bonded area alone. `tension` : a pull at the centroid of the gross face, so that one-sided welds count
    with their eccentricity. `bending` : by the angle of the axis, `ANGLES_DEG` from x towards y. `shear` : V/A.
    `torque` : T·r/J of the weld group.
    """

    area: Ratio
    tension: Ratio
    shear: Ratio
    torque: Ratio
    bending: tuple[Ratio, ...]

    @property
    def weakest_axis(self) -> tuple[int, Ratio]:
        """Angle in degrees and ratio of the bending axis that lost most."""
        at = int(np.argmin([one.value for one in self.bending]))
        return ANGLES_DEG[at], self.bending[at]

    @property
    def strongest_axis(self) -> tuple[int, Ratio]:
        """Angle in degrees and ratio of the bending axis that lost least."""
        at = int(np.argmax([one.value for one in self.bending]))
        return ANGLES_DEG[at], self.bending[at]

    def to_json(self) -> dict[str, Any]:
        """Every ratio, the bending ones by angle, and the two extremes."""
        (weak, least), (strong, most) = self.weakest_axis, self.strongest_axis
        return {
            **{name: getattr(self, name).to_json() for name in ("area", "tension", "shear", "torque")},
            "bending": [{"axis_deg": a, **r.to_json()} for a, r in zip(ANGLES_DEG, self.bending, strict=True)],
            "bending_least": {"axis_deg": weak, **least.to_json()},
            "bending_most": {"axis_deg": strong, **most.to_json()},
        }


def knock_down(face: FaceWelds) -> tuple[KnockDown | None, str]:
    """Hold the face as built against the fully bonded one; None and the reason where that can't be."""
    whole = face.whole
    if whole is None:
        return None, NO_CONTACT
    try:
        groups = [face.built(hidden) for hidden in HIDDEN] if face.unknown.any() else [face.built()] * 3
        _ = groups[0].section, whole.section
    except SectionRefused:
        return None, NO_WELD
    centre = (face.outline.section.x_mm, face.outline.section.y_mm)

    def ratio(measure: Callable[[WeldGroup], float]) -> Ratio:
        full = measure(whole)
        low, mid, high = (measure(group) / full for group in groups)
        spread = math.exp(Z90 * face.bonded_relative_sd)
        most = max(low, mid, high)
        # What is bonded is at most what the design has; only an odd shape carries more with less.
        return Ratio(mid, min(low, mid, high) / spread, min(most * spread, max(most, 1.0)))

    return KnockDown(
        area=ratio(lambda group: group.section.area_mm2),
        tension=ratio(lambda group: pull_capacity(group, centre)),
        shear=ratio(lambda group: group.section.area_mm2),
        torque=ratio(lambda group: group.torque_modulus_mm3),
        bending=tuple(ratio(lambda group, a=angle: group.bending_modulus_mm3(a)) for angle in ANGLES_DEG),  # type: ignore[misc]
    ), ""


def pull_capacity(group: WeldGroup, at_mm: tuple[float, float]) -> float:
    """Pull in N at a point (x, y) of the plane that makes 1 MPa at the most stressed weld."""
    ex, ey = at_mm[0] - group.section.x_mm, at_mm[1] - group.section.y_mm
    return 1.0 / group.normal_range_mpa(Resultants(1.0, 0.0, 0.0, ey, ex, 0.0))[1]
