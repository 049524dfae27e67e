"""Gaps of neighbouring walls beside each other, and the seam: where the ends of several walls' gaps line up.

Each wall's road begins and ends at the seam, and what is missing there is missing up to that one line on every wall.
A photo shows gaps and not the roads' own ends, so a seam is only told from gaps that line up better than chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

Points = NDArray[np.float64]
Point = tuple[float, float]
Side = Literal["start", "end"]
Key = tuple[int, int]  # wall, gap: places in the sequences given

_LINED_UP = 1.5  # line widths that two ends may be apart along the walls; judgement: an end is found to about 0.4 mm
_STRETCH = 4.0  # line widths; both ends of shorter gaps line up at a seam as well (judgement)
_SKIP = 1  # walls in between that may show no gap
_BY_CHANCE = 0.1  # chains this long expected of gaps laid at random; above, nothing is said
_BESIDE = 1.6  # spacings, per wall in between, up to which a stretch lies beside another (1.4 at a square corner)
_HALF = 0.5  # share of the shorter gap that must lie beside the other


@dataclass(frozen=True)
class WallGaps:
    """One wall of an outline: number from the outline inward, length, and the two ends of each gap in photo px."""

    index: int
    length_mm: float
    gaps: tuple[tuple[Point, Point], ...]


@dataclass(frozen=True)
class Seam:
    """Where gaps line up.

    side : which ends of the gaps lie there. at : the gaps, as places in the sequences given, outermost wall first.
    line_px : (n, 2) those ends. both_ends : the other ends line up as well, too far for a seam: one stretch
    is missing on all.
    by_chance : how many such chains gaps of this number laid at random would show.
    """

    side: Side
    at: tuple[Key, ...]
    line_px: Points
    both_ends: bool
    by_chance: float


def find_seam(walls: Sequence[WallGaps], line_width_mm: float, spacing_mm: float, mm_per_px: float) -> Seam | None:
    """The likely seam of one outline's walls, outermost first; None where gaps line up no better than by chance."""
    chains: list[tuple[Side, tuple[Key, ...], float]] = []
    for side in ("start", "end"):
        chain, apart = _longest_chain(walls, side, line_width_mm, spacing_mm, mm_per_px)
        if len(chain) > 1:
            chains.append((side, chain, apart))
    if not chains:
        return None
    side, chain, _ = min(chains, key=lambda one: (-len(one[1]), one[2]))
    by_chance = _expected(walls, len(chain), 2 * _LINED_UP * line_width_mm)
    if by_chance > _BY_CHANCE:
        return None
    line = np.array([_end(walls, key, side) for key in chain], float)
    both = len(chains) == 2 and chains[0][1] == chains[1][1]
    far = np.array([_end(walls, key, "end") for key in chain]) - [_end(walls, key, "start") for key in chain]
    long = float(np.median(np.hypot(*far.T))) * mm_per_px > _STRETCH * line_width_mm
    return Seam(side, chain, line, both and long, by_chance)


def _end(walls: Sequence[WallGaps], key: Key, side: Side) -> Point:
    return walls[key[0]].gaps[key[1]][0 if side == "start" else 1]


def _longest_chain(
    walls: Sequence[WallGaps], side: Side, line_width_mm: float, spacing_mm: float, mm_per_px: float
) -> tuple[tuple[Key, ...], float]:
    """The longest run of ends from wall to wall that line up, and how far they are off one another on average, mm."""
    best: tuple[tuple[Key, ...], float] = ((), np.inf)
    for first, wall in enumerate(walls):
        for gap in range(len(wall.gaps)):
            chain, off = [(first, gap)], []
            for other in range(first + 1, len(walls)):
                steps = walls[other].index - walls[chain[-1][0]].index
                if steps > 1 + _SKIP:
                    break
                here = np.array(_end(walls, chain[-1], side))
                ends = [_end(walls, (other, k), side) for k in range(len(walls[other].gaps))]
                if not ends:
                    continue
                far = np.hypot(*(np.array(ends, float) - here).T) * mm_per_px
                along = np.sqrt(np.maximum(far**2 - (steps * spacing_mm) ** 2, 0))
                if along.min() <= _LINED_UP * line_width_mm:
                    chain.append((other, int(along.argmin())))
                    off.append(float(along.min()))
            apart = float(np.mean(off)) if off else np.inf
            if (-len(chain), apart) < (-len(best[0]), best[1]):
                best = (tuple(chain), apart)
    return best


