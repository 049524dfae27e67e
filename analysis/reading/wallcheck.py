"""Do the walls on the photo agree with what was given: how many there are, and how wide?

Walls follow the outline, the filling crosses it at an angle of its own. So on walls nearly all slopes of the lightness
lie across the outline's direction, and where the filling begins that stops. The width is the distance of the furrows.
Limits were set on 96 rendered faces so that right numbers are almost never doubted (1 of 96); a photo that doesn't
answer clearly says nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.common.smooth import gauss
from analysis.reading.spacing import depth_profile
from analysis.roads.walls import WallField
from analysis.roads.workview import Workview

Rings = tuple[float | None, ...]
_BEYOND = 3  # rings looked at beyond the walls that were given
_FEWEST_PX = 200  # working px that a ring must have
_WALL, _SURE_WALL, _SURE_WALLS = 0.4, 0.7, 0.55  # steadiness of a wall; of one that nobody gave; mean of several
_FILLING, _SURE_FILLING = 0.3, 0.1
_STEP_ROADS = 0.02  # bins of `depth_profile`
_TRIED = (0.62, 1.45)  # widths tried, in given ones; farther off, every second furrow can't be told from each
_ALIKE = (0.85, 1.15)  # a width within these is no mismatch: roads overlap, scales are a few per cent off
_CLEAR = 5.0  # how far, in standard errors over eight sectors, the seen width must stand above the given one


@dataclass(frozen=True)
class WallCheck:
    """`count_seen` : walls on the photo where they clearly differ from the given number; `width_mm_seen` likewise.

    Both None where the photo agrees or doesn't answer. `steadiness` : by ring of one wall's width, from the outline
    inward, -1 to 1; near 1 all slopes lie across the outline, near 0 they lie anyhow; None where the ring is too small.
    """

    count_seen: int | None
    width_mm_seen: float | None
    steadiness: Rings


def check_walls(view: Workview, field: WallField, wall_count: int) -> WallCheck:
    """Compare the walls on the photo with the number and the width that `view` and `field` were made with."""
    rings = ring_steadiness(view, field, wall_count + _BEYOND)
    width = None if wall_count < 2 else _width_seen(view, wall_count)
    if width is not None:
        # rings of a wrong width fall on no wall, so they can't be counted
        return WallCheck(None, width * view.road_px * view.mm_per_px, rings)
    return WallCheck(_count_seen(rings, wall_count), None, rings)


def ring_steadiness(view: Workview, field: WallField, count: int) -> Rings:
    """How far the slopes of the lightness lie across the outline, ring by ring."""
    light = np.log(view.linear.mean(-1) + 0.02)
    road = view.road_px
    lines = gauss(light, 0.12 * road) - gauss(light, 0.6 * road)
    gy, gx = np.gradient(lines)
    depth = np.minimum.reduce(field.distance)
    dy, dx = np.gradient(gauss(depth, 1.0))
    size = np.maximum(np.hypot(dx, dy), 1e-6)
    total = gx**2 + gy**2
    even = gauss(total, road) + 1e-9  # each place counts alike, glossy or dull
    across = ((gx * dx + gy * dy) / size) ** 2
    number = np.floor((depth - road / 2) / field.spacing_px + 0.5).astype(int)
    inside = view.inside & (number >= 0) & (number < count)
    at = number[inside]
    sums = [np.bincount(at, (part / even)[inside], count) for part in (across, total)]
    pixels = np.bincount(at, minlength=count)
    return tuple(
        float(2 * a / max(t, 1e-9) - 1) if n >= _FEWEST_PX else None for a, t, n in zip(*sums, pixels, strict=True)
    )


def _count_seen(rings: Rings, given: int) -> int | None:
    """The walls that are seen, where clearly more or fewer than given."""
    steady = [ring if ring is not None else np.nan for ring in rings]
    more = given
    while more < len(steady) and steady[more] >= _WALL:
        more += 1
    if more > given:
        extra = steady[given:more]
        ends = more < len(steady) and steady[more] < _FILLING  # nan where the face ends first: then it can't be told
        sure = extra[0] >= _SURE_WALL if len(extra) == 1 else float(np.mean(extra)) >= _SURE_WALLS
        return more if ends and sure else None
    fewer = given
    while fewer > 0 and steady[fewer - 1] < _SURE_FILLING:
        fewer -= 1
    return fewer if 0 < fewer < given and steady[fewer - 1] >= _WALL else None


def _width_seen(view: Workview, wall_count: int) -> float | None:
    """Distance of the furrows in given line widths, where it clearly isn't the given one."""
    blur = 0.09 / _STEP_ROADS
    profile = depth_profile(view, wall_count + 1)
    furrow = ndimage.gaussian_filter1d(profile, blur, axis=1, order=2) * blur**2
    tried = np.arange(_TRIED[0], _TRIED[1] + 1e-9, 0.01)
    scores = np.stack([_contrast(furrow, width, wall_count) for width in tried])
    mean = scores.mean(1)
    best = int(mean.argmax())
    near = np.flatnonzero((tried > _ALIKE[0]) & (tried < _ALIKE[1]))
    usual = int(near[mean[near].argmax()])
    if best in (0, len(tried) - 1) or _ALIKE[0] <= tried[best] <= _ALIKE[1]:
        return None

    def errors(difference: npt.NDArray[np.float64]) -> float:
        return float(difference.mean() / (difference.std() / np.sqrt(len(difference)) + 1e-9))

    clear = min(errors(scores[best]), errors(scores[best] - scores[usual])) >= _CLEAR
    return float(tried[best]) if clear else None


def _contrast(furrow: npt.NDArray[np.float64], width: float, wall_count: int) -> npt.NDArray[np.float64]:
    """How much darker the lines between walls of this width are than the walls' middles; one value a sector."""
    place = (np.arange(furrow.shape[1]) + 0.5) * _STEP_ROADS
    between = (np.arange(wall_count - 1) + 1.0) * width
    kept = between < place[-1]
    rows = _at(furrow, between[kept]) - _at(furrow, between[kept] - width / 2)
    return np.asarray(rows.mean(axis=1) * np.sqrt(kept.sum()))


def _at(profile: npt.NDArray[np.float64], roads: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Values of all sectors at these depths, between the bins' middles."""
    at = np.clip(roads / _STEP_ROADS - 0.5, 0, profile.shape[1] - 1.001)
    low = np.floor(at).astype(int)
    return np.asarray(profile[:, low] * (1 - (at - low)) + profile[:, low + 1] * (at - low))
