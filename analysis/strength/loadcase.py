"""A load on a face: how much, which way, and where it takes hold; and what it comes to at the welds.

Frame: x right and y down on the photo, mm; the face's normal points out of the photo, towards the reader. The force
acts on the piece that broke off, as seen from this face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from analysis.strength.ranges import Range, RangeRefused

_ALONG = 1e-6  # share of the force below which it has no part in that direction


class LoadRefused(ValueError):
    """A load that can't be used; the message says what was wrong and what to give instead."""


@dataclass(frozen=True)
class Resultants:
    """Force and moment at the centroid of the welds, N and N·mm.

    `normal_n` pulls the halves apart where positive. `bending_x_nmm` is the moment about the axis along x and opens
    the side of larger y; `bending_y_nmm` that about the axis along y and opens the side of larger x. `torque_nmm`
    turns in the plane of the face from x to y.
    """

    normal_n: float
    shear_x_n: float
    shear_y_n: float
    bending_x_nmm: float
    bending_y_nmm: float
    torque_nmm: float


@dataclass(frozen=True)
class LoadCase:
    """One load.

    `force_n` : 90 % range of the force. `tilt_deg` : angle between force and face normal; 0 pulls straight away from
    the face, 90 along it, 180 pushes on it. `azimuth_deg` : direction of the part along the face on the photo, 0
    along +x, clockwise; needed unless the force has no such part. `reach_mm` : height of the force's point of attack
    above the face along the normal, None for none. `offset_mm` : (x, y) of the point of attack beside the centroid
    of the gross face. `kind` "bending" states that the force bends through its lever arm: then it needs one.

    Raises
    ------
    LoadRefused
        No direction, an impossible angle, a place that is no number, or bending without a lever arm.
    """

    name: str
    force_n: Range
    tilt_deg: float | None
    azimuth_deg: float | None = None
    reach_mm: Range | None = None
    offset_mm: tuple[float, float] = (0.0, 0.0)
    source: str = ""
    kind: Literal["force", "bending"] = "force"

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise LoadRefused("Give the load a name, such as “leaned on”.")
        self._check_direction()
        if len(self.offset_mm) != 2 or not all(math.isfinite(v) for v in self.offset_mm):
            raise LoadRefused("The place where the load takes hold needs two numbers in mm, or leave both empty.")
        if self.kind not in ("force", "bending"):
            raise LoadRefused(f"A load is a force or bending, not {self.kind!r}.")
        if self.kind == "bending":
            self._check_bending()

    def _check_direction(self) -> None:
        if self.tilt_deg is None:
            raise LoadRefused("The load has no direction: say how far it leans from straight away from the face.")
        if not (math.isfinite(self.tilt_deg) and 0 <= self.tilt_deg <= 180):
            raise LoadRefused("The load leans 0° (away from the face) to 180° (onto it); give an angle in between.")
        if self.azimuth_deg is not None and not math.isfinite(self.azimuth_deg):
            raise LoadRefused("The load's direction on the photo must be a number in degrees.")
        if self.azimuth_deg is None and self.along_share > _ALONG:
            raise LoadRefused("The load has a part along the face: say in which direction on the photo it points.")

    def _check_bending(self) -> None:
        if self.reach_mm is None:
            raise LoadRefused("Bending needs a lever arm above 0 mm: say how far from the face the force took hold.")
        if self.along_share <= _ALONG:
            raise LoadRefused("A force square to the face has no lever arm by its height: give its place beside it.")

    @property
    def along_share(self) -> float:
        """Part of the force that lies in the plane of the face, 0..1."""
        return abs(math.sin(math.radians(float(self.tilt_deg or 0.0))))

    @property
    def normal_share(self) -> float:
        """Part of the force along the normal, -1 (pushes on the face) .. 1 (pulls away)."""
        return math.cos(math.radians(float(self.tilt_deg or 0.0)))

    def at(self, welds_mm: tuple[float, float], force_n: float, reach_mm: float = 0.0) -> Resultants:
        """Resultants at the centroid of the welds.

        Parameters
        ----------
        welds_mm : (x, y) of the centroid of the welds, from the centroid of the gross face.
        force_n : the force's size. reach_mm : its height above the face.
        """
        turn = math.radians(self.azimuth_deg or 0.0)
        normal = force_n * self.normal_share
        along = force_n * self.along_share if self.along_share > _ALONG else 0.0
        vx, vy = along * math.cos(turn), along * math.sin(turn)
        ex, ey = self.offset_mm[0] - welds_mm[0], self.offset_mm[1] - welds_mm[1]
        return Resultants(
            normal_n=normal,
            shear_x_n=vx,
            shear_y_n=vy,
            # A push sideways at a height opens the side it comes from, hence the minus.
            bending_x_nmm=normal * ey - vy * reach_mm,
            bending_y_nmm=normal * ex - vx * reach_mm,
            torque_nmm=ex * vy - ey * vx,
        )


def lever_arm(low_mm: float | None, high_mm: float | None) -> Range | None:
    """The lever arm as a range, None where none was given or it is 0.

    Raises
    ------
    LoadRefused
        One end alone, below 0, no number, or upside down.
    """
    if low_mm is None and high_mm is None:
        return None
    if low_mm is None or high_mm is None:
        raise LoadRefused("A lever arm needs both ends of its range; give the same number twice where it is exact.")
    if low_mm == 0 and high_mm == 0:
        return None
    try:
        return Range(low_mm, high_mm)
    except RangeRefused as refused:
        raise LoadRefused(f"Lever arm: {refused}") from refused
