"""Does the other half confirm a gap? Beside each answer stands what chance alone would have given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from analysis.measures.gaps import MeasuredWall
from analysis.roads.workview import Floats, Workview

Points = NDArray[np.float64]
_ACROSS = (-0.25, -0.125, 0.0, 0.125, 0.25)  # road widths from the centreline: the road's core
_STEPS_PER_ROAD = 8
_CONFIRMED = 0.5  # the likelier of the two


@dataclass(frozen=True)
class GapLine:
    """One wall: its closed centreline `line_px` (n, 2) in photo px at even steps; `gaps` as (start, end) shares of it.

    An end may pass 1: the gap then runs on over the start. `length_mm` is the whole line's.
    """

    line_px: Points
    length_mm: float
    gaps: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class GapAgreement:
    """`share` of gap length that the mate confirms, 0 to 1, and `by_chance` what equal stretches anywhere would get.

    Both None, with the reason, where there is no gap or the mate shows nothing of any. `per_wall`: for each wall, for
    each of its gaps, the share confirmed, None where the mate can't tell.
    """

    share: float | None
    by_chance: float | None
    per_wall: tuple[tuple[float | None, ...], ...]
    reason: str


def gap_line(view: Workview, wall: MeasuredWall) -> GapLine:
    """A measured wall as the line that is laid on the mate."""
    whole = wall.wall.length_px
    gaps = tuple((start / whole, end / whole) for start, end in wall.gaps)
    return GapLine(view.to_photo(wall.wall.line_px), whole * view.mm_per_px, gaps)


def gap_agreement(
    walls: Sequence[GapLine], unbonded: Floats, view_mate: Workview, affine: Points, line_width_mm: float
) -> GapAgreement:
    """Lay the walls on the mate and ask along each gap whether the road there is bare or missing.

    Parameters
    ----------
    walls : sequence of GapLine
    unbonded : (rows, cols) float
        Probability on the mate's working grid that the place is bare or void; NaN off its face and where it can't be
        told. Such places count neither for nor against.
    view_mate : Workview
        Whose grid `unbonded` lies on.
    affine : (2, 3)
        Photo px to the mate's photo px.
    line_width_mm : float
        Width of the road, of which the inner half is asked.

    Returns
    -------
    GapAgreement
        `by_chance` is exact, not drawn: each stretch is put at every place of every wall that is long enough, which
        comes to the mean over those walls, weighted by length.
    """
    told = [_confirmed(wall, unbonded, view_mate, affine, line_width_mm) for wall in walls]
    per_wall, found, chance, length = [], 0.0, 0.0, 0.0
    for wall, along in zip(walls, told, strict=True):
        shares: list[float | None] = []
        for start, end in wall.gaps:
            share, known = _over(along, start, end)
            shares.append(share)
            if share is None:
                continue
            gap_mm = (end - start) * wall.length_mm
            told_mm = gap_mm * known
            found += share * told_mm
            chance += _anywhere(walls, told, gap_mm) * told_mm
            length += told_mm
        per_wall.append(tuple(shares))
    if not any(wall.gaps for wall in walls):
        return GapAgreement(None, None, tuple(per_wall), "This face has no gap to be confirmed.")
    if length == 0:
        return GapAgreement(None, None, tuple(per_wall), "The mating face can't be read where this face has its gaps.")
    return GapAgreement(found / length, chance / length, tuple(per_wall), "")


def _confirmed(wall: GapLine, unbonded: Floats, view: Workview, affine: Points, line_width_mm: float) -> Points:
    """At even steps along a wall: 1 confirmed, 0 not, NaN can't be told."""
    steps = max(int(np.ceil(wall.length_mm / line_width_mm * _STEPS_PER_ROAD)), 8)
    closed = np.vstack([wall.line_px, wall.line_px[:1]])
    at = (np.arange(steps) + 0.5) / steps * len(wall.line_px)
    line = np.column_stack([np.interp(at, np.arange(len(closed)), closed[:, k]) for k in (0, 1)])
    line = view.from_photo(line @ affine[:, :2].T + affine[:, 2])
    ahead = np.roll(line, -2, axis=0) - np.roll(line, 2, axis=0)
    across = np.column_stack([-ahead[:, 1], ahead[:, 0]]) / np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    road = line_width_mm / view.mm_per_px
    known, total = np.zeros(steps), np.zeros(steps)
    for offset in _ACROSS:
        x, y = (line + offset * road * across).T
        value = ndimage.map_coordinates(unbonded, [y, x], order=0, cval=np.nan)
        known += np.isfinite(value)
        total += np.nan_to_num(value)
    told = known * 2 > len(_ACROSS)  # more than half of the core must be readable
    return np.where(told, total / np.maximum(known, 1) > _CONFIRMED, np.nan)


def _over(along: Points, start: float, end: float) -> tuple[float | None, float]:
    """Share confirmed from `start` to `end` (shares of the line), and how much of the stretch can be told."""
    count = len(along)
    first, last = int(np.floor(start * count)), max(int(np.ceil(end * count)), int(np.floor(start * count)) + 1)
    part = along[np.arange(first, last) % count]
    known = np.isfinite(part)
    return (float(part[known].mean()), float(known.mean())) if known.any() else (None, 0.0)


def _anywhere(walls: Sequence[GapLine], told: Sequence[Points], gap_mm: float) -> float:
    """What a stretch of this length gets on average over every place on every wall at least as long."""
    fits = [k for k, wall in enumerate(walls) if wall.length_mm >= gap_mm * 0.999]
    weight = np.concatenate([np.full(len(told[k]), walls[k].length_mm / len(told[k])) for k in fits])
    values = np.concatenate([told[k] for k in fits])
    known = np.isfinite(values)
    return float(np.average(values[known], weights=weight[known]))
