"""Each wall along its length: where its road is missing, how much of it was bonded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage
from scipy.spatial import cKDTree

from analysis.roads.walls import RASTER, Wall, WallField, strip
from analysis.roads.workview import Bools, Workview
from analysis.welds.bonding import BARE_P, BONDED_P, VOID_P, Reading
from analysis.welds.wall_chain import chain
from analysis.welds.wall_network import GAPS, load_wall_network, score_walls
from analysis.welds.wall_strips import wall_strips

CORE = 0.5  # share of the road's width, about its centre, on which "missing" is judged
Along = npt.NDArray[np.floating]
Gaps = tuple[tuple[float, float], ...]
BLUR_ROADS = 0.3  # a gap's end is blunt over about this much
SHORTEST_ROADS = 0.5  # a gap is at least half a road width long, by definition


@dataclass(frozen=True)
class MeasuredWall:
    """A wall with its numbers; `gaps` as (start, end) in working px along the centreline, end may pass the length."""

    wall: Wall
    gaps: Gaps
    continuity: float
    bonded_fraction: float | None


def missing_along(view: Workview, reading: Reading, walls: Sequence[Wall]) -> list[Along]:
    """For each wall the probability that its road is missing, one value a point of its centreline.

    A reading without cues (a drawn one) answers with its own map of missing roads.
    """
    if reading.cues is None:
        maps = reading.classes[..., VOID_P]
        return [np.asarray(strip(maps, wall, CORE * view.road_px)).mean(0) for wall in walls]
    found = []
    for wall, scores in zip(walls, score_walls(wall_strips(view, walls), load_wall_network(GAPS)), strict=True):
        one = chain(scores)
        at = np.arange(len(wall.line_px)) / len(wall.line_px) * len(one)
        found.append(np.interp(at, np.arange(len(one) + 1), np.append(one, one[0])))
    return found


def find_gaps(view: Workview, wall: Wall, missing: Along) -> Gaps:
    """Gaps of one wall as (start, end) in working px along its centreline."""
    step = wall.length_px / len(wall.line_px)
    runs = find_runs(missing, SHORTEST_ROADS * view.road_px / step, BLUR_ROADS * view.road_px / step)
    return tuple((start * step, end * step) for start, end in runs)


def stamp_gaps(
    view: Workview, field: WallField, reading: Reading, walls: Sequence[Wall], gaps: Sequence[Gaps]
) -> Reading:
    """The reading with each gap's whole road width called missing, and no road called missing on walls elsewhere."""
    classes = reading.classes.copy()
    on_wall = field.outline != RASTER
    spared = classes[..., VOID_P] * on_wall
    classes[..., BARE_P] += spared
    classes[..., VOID_P] -= spared
    for wall, found in zip(walls, gaps, strict=True):
        if not found:
            continue
        here = np.argwhere(wall_mask(field, wall))
        _, nearest = cKDTree(wall.line_px).query(here[:, ::-1])
        along = nearest / len(wall.line_px) * wall.length_px
        lost = np.zeros(len(here), bool)
        for start, end in found:
            lost |= (along >= start) & (along < end) | (along < end - wall.length_px)
        classes[here[lost, 0], here[lost, 1]] = (0, 0, 1, 0)
    return replace(reading, classes=classes * view.inside[..., None])


def wall_mask(field: WallField, wall: Wall) -> Bools:
    """The points that belong to a wall's road."""
    number = 0 if wall.outline == "outer" else int(wall.outline[4:]) + 1
    return np.asarray((field.outline == number) & (field.index == wall.index))


def measure_wall(
    view: Workview,
    field: WallField,
    reading: Reading,
    known: Bools,
    wall: Wall,
    gaps: Gaps,
    band_share: float,
) -> MeasuredWall:
    """Continuity and bonded fraction of one wall with its gaps."""
    here = wall_mask(field, wall) & known
    bonded = float(reading.classes[..., BONDED_P][here].sum())
    contact = bonded + float((reading.classes[..., BARE_P] + band_share * reading.classes[..., VOID_P])[here].sum())
    lost = sum(end - start for start, end in gaps)
    return MeasuredWall(
        wall=wall,
        gaps=gaps,
        continuity=float(np.clip(1 - lost / wall.length_px, 0, 1)),
        bonded_fraction=bonded / contact if contact >= view.road_px**2 else None,
    )


def find_runs(missing: npt.NDArray[np.floating], shortest: float, blur: float = 0.0) -> list[tuple[float, float]]:
    """Runs of `missing` above a half on a closed line, as (start, end) in samples; end may pass the line's end.

    Ends are interpolated to a fraction of a sample. Runs shorter than `shortest` samples are dropped, and breaks
    shorter than that inside a run are bridged.
    """
    count = len(missing)
    smooth = ndimage.gaussian_filter1d(np.asarray(missing, float), blur, mode="wrap") if blur > 0 else missing
    over = smooth > 0.5
    if over.all():
        return [(0.0, float(count))]
    if not over.any():
        return []
    rises = np.flatnonzero(over & ~np.roll(over, 1))
    falls = np.flatnonzero(over & ~np.roll(over, -1))
    if falls[0] < rises[0]:
        falls = np.roll(falls, -1)
    runs = []
    for rise, fall in zip(rises, falls, strict=True):
        start = rise - _past_half(smooth[rise], smooth[rise - 1])
        end = fall + _past_half(smooth[fall], smooth[(fall + 1) % count])
        runs.append((float(start), float(end + (count if fall < rise else 0))))
    runs = _bridge(runs, shortest, count)
    return [(a, b) for a, b in runs if b - a >= shortest]


def _past_half(inside: float, outside: float) -> float:
    """How far beyond the last sample above a half the line crosses a half, 0..1."""
    return float((inside - 0.5) / max(inside - outside, 1e-9))


def _bridge(runs: list[tuple[float, float]], shortest: float, count: int) -> list[tuple[float, float]]:
    joined = [runs[0]]
    for start, end in runs[1:]:
        if start - joined[-1][1] < shortest:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    if len(joined) > 1 and joined[0][0] + count - joined[-1][1] < shortest:
        first = joined.pop(0)
        joined[-1] = (joined[-1][0], first[1] + count)
    return joined


def wall_json(view: Workview, measured: MeasuredWall) -> dict[str, Any]:
    """One entry of the result's `walls`."""
    wall = measured.wall
    mm = view.mm_per_px
    points = view.to_photo(wall.line_px)

    def at(along_px: float) -> list[float]:
        place = along_px / wall.length_px * len(points)
        low = int(np.floor(place))
        part = place - low
        point = points[low % len(points)] * (1 - part) + points[(low + 1) % len(points)] * part
        return [round(float(v), 2) for v in point]

    return {
        "outline": wall.outline,
        "index": wall.index,
        "start_px": at(0.0),
        "length_mm": round(wall.length_px * mm, 4),
        "continuity": round(measured.continuity, 4),
        "bonded_fraction": None if measured.bonded_fraction is None else round(measured.bonded_fraction, 4),
        "gaps": [
            {
                "start_mm": round(start * mm, 4),
                "end_mm": round(end * mm, 4),
                "length_mm": round((end - start) * mm, 4),
                "start_px": at(start),
                "end_px": at(end),
            }
            for start, end in measured.gaps
        ],
    }
