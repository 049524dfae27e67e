"""How many micrometres a pixel of the original photo is, and how sure that is.

A scale error cancels in an area share. It enters a length once and an area twice, so `relative_sd` travels with the
scale.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

# A line's end set by hand or by eye to the nearest pixel: a rectangular spread of one pixel, sd 1/sqrt(12)
# (JCGM 100:2008, 4.3.7). People with a mouse do worse, so the door for hand-set points starts from a whole pixel.
_PIXEL_SD_PX = 1.0
_WIDEST_PHOTO_MM = 1000.0  # judgement: a face on a one-metre photo can't show its roads
_THINNEST_ROAD_PX = 2.0  # two samples a period, the least that can carry a road (Nyquist)
_LARGEST_RELATIVE_SD = 0.3  # judgement: an area would be unknown by 60 %


class ScaleRefused(ValueError):
    """This scale can't be right or can't be used; the message says why and what to do."""


@dataclass(frozen=True)
class Scale:
    """Micrometres per px of the original photo, with its relative standard uncertainty and how it was had."""

    um_per_px: float
    relative_sd: float
    method: str

    @property
    def mm_per_px(self) -> float:
        """Millimetres per px of the original photo."""
        return self.um_per_px / 1000.0

    @property
    def area_relative_sd(self) -> float:
        """Relative standard uncertainty of an area: twice that of a length (J2, first-order propagation)."""
        return 2.0 * self.relative_sd


def scale_from_um_per_px(um_per_px: float, relative_sd: float = 0.01) -> Scale:
    """Take a scale that the person knows, for instance from the microscope's own calibration.

    Parameters
    ----------
    um_per_px : float
        Micrometres per px of the original photo; above 0.
    relative_sd : float
        Relative standard uncertainty; 0.01 unless better is known (judgement).

    Raises
    ------
    ScaleRefused
        Not a number, zero or negative, or too uncertain to be of use.
    """
    return _scale(um_per_px, relative_sd, "given")


def scale_from_points(
    p1_px: Sequence[float],
    p2_px: Sequence[float],
    distance_mm: float,
    distance_sd_mm: float = 0.0,
    end_sd_px: float = _PIXEL_SD_PX,
) -> Scale:
    """Scale from two points whose distance is known, such as two lines of a rule.

    Parameters
    ----------
    p1_px, p2_px : sequence of 2 floats
        (x, y) in px of the original photo.
    distance_mm, distance_sd_mm : float
        The true distance in mm and its standard uncertainty.
    end_sd_px : float
        Standard uncertainty of each point along the line, in px.

    Returns
    -------
    Scale
        relative_sd**2 = (distance_sd / distance)**2 + 2 * (end_sd / length)**2, for uncorrelated inputs
        (JCGM 100:2008, 5.1).

    Raises
    ------
    ScaleRefused
        The points coincide, or a number is missing, zero or negative.
    """
    return _from_points(p1_px, p2_px, distance_mm, distance_sd_mm, end_sd_px, "two points")


def scale_from_roads(
    p1_px: Sequence[float],
    p2_px: Sequence[float],
    road_count: int,
    road_spacing_mm: float,
    spacing_relative_sd: float = 0.02,
    end_sd_px: float = 2.0,
) -> Scale:
    """Scale from the printed roads themselves: a line across them and the number of road spacings it spans.

    Parameters
    ----------
    p1_px, p2_px : sequence of 2 floats
        (x, y) in px, both at the same place of a road (middle to middle, or groove to groove), square to the roads.
    road_count : int
        Spacings between the two points, 1 or more; many are better, since the ends' error is shared out.
    road_spacing_mm : float
        Distance from road to road as sliced, in mm.
    spacing_relative_sd, end_sd_px : float
        How far the printed spacing strays from the sliced one, relative (2 %: judgement), and the ends' uncertainty
        in px.

    Raises
    ------
    ScaleRefused
        As `scale_from_points`; also for a count below 1.
    """
    if not math.isfinite(road_count) or road_count < 1:
        raise ScaleRefused(f"Count at least one road between the two points; {road_count} can't be used.")
    distance_mm = road_count * _positive(road_spacing_mm, "The distance from road to road")
    return _from_points(p1_px, p2_px, distance_mm, distance_mm * spacing_relative_sd, end_sd_px, "counted roads")


def scale_from_magnification(
    pixel_pitch_um: float, objective: float, eyepiece: float = 1.0, intermediate: float = 1.0, relative_sd: float = 0.05
) -> Scale:
    """Scale from the ratings on the lenses; a last resort, since nominal ratings are only approximate (ASTM E1951).

    Parameters
    ----------
    pixel_pitch_um : float
        Distance from pixel to pixel on the camera's sensor, in micrometres.
    objective, eyepiece, intermediate : float
        Magnifications; they multiply (ASTM E1951).
    relative_sd : float
        5 % unless a stage micrometer says better (judgement).

    Raises
    ------
    ScaleRefused
        A number is missing, zero or negative.
    """
    total = total_magnification(objective, eyepiece, intermediate)
    return _scale(_positive(pixel_pitch_um, "The pixel pitch") / total, relative_sd, "lens ratings")


def total_magnification(objective: float, eyepiece: float, intermediate: float = 1.0) -> float:
    """Total magnification, the product of the ratings (ASTM E1951: 10 × 10 × 1.25 = 125)."""
    named = (("objective", objective), ("eyepiece", eyepiece), ("intermediate lens", intermediate))
    return math.prod(_positive(value, f"The magnification of the {name}") for name, value in named)


def check_scale(scale: Scale, width_px: int, height_px: int, line_width_mm: float) -> None:
    """Refuse a scale that can't belong to this photo.

    Parameters
    ----------
    scale : Scale
        The scale to be judged.
    width_px, height_px : int
        Size of the original upright photo.
    line_width_mm : float
        Width of a printed road in mm.

    Raises
    ------
    ScaleRefused
        The scale is no positive number, the photo would be more than 1 m wide, or a road narrower than 2 px.
    """
    _positive(scale.um_per_px, "The scale")
    _positive(line_width_mm, "The line width")
    side_mm = max(width_px, height_px) * scale.mm_per_px
    if side_mm > _WIDEST_PHOTO_MM:
        raise ScaleRefused(
            f"At {scale.um_per_px:g} µm per px the photo would be {side_mm / 1000:.3g} m wide. "
            "Check the known distance and its unit."
        )
    road_px = line_width_mm / scale.mm_per_px
    if road_px < _THINNEST_ROAD_PX:
        raise ScaleRefused(
            f"A road of {line_width_mm:g} mm would be only {road_px:.2g} px wide at {scale.um_per_px:g} µm per px. "
            "Check the scale and the line width, or take the photo from nearer."
        )
    if road_px > 2.0 * max(width_px, height_px):
        raise ScaleRefused(
            f"A road of {line_width_mm:g} mm would be {road_px:.0f} px wide, more than twice the photo. "
            "Check the scale and the line width."
        )


def _from_points(
    p1_px: Sequence[float],
    p2_px: Sequence[float],
    distance_mm: float,
    distance_sd_mm: float,
    end_sd_px: float,
    method: str,
) -> Scale:
    if len(p1_px) != 2 or len(p2_px) != 2 or not all(math.isfinite(v) for v in (*p1_px, *p2_px)):
        raise ScaleRefused("Each end of the known distance needs an x and a y in the photo.")
    _positive(distance_mm, "The known distance")
    named = ((distance_sd_mm, "uncertainty of the known distance"), (end_sd_px, "uncertainty of the points"))
    for value, name in named:
        if not math.isfinite(value) or value < 0:
            raise ScaleRefused(f"The {name} can't be {value:g}. Give 0 or more.")
    length_px = math.dist(p1_px, p2_px)
    if length_px < 1.0:
        raise ScaleRefused("The two points lie on the same spot. Set them as far apart as the photo allows.")
    relative_sd = math.sqrt((distance_sd_mm / distance_mm) ** 2 + 2.0 * (end_sd_px / length_px) ** 2)
    return _scale(distance_mm * 1000.0 / length_px, relative_sd, method)


def _scale(um_per_px: float, relative_sd: float, method: str) -> Scale:
    _positive(um_per_px, "The scale")
    if not math.isfinite(relative_sd) or relative_sd < 0:
        raise ScaleRefused(f"The scale's uncertainty can't be {relative_sd:g}. Give a share such as 0.01.")
    if relative_sd > _LARGEST_RELATIVE_SD:
        raise ScaleRefused(
            f"The scale would be uncertain by {relative_sd:.0%}, too much to measure with. "
            "Take a longer known distance, or set the points more exactly."
        )
    return Scale(float(um_per_px), float(relative_sd), method)


def _positive(value: float, name: str) -> float:
    if not math.isfinite(value):
        raise ScaleRefused(f"{name} must be a number above 0.")
    if value == 0:
        raise ScaleRefused(f"{name} can't be 0. Give a number above 0.")
    if value < 0:
        raise ScaleRefused(f"{name} can't be negative ({value:g}). Give a number above 0.")
    return value
