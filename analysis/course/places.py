"""Where on the face: the region that let go first, the line on which it hung last, and what the front met in turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.course.patches import Patches, Reals
from analysis.roads.walls import RASTER, WallField
from analysis.roads.workview import Bools, Floats, Workview

FIFTH = 0.2  # judgement: of the contact, taken as "first" and as "last"
_NINETY = 4.605  # chi-square with two degrees of freedom, 90 %: an ellipse that holds nine draws of ten
_LEAST_PLANE = 0.03  # of the face, as for counting planes


@dataclass(frozen=True)
class Region:
    """An ellipse in mm: its middle, half axes, and the long one's direction in degrees modulo 180."""

    middle_mm: Reals
    half_long_mm: float
    half_short_mm: float
    long_deg: float


@dataclass(frozen=True)
class Met:
    """Roads or a plane met by the front: shares of the way at which it reached, half crossed and left them."""

    name: str
    index: int | None
    reached: float
    half_way: float
    left: float
    torn_share: float


def unit(deg: float | Reals) -> Reals:
    """Unit vector(s) of a direction in degrees, clockwise from +x with y down; (..., 2)."""
    return np.stack([np.cos(np.radians(deg)), np.sin(np.radians(deg))], -1)


def first_middle(patches: Patches, deg: float, weights: Reals) -> Reals:
    """Middle of what did not tear in the first fifth of the contact along a direction, mm; (2,)."""
    along = patches.xy_mm @ unit(deg)
    order = np.argsort(along)
    before = np.cumsum(weights[order]) - weights[order]
    taken = order[before < FIFTH * weights.sum()]
    untorn = weights[taken] * (1.02 - patches.torn[taken])
    if untorn.sum() <= 0:
        untorn = np.ones(len(taken))
    return np.asarray(np.average(patches.xy_mm[taken], axis=0, weights=untorn))


def origin_region(patches: Patches, deg: float, turned: Reals, often: Reals) -> Region:
    """Where it let go first: an ellipse that holds nine of ten resampled origins, no smaller than a patch."""
    middle = first_middle(patches, deg, patches.contact_mm2)
    draws = np.array(
        [
            first_middle(patches, deg + turn, count * patches.contact_mm2)
            for turn, count in zip(turned, often, strict=True)
        ]
    )
    off = draws - middle
    values, vectors = np.linalg.eigh(off.T @ off / len(off))
    short, long = np.sqrt(_NINETY * np.maximum(values, 0))
    least = patches.side_mm / 2
    angle = float(np.degrees(np.arctan2(vectors[1, 1], vectors[0, 1])) % 180)
    return Region(middle, max(float(long), least), max(float(short), least), angle)


def hinge_line(view: Workview, patches: Patches, deg: float) -> Reals | None:
    """Ends (2, 2) of the line on which it hung last, working px: straight across the way, cut off at the face's edge.

    It goes through the middle of what tore in the last fifth of the contact.
    """
    along = patches.xy_mm @ unit(deg)
    order = np.argsort(-along)
    before = np.cumsum(patches.contact_mm2[order]) - patches.contact_mm2[order]
    taken = order[before < FIFTH * patches.contact_mm2.sum()]
    torn = patches.contact_mm2[taken] * (0.02 + patches.torn[taken])
    through = np.average(patches.xy_mm[taken], axis=0, weights=torn) / view.mm_per_px
    steps = np.arange(-max(view.inside.shape), max(view.inside.shape), 0.5)
    line = through + steps[:, None] * unit(deg + 90)
    col, row = np.rint(line).astype(int).T
    there = (row >= 0) & (row < view.inside.shape[0]) & (col >= 0) & (col < view.inside.shape[1])
    there[there] = view.inside[row[there], col[there]]
    ends = np.flatnonzero(there)
    return np.asarray(line[ends[[0, -1]]]) if len(ends) > 1 else None


def way_map(view: Workview, contact: Floats, deg: float) -> Floats:
    """Share of the contact that lies before each working pixel along a direction, (rows, cols), 0 to 1."""
    rows, cols = contact.shape
    along = np.arange(cols)[None] * unit(deg)[0] + np.arange(rows)[:, None] * unit(deg)[1]
    step = np.floor(along - along.min()).astype(int)
    passed = np.cumsum(np.bincount(step.ravel(), contact.ravel().astype(float)))
    return np.asarray((passed / max(passed[-1], 1e-9))[step], np.float32)


def fifths(contact: Floats, torn: Floats, way: Floats) -> list[float]:
    """Torn share of each fifth of the contact, from where it let go first."""
    number = np.minimum((way / FIFTH).astype(int), 4).ravel()
    part = np.bincount(number, contact.ravel().astype(float), 5)
    return [float(v) for v in np.bincount(number, torn.ravel().astype(float), 5) / np.maximum(part, 1e-9)]


def _met(name: str, index: int | None, where: Bools, contact: Floats, torn: Floats, way: Floats) -> Met | None:
    weight = contact[where].astype(float)
    if weight.sum() <= 0:
        return None
    order = np.argsort(way[where])
    passed = np.cumsum(weight[order]) / weight.sum()
    places = way[where][order]
    reached, half_way, left = (float(places[np.searchsorted(passed, share)]) for share in (0.02, 0.5, 0.98))
    return Met(name, index, reached, half_way, left, float(torn[where].sum() / weight.sum()))


def roads_met(field: WallField, contact: Floats, torn: Floats, way: Floats) -> list[Met]:
    """Each wall and the filling, in the order in which a straight front reaches them."""
    names = ["outer", *(f"hole{number}" for number in range(len(field.distance) - 1))]
    found = [
        _met(name, index, (field.outline == outline) & (field.index == index), contact, torn, way)
        for outline, name in enumerate(names)
        for index in range(field.wall_count)
    ]
    found.append(_met("filling", None, (field.outline == RASTER) & (contact > 0), contact, torn, way))
    return sorted((one for one in found if one), key=lambda one: (one.reached, one.half_way))


def planes_met(numbers: npt.NDArray[np.int32], contact: Floats, torn: Floats, way: Floats) -> list[Met]:
    """Each plane of the face, in the order in which the front half crosses them; `index` is 1 for the largest."""
    total = max(int((numbers > 0).sum()), 1)
    found = [
        _met("plane", number, numbers == number, contact, torn, way)
        for number in range(1, int(numbers.max()) + 1)
        if (numbers == number).sum() >= _LEAST_PLANE * total
    ]
    return sorted((one for one in found if one), key=lambda one: one.half_way)
