"""The result's `course`: numbers in px and degrees of the photo, and what the mating half says of the same way."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.common.caveats import reason
from analysis.course.course import PATCHY_BAR, SHUFFLED_BAR, Course, Way, find_course, way_of
from analysis.course.places import Met, unit
from analysis.reading.half import Half

READING = "Contact that parted without tearing let go first; what tore and whitened held last."
STATUS = "common practice, no source"
Affine = npt.NDArray[np.float64]


def course_json(
    half: Half, planes: npt.NDArray[np.int32], own: Half | None = None, mate: Half | None = None,
    affine: Affine | None = None,
) -> tuple[dict[str, Any] | None, str]:  # fmt: skip
    """The course of the break as JSON, or None with the reason in words.

    Parameters
    ----------
    half : the face, read from both halves where there is a mate. planes : its layer planes.
    own, mate : both halves each read by itself; affine : (2, 3) from photo px of this face to px of the mate's photo.
    """
    course = find_course(half.view, half.reading, half.known, half.walls, planes)
    if isinstance(course, str):
        return None, reason(course)
    beside = None
    if own is not None and mate is not None and affine is not None:
        beside = _beside(own, mate, affine)
        if beside["agrees"] is False:
            return None, reason("course_mates_apart")
    return _written(half, course) | {"mate": beside}, ""


def _beside(own: Half, mate: Half, affine: Affine) -> dict[str, Any]:
    """The way by each half alone, both on this photo; whether their intervals reach each other, None if one is mute."""
    ways = [way_of(one.view, one.reading, one.known) for one in (own, mate)]
    alone, other = (None if isinstance(way, str) else _interval(way) for way in ways)
    if other is not None:
        other = through(other, affine)
    agrees = None if alone is None or other is None else reach(alone, other)
    return {"this_half_deg": alone, "other_half_deg": other, "agrees": agrees}


def through(interval: dict[str, Any], affine: Affine) -> dict[str, Any]:
    """A direction on the mate's photo as it lies on this one; a mirrored photo turns its interval round."""
    back = np.asarray(np.linalg.inv(affine[:, :2]), float)
    ends = [_turned(back, deg) for deg in (interval["value"], *interval["interval"])]
    off = sorted((end - ends[0] + 180) % 360 - 180 for end in ends[1:])
    return {"value": round(ends[0], 1), "interval": [round(ends[0] + one, 1) for one in off]}


def _turned(back: Affine, deg: float) -> float:
    x, y = back @ unit(deg)
    return float(np.degrees(np.arctan2(y, x)) % 360)


def reach(first: dict[str, Any], second: dict[str, Any]) -> bool:
    """Whether two 90 % intervals of direction reach each other: as many degrees apart as their half widths squared."""
    halves = [(one["interval"][1] - one["interval"][0]) / 2 for one in (first, second)]
    apart = abs((first["value"] - second["value"] + 180) % 360 - 180)
    return bool(apart <= np.hypot(*halves))


def _interval(way: Way) -> dict[str, Any]:
    return {"value": round(way.deg, 1), "interval": [round(v, 1) for v in way.interval_deg]}


def _written(half: Half, course: Course) -> dict[str, Any]:
    view, way = half.view, course.way
    photo_px = view.step / view.mm_per_px  # photo px per mm
    middle = view.to_photo(course.origin.middle_mm / view.mm_per_px)
    hinge = None if course.hinge_px is None else [_place(p) for p in view.to_photo(course.hinge_px)]
    return {
        "direction_deg": _interval(way),
        "origin": {
            "centre_px": _place(middle),
            "half_long_px": round(course.origin.half_long_mm * photo_px, 1),
            "half_short_px": round(course.origin.half_short_mm * photo_px, 1),
            "long_deg": round(course.origin.long_deg, 1),
        },
        "hinge": {"line_px": hinge},
        "torn_by_fifths": [round(v, 4) for v in course.torn_by_fifths],
        "trend": {
            "explained": round(way.trend.explained, 4),
            "patches": len(course.patches),
            "patch_mm": round(course.patches.side_mm, 4),
            "shuffled": _chance(way.shuffled, SHUFFLED_BAR),
            "patchy": _chance(way.patchy, PATCHY_BAR),
        },
        "roads": [_met(one) for one in course.roads],
        "planes": [_met(one) for one in course.planes],
        "planes_order_kept": None if course.planes_sure is None else round(course.planes_sure, 4),
        "reading": READING,
        "status": STATUS,
    }


def _chance(found: tuple[float, float], bar: float) -> dict[str, float]:
    return {"as_strong": round(found[0], 4), "bar": bar, "strength_at_bar": round(found[1], 4)}


def _met(one: Met) -> dict[str, Any]:
    return {
        "name": one.name,
        "index": one.index,
        "reached": round(one.reached, 4),
        "half_way": round(one.half_way, 4),
        "left": round(one.left, 4),
        "torn_share": round(one.torn_share, 4),
    }


def _place(point: npt.NDArray[np.float64]) -> list[float]:
    return [round(float(v), 1) for v in point]
