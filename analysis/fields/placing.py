"""All captures laid out at once: least squares over what each overlapping pair says, and what remains between them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from analysis.fields.overlap import Overlap
from analysis.fields.place import NoOverlap, Place, Points, ResidualTooLarge


def place_all(names: Sequence[str], overlaps: Sequence[Overlap], most_px: float) -> tuple[list[Place], list[Overlap]]:
    """Lay the captures out; the first one stays as it is.

    Returns
    -------
    Places, one a capture, and the overlaps that were kept: one that contradicts the rest is set aside where the
    others hold all captures together and no other pair could be the wrong one as well.

    Raises
    ------
    NoOverlap
        A capture hangs together with none, or not with the first.
    ResidualTooLarge
        An overlap stays more than `most_px` apart and can't be spared.
    """
    kept = list(overlaps)
    refuse_loose(names, kept)
    places, off = _laid_out(len(names), kept)
    while off.max() > most_px:
        tried = [_laid_out(len(names), kept[:n] + kept[n + 1 :]) for n in range(len(kept))]
        left = np.array([rest.max(initial=0.0) for _, rest in tried])
        best = int(left.argmin())
        if not left[best] < off.max() or (left <= most_px).sum() > 1:
            raise _contradiction(names, kept[int(off.argmax())], float(off.max()), most_px)
        kept = kept[:best] + kept[best + 1 :]
        places, off = tried[best]
    return places, kept


def _laid_out(count: int, overlaps: Sequence[Overlap]) -> tuple[list[Place], npt.NDArray[np.float64]]:
    """Places and the residual of each overlap, px; no places and an endless residual where something hangs loose."""
    if len(reached(count, overlaps)) < count:
        return [], np.array([np.inf])
    places = _least_squares(count, overlaps)
    return places, np.array([lap.tiles.residual_px(between(places, lap)) for lap in overlaps])


def _contradiction(names: Sequence[str], lap: Overlap, off_px: float, most_px: float) -> ResidualTooLarge:
    return ResidualTooLarge(
        f"{names[lap.first]} and {names[lap.second]} stay {off_px:.1f} px apart when all are laid out, more than "
        f"{most_px:.3g} px. Leave one of them out, or take them again from straight above."
    )


def between(places: Sequence[Place], lap: Overlap) -> Place:
    """The place of an overlap's second capture in its first one."""
    return places[lap.first].back().after(places[lap.second])


def reached(count: int, overlaps: Sequence[Overlap]) -> set[int]:
    """The captures that hang together with the first."""
    found, fresh = {0}, {0}
    while fresh:
        near = {n for lap in overlaps for n in (lap.first, lap.second) if {lap.first, lap.second} & fresh}
        fresh = near - found
        found |= fresh
    return found


def refuse_loose(names: Sequence[str], overlaps: Sequence[Overlap]) -> None:
    """Raise NoOverlap naming the captures that don't hang together with the first."""
    loose = [name for n, name in enumerate(names) if n not in reached(len(names), overlaps)]
    if loose:
        raise NoOverlap(
            f"No spot of {', '.join(loose)} was recognised on {'the others' if len(names) > 2 else names[0]}. "
            "Take captures that share a fifth of their width with the next one, at the same enlargement."
        )


def _least_squares(count: int, overlaps: Sequence[Overlap]) -> list[Place]:
    """Turns first, from all tiles; then the shifts with the turns at length 1."""
    turns = _solved(count, overlaps, None)[0]
    turns = turns / np.abs(turns)
    shifts = _solved(count, overlaps, turns)[1]
    return [Place(complex(turn), complex(shift)) for turn, shift in zip(turns, shifts, strict=True)]


def _solved(count: int, overlaps: Sequence[Overlap], turns: Points | None) -> tuple[Points, Points]:
    """Turns and shifts for which each tile's two spots fall together; the first capture's are 1 and 0.

    A pair enters with its common place, not with its single tiles: along bare roads a tile's shift is noise.
    """
    free = count - 1
    rows, wanted = [], []
    for lap in overlaps:
        there = lap.tiles.there[lap.tiles.agree]
        for sign, number, spots in ((1, lap.first, lap.tiles.placed.of(there)), (-1, lap.second, there)):
            if sign == 1:
                block, right = np.zeros((len(there), 2 * free), complex), np.zeros(len(there), complex)
            if number == 0:
                right -= sign * spots
                continue
            block[:, free + number - 1] += sign
            if turns is None:
                block[:, number - 1] += sign * spots
            else:
                right -= sign * turns[number] * spots
        rows.append(block)
        wanted.append(right)
    whole, right = np.concatenate(rows), np.concatenate(wanted)
    used = whole[:, free:] if turns is not None else whole
    found = np.linalg.lstsq(used, right, rcond=None)[0]
    shifts = np.concatenate([[0], found[-free:]])
    return (np.concatenate([[1], found[:free]]) if turns is None else turns), shifts
