"""The course of the break over one face, or why it can't be told.

The reading: contact that parted without tearing let go first, and what tore, whitened and drew lips held last, as a
hinge does. That is common practice, no source. It is not the only one: in a tough polymer a crack that grows slowly
whitens too, and then runs on fast and smooth (fracture of notched tensile specimens of a transparent ABS; whitening
near the origin). So where nearly all of the contact tore, whitening alone tells no beginning from an end, and none is
given.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.course.patches import Patches, Reals, contact_and_torn, cut_patches
from analysis.course.places import (
    Met,
    Region,
    fifths,
    hinge_line,
    origin_region,
    planes_met,
    roads_met,
    way_map,
)
from analysis.course.trend import Trend, chance_patchy, chance_shuffled, fit_trend, resampled, turned_deg
from analysis.roads.walls import WallField
from analysis.roads.workview import Bools, Workview
from analysis.welds.bonding import Reading

SHUFFLED_BAR = 0.05  # share of shuffled arrangements that may show as strong a trend
PATCHY_BAR = 0.10  # of fields as patchy as the face, which already count part of a real trend as patchiness
LEAST_PATCHES = 12  # judgement: fewer leave the three numbers of a plane nothing to be judged by
NEARLY_NONE, NEARLY_ALL = 0.05, 0.85  # torn share of the contact; judgement
WIDEST_DEG = 75.0  # half width of the interval beyond which a direction is none


@dataclass(frozen=True)
class Way:
    """A direction over the face that stands out from chance; degrees clockwise from +x on the photo.

    interval_deg : 90 %, low to high; may run below 0 or past 360. shuffled, patchy : (how often chance does as well,
    strength at the bar). turned, often : the bootstrap's draws.
    """

    trend: Trend
    interval_deg: tuple[float, float]
    shuffled: tuple[float, float]
    patchy: tuple[float, float]
    turned: Reals
    often: Reals

    @property
    def deg(self) -> float:
        """From where it let go first to where it hung last."""
        return self.trend.deg


@dataclass(frozen=True)
class Course:
    """What is said of a face. hinge_px : (2, 2) ends in working px, None where the line misses the face."""

    way: Way
    patches: Patches
    origin: Region
    hinge_px: Reals | None
    torn_by_fifths: list[float]
    roads: list[Met]
    planes: list[Met]
    planes_sure: float | None


def find_way(patches: Patches) -> Way | str:
    """The direction in which the torn share rises, or the code of the reason why none is given."""
    if len(patches) < LEAST_PATCHES:
        return "course_small"
    if not NEARLY_NONE <= patches.mean <= NEARLY_ALL:
        return "course_even"
    shuffled = chance_shuffled(patches, SHUFFLED_BAR)
    if shuffled[0] > SHUFFLED_BAR:
        return "course_chance"
    patchy = chance_patchy(patches, PATCHY_BAR)
    if patchy[0] > PATCHY_BAR:
        return "course_patchy"
    often = resampled(patches)
    turned = turned_deg(patches, often)
    low, high = (float(v) for v in np.quantile(turned, (0.05, 0.95)))
    if high - low > 2 * WIDEST_DEG:
        return "course_wide"
    trend = fit_trend(patches)
    return Way(trend, (trend.deg + min(low, 0.0), trend.deg + max(high, 0.0)), shuffled, patchy, turned, often)


def way_of(view: Workview, reading: Reading, known: Bools) -> Way | str:
    """`find_way` for a face as read."""
    return find_way(cut_patches(view, *contact_and_torn(reading, known)))


def find_course(
    view: Workview, reading: Reading, known: Bools, field: WallField, planes: npt.NDArray[np.int32]
) -> Course | str:
    """How the break went over the face.

    Parameters
    ----------
    view, field : the face at working resolution and its walls.
    reading, known : (rows, cols) what each point is, and where it can be told; the rest is left out.
    planes : (rows, cols) layer planes, 1 upward by area, 0 outside.

    Returns
    -------
    Course, or the code of a reason in `analysis.common.caveats`.
    """
    contact, torn = contact_and_torn(reading, known)
    patches = cut_patches(view, contact, torn)
    way = find_way(patches)
    if isinstance(way, str):
        return way
    along = way_map(view, contact, way.deg)
    met = planes_met(planes, contact, torn, along)
    return Course(
        way,
        patches,
        origin_region(patches, way.deg, way.turned, way.often),
        hinge_line(view, patches, way.deg),
        fifths(contact, torn, along),
        roads_met(field, contact, torn, along),
        met,
        _order_kept(planes, met, way),
    )


def _order_kept(planes: npt.NDArray[np.int32], met: list[Met], way: Way) -> float | None:
    """How often the resampled directions keep the planes' order, by the planes' middles; None for a single plane."""
    if len(met) < 2:
        return None
    middles = np.array([np.argwhere(planes == one.index)[:, ::-1].mean(0) for one in met])
    angles = np.radians(way.deg + way.turned)
    along = middles[:, :1] * np.cos(angles) + middles[:, 1:] * np.sin(angles)
    return float((np.diff(along, axis=0) > 0).all(0).mean())
