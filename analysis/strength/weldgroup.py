"""Stresses in a group of welds, elastic: which place gives way first, and under what.

Plane sections, unsymmetrical bending and eccentricity are in. Torque is shared by the patches as by welds or rivets,
τ = T·r/J with the polar moment about the centroid of the welds; the torsion constant of a solid section would count
on material that isn't there. Shear force is spread evenly, V/A. The notch effect of the edges is not in, so the real
peak is higher.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.strength.loadcase import Resultants
from analysis.strength.section import Section, Weights, outer_corners, section_properties

Criterion = Literal["von_mises", "opening", "principal_tension"]
CRITERIA: dict[Criterion, str] = {
    "von_mises": "equivalent stress after von Mises",
    "opening": "equivalent stress after von Mises, pressure left out, for layers that part",
    "principal_tension": "greatest principal tension, for a weld that breaks brittle",
}


@dataclass(frozen=True)
class Peak:
    """The place that gives way first: (x, y) in mm from pixel (0, 0), its stresses in MPa, and what they come from.

    `normal_mpa` and `bending_mpa` are normal stresses (tension positive), `shear_mpa` and `torque_mpa` sizes of the
    shear; `equivalent_mpa` is what the strength is held against.
    """

    x_mm: float
    y_mm: float
    normal_mpa: float
    bending_mpa: float
    shear_mpa: float
    torque_mpa: float
    equivalent_mpa: float

    @property
    def limited_by(self) -> str:
        """The largest part at that place: tension, compression, bending, shear or torque."""
        straight = "tension" if self.normal_mpa > 0 else "compression"
        # Shear counts with the root of 3, as in von Mises' equivalent.
        parts = {
            straight: abs(self.normal_mpa),
            "bending": abs(self.bending_mpa),
            "shear": math.sqrt(3) * self.shear_mpa,
            "torque": math.sqrt(3) * self.torque_mpa,
        }
        return max(parts, key=lambda name: parts[name])


@dataclass(frozen=True)
class WeldGroup:
    """A map of welds: `weights` (rows, cols) 0 to 1, `mm_per_px` the side of a pixel."""

    weights: Weights
    mm_per_px: float

    @cached_property
    def section(self) -> Section:
        """Its section properties; raises SectionRefused where nothing carries."""
        return section_properties(self.weights, self.mm_per_px)

    @cached_property
    def corners_mm(self) -> NDArray[np.float64]:
        """Outermost places (n, 2) from the centroid of the welds, mm."""
        return np.asarray(outer_corners(self.weights, self.mm_per_px) - (self.section.x_mm, self.section.y_mm))

    def peak(self, load: Resultants, criterion: Criterion = "von_mises") -> Peak:
        """The place with the greatest equivalent stress.

        Parameters
        ----------
        load : force and moment at the centroid of the welds.
        """
        straight, bent, shear, twist = self._stresses(self.corners_mm, load)
        tau = shear + twist
        size = equivalent_mpa(straight + bent, np.hypot(tau[:, 0], tau[:, 1]), criterion)
        # Of equals the one that is pulled: a bent face gives way where it opens.
        pulled = np.flatnonzero(size >= size.max() * (1 - 1e-9))
        at = int(pulled[np.argmax(bent[pulled])])
        return Peak(
            x_mm=float(self.corners_mm[at, 0] + self.section.x_mm),
            y_mm=float(self.corners_mm[at, 1] + self.section.y_mm),
            normal_mpa=straight,
            bending_mpa=float(bent[at]),
            shear_mpa=float(np.hypot(*shear)),
            torque_mpa=float(np.hypot(*twist[at])),
            equivalent_mpa=float(size[at]),
        )

    def normal_range_mpa(self, load: Resultants) -> tuple[float, float]:
        """Least and greatest normal stress over the welds; below 0 it presses."""
        straight, bent, _, _ = self._stresses(self.corners_mm, load)
        return straight + float(bent.min()), straight + float(bent.max())

    def equivalent_map_mpa(self, load: Resultants, criterion: Criterion = "von_mises") -> NDArray[np.float64]:
        """Equivalent stress at the centre of every pixel that carries, (rows, cols); NaN elsewhere."""
        rows, cols = np.nonzero(self.weights)
        places = np.column_stack([cols, rows]).astype(np.float64) * self.mm_per_px
        places -= (self.section.x_mm, self.section.y_mm)
        straight, bent, shear, twist = self._stresses(places, load)
        tau = shear + twist
        out = np.full(self.weights.shape, np.nan)
        out[rows, cols] = equivalent_mpa(straight + bent, np.hypot(tau[:, 0], tau[:, 1]), criterion)
        return out

    def _stresses(
        self, places_mm: NDArray[np.float64], load: Resultants
    ) -> tuple[float, NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """N/A, bending (n,), V/A (2,) and torque's shear (n, 2) at places from the centroid of the welds."""
        area, polar = self.section.area_mm2, self.section.polar_mm4
        slope = np.linalg.solve(self.section.tensor_mm4, [load.bending_y_nmm, load.bending_x_nmm])
        shear = np.array([load.shear_x_n, load.shear_y_n]) / area
        twist = load.torque_nmm / polar * np.column_stack([-places_mm[:, 1], places_mm[:, 0]])
        return load.normal_n / area, places_mm @ slope, shear, twist

    def bending_modulus_mm3(self, angle_deg: float) -> float:
        """Moment about the axis `angle_deg` from x towards y, over the greatest stress that it makes, mm³.

        Where the axis isn't a principal one the section bends askew as well; that is in.
        """
        turn = math.radians(angle_deg)
        slope = np.linalg.solve(self.section.tensor_mm4, [-math.sin(turn), math.cos(turn)])
        return float(1 / np.abs(self.corners_mm @ slope).max())

    @property
    def torque_modulus_mm3(self) -> float:
        """Polar moment over the distance of the outermost place, mm³."""
        return self.section.polar_mm4 / float(np.hypot(*self.corners_mm.T).max())


def equivalent_mpa(
    normal_mpa: NDArray[np.float64], shear_mpa: NDArray[np.float64], criterion: Criterion
) -> NDArray[np.float64]:
    """One stress to hold against the strength in tension, never below 0."""
    if criterion == "von_mises":
        return np.asarray(np.sqrt(normal_mpa**2 + 3 * shear_mpa**2))
    if criterion == "opening":
        return np.asarray(np.sqrt(np.maximum(normal_mpa, 0) ** 2 + 3 * shear_mpa**2))
    return np.asarray(normal_mpa / 2 + np.hypot(normal_mpa / 2, shear_mpa))