def _expected(walls: Sequence[WallGaps], count: int, window_mm: float) -> float:
    """How many chains of `count` walls or more are expected of gaps laid at random, on both sides together.

    For each end of each wall: the probability that at least count - 1 other walls have an end of the same side within
    the window about it (a Poisson binomial); each chain is met once from each of its walls.
    """
    hit = [1 - (1 - min(window_mm / max(w.length_mm, 1e-9), 1.0)) ** len(w.gaps) for w in walls]
    total = 0.0
    for number, wall in enumerate(walls):
        others = np.array([1.0])  # distribution of the number of other walls hit
        for k, p in enumerate(hit):
            if k != number:
                others = np.convolve(others, [1 - p, p])
        total += len(wall.gaps) * float(others[count - 1 :].sum())
    return 2 * total / count


def gap_path(ring_px: Points, start: Point, end: Point, is_hole: bool = False) -> Points:
    """The gap's course along its wall, (n, 2) px from `start` to `end`.

    The wall runs beside the outline `ring_px` in its order, so the outline between the two ends is followed, as far
    off as the ends are.
    """
    ring = _even(np.asarray(ring_px, float))
    here, there = (np.asarray(p, float) for p in (start, end))
    first, last = (int(np.hypot(*(ring - p).T).argmin()) for p in (here, there))
    if last < first:
        last += len(ring)
    inner = np.arange(first + 1, last)
    if len(inner) == 0:
        return np.array([here, there])
    depth = np.linspace(np.hypot(*(ring[first] - here)), np.hypot(*(ring[last % len(ring)] - there)), len(inner))
    ahead = np.roll(ring, -2, axis=0) - np.roll(ring, 2, axis=0)
    x, y = ring.T
    sign = np.sign(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) * (-1 if is_hole else 1)
    inward = sign * np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    at = inner % len(ring)
    course = ring[at] + inward[at] * depth[:, None]
    # past a corner the inset lies nearer to the other side than it should: the wall doesn't go there
    away, _ = cKDTree(ring).query(course)
    return np.vstack([here, course[away > depth - 1.5], there])


def _even(ring: Points) -> Points:
    """The closed ring at steps of about one px."""
    closed = np.vstack([ring, ring[:1]])
    along = np.r_[0, np.cumsum(np.hypot(*np.diff(closed, axis=0).T))]
    at = np.arange(max(round(float(along[-1])), 8)) * along[-1] / max(round(float(along[-1])), 8)
    return np.column_stack([np.interp(at, along, closed[:, k]) for k in (0, 1)])


def recurring(
    walls: Sequence[WallGaps], ring_px: Points, spacing_mm: float, mm_per_px: float, is_hole: bool = False
) -> dict[Key, tuple[int, ...]]:
    """For each gap the numbers (`index`) of the neighbouring walls that have a gap beside it."""
    paths = {
        (w, g): gap_path(ring_px, *gap, is_hole) for w, wall in enumerate(walls) for g, gap in enumerate(wall.gaps)
    }
    found: dict[Key, tuple[int, ...]] = {}
    for key, path in paths.items():
        beside = set()
        for other, course in paths.items():
            steps = abs(walls[key[0]].index - walls[other[0]].index)
            reach_px = _BESIDE * steps * spacing_mm / mm_per_px
            if steps == 1 and max(_near(path, course, reach_px), _near(course, path, reach_px)) >= _HALF:
                beside.add(walls[other[0]].index)
        found[key] = tuple(sorted(beside))
    return found


def _near(path: Points, course: Points, reach_px: float) -> float:
    """Share of `path` that lies within reach of `course`."""
    far, _ = cKDTree(course).query(path)
    return float((far <= reach_px).mean())
