"""Section properties of a face by adding up its pixels: holes and separate patches need no special care.

Each pixel counts as a square of side a, with its own second moment a⁴/12 besides its distance from the centroid,
so a shape whose edges run along pixel borders comes out exact. A pixel may count in part (weight 0 to 1). x runs
right, y down, the origin is the centre of pixel (0, 0), all in mm. A torsion constant is not given: separate welded
patches are a weld group, whose shear from torque goes with the polar moment.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Weights = NDArray[np.bool_] | NDArray[np.floating]
Points = NDArray[np.float64]


class SectionRefused(ValueError):
    """A section that has no properties; the message says what to mend."""


@dataclass(frozen=True)
class Section:
    """Properties of a section. `ix` is about the axis along x (it resists bending over y), `iy` about that along y.

    The second moments, moduli and `polar_mm4` stand about the centroid. `angle_deg` turns the x axis (towards y, so
    clockwise on the screen) into the axis of the greatest second moment, `i1_mm4`; it lies in (-90, 90] and means
    nothing where i1 = i2. `z_*` is I over the distance of the outermost edge on that side.
    """

    area_mm2: float
    x_mm: float
    y_mm: float
    ix_mm4: float
    iy_mm4: float
    ixy_mm4: float
    i1_mm4: float
    i2_mm4: float
    angle_deg: float
    polar_mm4: float
    z_top_mm3: float
    z_bottom_mm3: float
    z_left_mm3: float
    z_right_mm3: float

    @property
    def tensor_mm4(self) -> NDArray[np.float64]:
        """Second moments of place, [[∫x², ∫xy], [∫xy, ∫y²]] about the centroid."""
        return np.array([[self.iy_mm4, self.ixy_mm4], [self.ixy_mm4, self.ix_mm4]])

    def moment_about(self, angle_deg: float) -> float:
        """Second moment about the centroidal axis that lies `angle_deg` from x towards y, mm⁴."""
        turn = math.radians(angle_deg)
        cos, sin = math.cos(turn), math.sin(turn)
        return self.ix_mm4 * cos**2 + self.iy_mm4 * sin**2 - 2 * self.ixy_mm4 * sin * cos

    def to_json(self) -> dict[str, float]:
        """Every property under its name with its unit, to five significant digits."""
        return {name: float(f"{value:.5g}") for name, value in self.__dict__.items()}


def section_properties(weights: Weights, mm_per_px: float) -> Section:
    """Area, centroid, second moments, principal axes, moduli and polar moment of a map of welds.

    Parameters
    ----------
    weights : bool or float array (rows, cols)
        Share of each pixel that carries, 0 to 1; any number of holes and separate patches.
    mm_per_px : float
        Side of a pixel.

    Raises
    ------
    SectionRefused
        Nothing carries, or the scale is not above 0.
    """
    w = _checked(weights, mm_per_px)
    pixel = mm_per_px * mm_per_px
    own = pixel / 12
    # Sums along rows and columns: every moment of the map is one of them, and none needs a list of its pixels.
    by_col, by_row = w.sum(axis=0), w.sum(axis=1)
    x, y = np.arange(w.shape[1]) * mm_per_px, np.arange(w.shape[0]) * mm_per_px
    total = float(by_col.sum())
    xc, yc = float(x @ by_col) / total, float(y @ by_row) / total
    dx, dy = x - xc, y - yc
    ix = pixel * (float(by_row @ dy**2) + own * total)
    iy = pixel * (float(by_col @ dx**2) + own * total)
    ixy = pixel * float(dy @ (w @ dx))
    half = mm_per_px / 2
    cols, rows = np.flatnonzero(by_col), np.flatnonzero(by_row)
    sides = (half - dy[rows[0]], half + dy[rows[-1]], half - dx[cols[0]], half + dx[cols[-1]])
    return _section(total * pixel, (xc, yc), (ix, iy, ixy), sides)


def polygon_section(outer_mm: Points, holes_mm: Sequence[Points] = ()) -> Section:
    """The same for an area bounded by polygons, exactly, by Green's theorem.

    Parameters
    ----------
    outer_mm, holes_mm : float (n, 2)
        Corners (x, y) in either sense, without a repeated last one; holes lie inside and apart.

    Raises
    ------
    SectionRefused
        The polygons enclose nothing.
    """
    origin = np.asarray(outer_mm, float).mean(axis=0)  # near the centroid, so that little is lost to cancellation
    sums = _ring_integrals(np.asarray(outer_mm, float) - origin)
    for hole in holes_mm:
        sums = sums - _ring_integrals(np.asarray(hole, float) - origin)
    area, sx, sy, sxx, syy, sxy = (float(value) for value in sums)
    if not area > 0:
        raise SectionRefused("The outline encloses nothing.")
    xc, yc = sx / area, sy / area
    away = np.asarray(outer_mm, float) - origin - (xc, yc)
    (left, top), (right, bottom) = -away.min(axis=0), away.max(axis=0)
    moments = (syy - area * yc * yc, sxx - area * xc * xc, sxy - area * xc * yc)
    return _section(area, (xc + float(origin[0]), yc + float(origin[1])), moments, (top, bottom, left, right))


def _ring_integrals(ring: Points) -> NDArray[np.float64]:
    """∫ of 1, x, y, x², y², xy over a polygon, positive whatever its sense."""
    x, y = ring.T
    x2, y2 = np.roll(x, -1), np.roll(y, -1)
    cross = x * y2 - x2 * y
    sums = np.array(
        [
            cross.sum() / 2,
            ((x + x2) * cross).sum() / 6,
            ((y + y2) * cross).sum() / 6,
            ((x * x + x * x2 + x2 * x2) * cross).sum() / 12,
            ((y * y + y * y2 + y2 * y2) * cross).sum() / 12,
            ((x * y2 + 2 * x * y + 2 * x2 * y2 + x2 * y) * cross).sum() / 24,
        ]
    )
    return sums if sums[0] >= 0 else -sums


def _section(
    area: float,
    centroid: tuple[float, float],
    moments: tuple[float, float, float],
    sides: tuple[float, float, float, float],
) -> Section:
    """Assemble from moments (ix, iy, ixy) and distances of the edges (top, bottom, left, right)."""
    ix, iy, ixy = moments
    mean, radius = (ix + iy) / 2, math.hypot((ix - iy) / 2, ixy)
    top, bottom, left, right = (float(side) for side in sides)
    return Section(
        area_mm2=area,
        x_mm=centroid[0],
        y_mm=centroid[1],
        ix_mm4=ix,
        iy_mm4=iy,
        ixy_mm4=ixy,
        i1_mm4=mean + radius,
        i2_mm4=mean - radius,
        angle_deg=math.degrees(math.atan2(-2 * ixy, ix - iy) / 2),
        polar_mm4=ix + iy,
        z_top_mm3=ix / top,
        z_bottom_mm3=ix / bottom,
        z_left_mm3=iy / left,
        z_right_mm3=iy / right,
    )


def section_modulus(weights: Weights, mm_per_px: float, angle_deg: float) -> float:
    """Least section modulus I/c about the centroidal axis that lies `angle_deg` from x towards y, mm³."""
    whole = section_properties(weights, mm_per_px)
    turn = math.radians(angle_deg)
    away = outer_corners(weights, mm_per_px) - (whole.x_mm, whole.y_mm)
    reach = np.abs(away @ np.array([-math.sin(turn), math.cos(turn)])).max()
    return whole.moment_about(angle_deg) / float(reach)


def outer_corners(weights: Weights, mm_per_px: float) -> Points:
    """Corners of the convex hull around all pixels that carry, (n, 2) of (x, y) in mm.

    Every stress that grows outward is greatest at one of them: normal stress is linear in the place, and both von
    Mises' equivalent and the greatest principal stress are convex functions of stresses linear in the place.
    """
    from scipy.spatial import ConvexHull

    there = weights.astype(bool)
    rows = np.flatnonzero(there.any(axis=1))
    if len(rows) == 0:
        raise SectionRefused("nothing is left of the section; check the outline and the marked zones")
    first = there[rows].argmax(axis=1)
    last = there.shape[1] - 1 - there[rows][:, ::-1].argmax(axis=1)
    sides = (first - 0.5, last + 0.5)
    ends = np.concatenate([np.column_stack([side, rows + half]) for half in (-0.5, 0.5) for side in sides])
    return np.asarray(ends[ConvexHull(ends).vertices] * mm_per_px)


def _checked(weights: Weights, mm_per_px: float) -> Points:
    """The map as float, where it can be one."""
    if weights.ndim != 2 or weights.dtype.kind not in "bf":
        raise TypeError("the map must be a two-dimensional array of bool or float")
    if not (math.isfinite(mm_per_px) and mm_per_px > 0):
        raise SectionRefused("a section needs a scale: give mm per pixel above 0")
    if not weights.any():
        raise SectionRefused("nothing is left of the section; check the outline and the marked zones")
    if not (float(weights.min()) >= 0 and float(weights.max()) <= 1):
        raise ValueError("weights must lie between 0 and 1")
    return weights.astype(np.float64)
