"""The drawing of a face with its welds: both middles, the main axes, where a load takes hold and where it gives way."""

import math
from dataclasses import dataclass
from typing import Any

from analysis.strength.facewelds import FaceWelds
from analysis.strength.section import Section, SectionRefused
from server.measuring.overlays import bar_length_mm, face_window
from server.records import LoadCase
from server.strength.ground import Ground

XY = tuple[float, float]
SQUARE_DEG = 0.5  # less along the face than this turns it, and no arrow is drawn


@dataclass(frozen=True)
class Arrow:
    """A load on the drawing: where it takes hold, the arrow's end where part of it lies in the face, its sign.

    `sign` is "off" for a pull towards the reader, "on" for a push away, "" for neither.
    """

    number: int
    start: XY
    end: XY | None
    head: str
    sign: str
    tag: XY


@dataclass(frozen=True)
class Spot:
    """Where a load's stress is highest."""

    number: int
    at: XY
    tag: XY


@dataclass(frozen=True)
class Drawing:
    """Shapes in the photo's px, as SVG takes them; `unit` is a hundredth of the window's longer side."""

    window: str
    unit: float
    rings: list[str]
    welds: XY | None
    gross: XY
    axes: list[tuple[XY, XY, XY, str]]
    arrows: list[Arrow]
    spots: list[Spot]
    bar: tuple[XY, XY]
    bar_words: str

    @property
    def tags(self) -> list[tuple[XY, str]]:
        """Every number on the drawing and where it stands; those that would lie on each other stand side by side."""
        names: dict[XY, list[str]] = {}
        for where, name in [
            *((tag, name) for _, _, tag, name in self.axes),
            *((one.tag, f"L{one.number}") for one in self.arrows),
            *((one.tag, f"L{one.number}") for one in self.spots),
        ]:
            near = next((place for place in names if math.dist(place, where) < 2 * self.unit), where)
            names.setdefault(near, []).append(name)
        return [(where, ", ".join(dict.fromkeys(group))) for where, group in names.items()]


class _Plane:
    """From mm on a label map to the photo's px, counted from its corner as SVG does."""

    def __init__(self, ground: Ground, face: FaceWelds) -> None:
        record = ground.measurement
        self.origin, self.step, self.side_mm = record.origin_px, record.px_per_pixel, face.side_mm

    def at(self, x_mm: float, y_mm: float) -> XY:
        return (self._px(x_mm, 0), self._px(y_mm, 1))

    def _px(self, mm: float, side: int) -> float:
        return round(self.origin[side] + (mm / self.side_mm + 0.5) * self.step, 2)

    def length(self, mm: float) -> float:
        return mm / self.side_mm * self.step


def draw(ground: Ground, face: FaceWelds, numbered: list[tuple[int, LoadCase, dict[str, Any] | None]]) -> Drawing:
    """Return the drawing; `numbered` holds each load with its number on the page and its highest stress."""
    plane, result = _Plane(ground, face), ground.measurement.result
    left, top, right, bottom = face_window(ground.measurement, ground.photo)
    unit = max(right - left, bottom - top) / 100
    welds, gross = _section(face), face.outline.section
    rings = [result.get("outline_px") or [], *(result.get("holes_px") or [])]
    bar_mm = bar_length_mm((right - left) * ground.um_per_px / 1000)
    bar_y = bottom - 3 * unit
    return Drawing(
        window=f"{left} {top} {right - left} {bottom - top}",
        unit=unit,
        rings=[" ".join(f"{x + 0.5:.1f},{y + 0.5:.1f}" for x, y in ring) for ring in rings if ring],
        welds=plane.at(welds.x_mm, welds.y_mm) if welds else None,
        gross=plane.at(gross.x_mm, gross.y_mm),
        axes=_axes(plane, welds) if welds else [],
        arrows=[_arrow(plane, gross, number, load, unit) for number, load, _ in numbered],
        spots=[_spot(plane, number, peak, unit) for number, _, peak in numbered if peak],
        bar=((left + 3 * unit, bar_y), (left + 3 * unit + bar_mm * 1000 / ground.um_per_px, bar_y)),
        bar_words=f"{bar_mm:g} mm",
    )


def _section(face: FaceWelds) -> Section | None:
    try:
        return face.built().section
    except SectionRefused:
        return None


def _axes(plane: _Plane, welds: Section) -> list[tuple[XY, XY, XY, str]]:
    """Both main axes through the welds' middle, each twice the radius of gyration to either side."""
    found = []
    # Bending about the first axis is resisted most: the welds lie far from it, so the other axis is the longer one.
    for name, turn, second in (("1", 0.0, welds.i2_mm4), ("2", 90.0, welds.i1_mm4)):
        reach = 1.6 * math.sqrt(max(second, 0.0) / welds.area_mm2)
        angle = math.radians(welds.angle_deg + turn)
        dx, dy = reach * math.cos(angle), reach * math.sin(angle)
        ends = [plane.at(welds.x_mm + side * dx, welds.y_mm + side * dy) for side in (-1, 1)]
        tag = plane.at(welds.x_mm + 1.12 * dx, welds.y_mm + 1.12 * dy)
        found.append((ends[0], ends[1], tag, name))
    return found


def _arrow(plane: _Plane, gross: Section, number: int, load: LoadCase, unit: float) -> Arrow:
    start = plane.at(gross.x_mm + load.offset_right_mm, gross.y_mm + load.offset_down_mm)
    lies = abs(math.sin(math.radians(load.tilt_deg)))
    sign = "" if abs(load.tilt_deg - 90) < SQUARE_DEG else "off" if load.tilt_deg < 90 else "on"
    if load.azimuth_deg is None or lies < math.sin(math.radians(SQUARE_DEG)):
        return Arrow(number, start, None, "", sign, (start[0] + 3.5 * unit, start[1] - 3.5 * unit))
    angle = math.radians(load.azimuth_deg)
    along, aside = (math.cos(angle), math.sin(angle)), (-math.sin(angle), math.cos(angle))
    length = 26 * unit
    end = (start[0] + length * along[0], start[1] + length * along[1])
    corners = [end] + [
        (
            end[0] - 3.6 * unit * along[0] + side * 1.8 * unit * aside[0],
            end[1] - 3.6 * unit * along[1] + side * 1.8 * unit * aside[1],
        )
        for side in (-1, 1)
    ]
    head = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners)
    back = (end[0] - 3 * unit * along[0], end[1] - 3 * unit * along[1])
    tag = (end[0] + 3 * unit * along[0], end[1] + 3 * unit * along[1])
    return Arrow(number, start, back, head, sign, tag)


def _spot(plane: _Plane, number: int, peak: dict[str, Any], unit: float) -> Spot:
    at = plane.at(peak["x_mm"], peak["y_mm"])
    return Spot(number, at, (at[0] + 3.2 * unit, at[1] - 2.6 * unit))
