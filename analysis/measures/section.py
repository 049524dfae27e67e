"""Section properties of a face by adding up its pixels: holes and separate patches need no special care.

Each pixel counts as a square of side a, with its own second moment a⁴/12 besides its distance from the centroid,
so a shape whose edges run along pixel borders comes out exact. x runs right, y down, the origin is the centre of
pixel (0, 0), all in mm. A torsion constant is not given: separate welded patches are a weld group, whose shear
from torque goes with the polar moment.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


class SectionRefused(ValueError):
    """A section that has no properties; the message says what to mend."""


@dataclass(frozen=True)
class Section:
    """Properties of a section. `ix` is about the axis along x (it resists bending over y), `iy` about that along y.

    The second moments, moduli and `polar_mm4` stand about the centroid. `angle_deg` turns the x axis (towards y, so
    clockwise on the screen) into the axis of the greatest second moment, `i1_mm4`; it lies in (-90, 90] and means
    nothing where i1 = i2. `z_*` is I over the distance of the outermost pixel edge on that side.
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


def section_properties(mask: NDArray[np.bool_], mm_per_px: float) -> Section:
    """Area, centroid, second moments, principal axes, moduli and polar moment of the true pixels.

    Parameters
    ----------
    mask : bool array (rows, cols)
        True where there is material; any number of holes and separate patches.
    mm_per_px : float
        Side of a pixel.

    Raises
    ------
    SectionRefused
        Nothing is true, or the scale is not above 0.
    """
    x, y = _points(mask, mm_per_px)
    pixel = mm_per_px * mm_per_px
    own = pixel / 12
    area = len(x) * pixel
    xc, yc = float(x.mean()), float(y.mean())
    dx, dy = x - xc, y - yc
    ix = pixel * (float(dy @ dy) + own * len(y))
    iy = pixel * (float(dx @ dx) + own * len(x))
    ixy = pixel * float(dx @ dy)
    half = mm_per_px / 2
    mean, radius = (ix + iy) / 2, math.hypot((ix - iy) / 2, ixy)
    return Section(
        area_mm2=area,
        x_mm=xc,
        y_mm=yc,
        ix_mm4=ix,
        iy_mm4=iy,
        ixy_mm4=ixy,
        i1_mm4=mean + radius,
        i2_mm4=mean - radius,
        angle_deg=math.degrees(math.atan2(-2 * ixy, ix - iy) / 2),
        polar_mm4=ix + iy,
        z_top_mm3=ix / (half - float(dy.min())),
        z_bottom_mm3=ix / (half + float(dy.max())),
        z_left_mm3=iy / (half - float(dx.min())),
        z_right_mm3=iy / (half + float(dx.max())),
    )


def section_modulus(mask: NDArray[np.bool_], mm_per_px: float, angle_deg: float) -> float:
    """Least section modulus about the axis through the centroid that lies `angle_deg` from x towards y, mm³."""
    whole = section_properties(mask, mm_per_px)
    turn = math.radians(angle_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    moment = whole.ix_mm4 * cos**2 + whole.iy_mm4 * sin**2 - 2 * whole.ixy_mm4 * sin * cos
    x, y = _points(mask, mm_per_px)
    away = np.abs((y - whole.y_mm) * cos - (x - whole.x_mm) * sin)
    # The outermost corner of a pixel lies this much farther out than its centre.
    return moment / (float(away.max()) + (abs(cos) + abs(sin)) * mm_per_px / 2)


def stress_extremes_mpa(
    mask: NDArray[np.bool_], mm_per_px: float, force_n: float, at_mm: tuple[float, float]
) -> tuple[float, float]:
    """Least and greatest normal stress of a pull (positive) at a point of the section plane, MPa.

    Elastic, plane sections, unsymmetrical bending included; the notch effect of the edges is not, so the real
    peak is higher. `at_mm` is (x, y) in the frame of the mask.
    """
    whole = section_properties(mask, mm_per_px)
    tensor = np.array([[whole.iy_mm4, whole.ixy_mm4], [whole.ixy_mm4, whole.ix_mm4]])
    lever = np.array([at_mm[0] - whole.x_mm, at_mm[1] - whole.y_mm])
    slope = np.linalg.solve(tensor, force_n * lever)
    x, y = _points(mask, mm_per_px)
    at_centre = force_n / whole.area_mm2 + slope[0] * (x - whole.x_mm) + slope[1] * (y - whole.y_mm)
    to_corner = float(np.abs(slope).sum()) * mm_per_px / 2
    return float(at_centre.min()) - to_corner, float(at_centre.max()) + to_corner


def _points(mask: NDArray[np.bool_], mm_per_px: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Centres (x, y) in mm of the true pixels."""
    if mask.ndim != 2 or mask.dtype != np.bool_:
        raise TypeError("mask must be a two-dimensional array of bool")
    if not (math.isfinite(mm_per_px) and mm_per_px > 0):
        raise SectionRefused("a section needs a scale: give mm per pixel above 0")
    rows, cols = np.nonzero(mask)
    if len(rows) == 0:
        raise SectionRefused("nothing is left of the section; check the outline and the marked zones")
    return cols.astype(np.float64) * mm_per_px, rows.astype(np.float64) * mm_per_px
