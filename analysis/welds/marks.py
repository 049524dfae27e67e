"""What a person says of single places of a face: "this is bonded", "this is bare", "this can't be told"."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.common.classes import BARE, BONDED, NAMES, UNKNOWN
from analysis.roads.walls import Wall
from analysis.roads.workview import Bools, Workview
from analysis.welds.bonding import Reading

KINDS: Final = {NAMES[code]: code for code in (BONDED, BARE, UNKNOWN)}
MOST = 200  # judgement: whoever sets more than that is counting, and a count is its own measure
LEAST_ROADS = 0.15  # a mark is at least this wide a radius: a finger doesn't name a single pixel
REACH_ROADS = 3.0  # judgement: how far what hides a mark "can't be told" may reach beyond it
_HIDDEN_LEAST = 0.15  # below this the reader sees no grease in the mark, and there is nothing to follow
_GLARE = 0.9  # share of the brightest tenth of a per cent of the face from which a mark is taken for glare
Along = npt.NDArray[np.floating]
_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)  # IEC 61966-2-1 primaries


class MarkRefused(ValueError):
    """A mark can't be used; the message says which and why."""


@dataclass(frozen=True)
class Mark:
    """A disc of the photo and what the person calls it: `code` is BONDED, BARE or UNKNOWN; px of the upright photo."""

    x_px: float
    y_px: float
    radius_px: float
    code: int


def check_marks(given: Iterable[Any], width_px: int, height_px: int) -> tuple[Mark, ...]:
    """Marks from `Mark`s or from (x, y, radius, kind), kind a class code or its name.

    Raises
    ------
    MarkRefused : too many, not four values, outside the photo, a radius or a kind that can't be.
    """
    marks = tuple(_mark(one, number, width_px, height_px) for number, one in enumerate(given, 1))
    if len(marks) > MOST:
        raise MarkRefused(f"{len(marks)} marks are more than the {MOST} that can be used. Count by hand instead.")
    return marks


def _mark(one: Any, number: int, width_px: int, height_px: int) -> Mark:
    if isinstance(one, Mark):
        x, y, radius, kind = one.x_px, one.y_px, one.radius_px, one.code
    elif isinstance(one, Sequence) and not isinstance(one, str) and len(one) == 4:
        x, y, radius, kind = one
    else:
        raise MarkRefused(f'Mark {number} must be [x, y, radius, "bonded", "bare" or "unknown"], in px.')
    code = KINDS.get(kind) if isinstance(kind, str) else kind
    if code not in KINDS.values():
        raise MarkRefused(f"Mark {number} is called {kind!r}: say bonded, bare or unknown.")
    try:
        x, y, radius = float(x), float(y), float(radius)
    except (TypeError, ValueError) as error:
        raise MarkRefused(f"Mark {number}: its place and radius must be numbers in px.") from error
    if not (-0.5 <= x <= width_px - 0.5 and -0.5 <= y <= height_px - 0.5):
        raise MarkRefused(f"Mark {number} lies outside the photo of {width_px} by {height_px} px.")
    if not 0 < radius <= max(width_px, height_px) / 4:
        raise MarkRefused(f"Mark {number}: its radius must be above 0 and at most a quarter of the photo.")
    return Mark(x, y, radius, int(code))


def disc(view: Workview, mark: Mark) -> Bools:
    """Points of the face under a mark, (rows, cols); empty where it lies off the face."""
    rows, cols = view.inside.shape
    x, y = view.from_photo(np.array([mark.x_px, mark.y_px]))
    radius = max(mark.radius_px / view.step, LEAST_ROADS * view.road_px)
    row, col = np.ogrid[:rows, :cols]
    return np.asarray((np.hypot(col - x, row - y) <= radius) & view.inside)


def untold(view: Workview, reading: Reading, marks: Sequence[Mark]) -> Bools:
    """Where the marks say that it can't be told: their discs, and what the same film or glare hides around them.

    Where the reader suspects grease under the mark its suspicion is followed outwards down to half of what it is
    there; where the mark is as bright as the brightest of the face, brightness is. Else the disc alone is left out.
    """
    zone = np.zeros_like(view.inside)
    reach = REACH_ROADS * view.road_px
    hidden = ndimage.gaussian_filter(reading.hidden, view.road_px / 4)
    bright = view.linear @ _LUMA
    top = float(np.percentile(bright[view.inside], 99.9))
    for mark in marks:
        seed = disc(view, mark)
        if mark.code != UNKNOWN or not seed.any():
            continue
        near = ndimage.distance_transform_edt(~seed) <= reach
        zone |= seed
        for values, least in ((hidden, _HIDDEN_LEAST), (bright, _GLARE * top)):
            level = float(values[seed].mean())
            if level >= least:
                floor = level / 2 if values is hidden else float(np.percentile(values[seed], 25))
                zone |= _joined(seed, near & (values >= floor) & view.inside)
    return zone


def _joined(seed: Bools, like: Bools) -> Bools:
    """The parts of `like` that touch `seed`."""
    patches, _ = ndimage.label(like | seed)
    touched = np.unique(patches[seed])
    return np.asarray(np.isin(patches, touched[touched > 0]))


def spared(view: Workview, wall: Wall, missing: Along, marks: Sequence[Mark]) -> Along:
    """`missing` along a wall with a road wherever the person says bonded or bare; they win over the reader there."""
    telling = [mark for mark in marks if mark.code != UNKNOWN]
    if not telling:
        return missing
    line, kept = view.to_photo(wall.line_px), missing.copy()
    for mark in telling:
        reach = max(mark.radius_px, view.road_px * view.step / 2)
        kept[np.hypot(line[:, 0] - mark.x_px, line[:, 1] - mark.y_px) <= reach] = 0
    return kept


def as_lists(marks: Sequence[Mark]) -> list[list[Any]]:
    """Marks as [x, y, radius, kind by name], as JSON keeps them."""
    return [[m.x_px, m.y_px, m.radius_px, NAMES[m.code]] for m in marks]


def from_json(given: Any) -> Sequence[Any]:
    """The list of marks in what a file held: the list itself, or an object with `marks`."""
    found = given.get("marks") if isinstance(given, Mapping) else given
    if not isinstance(found, list):
        raise MarkRefused('Marks must be {"marks": [[x, y, radius, "bonded"], ...]}, in px of the upright photo.')
    return found
