"""Where an outline went astray: look nearby for the place where the two faces agree best."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.halves.cues import Cues, agreement

Floats = NDArray[np.float64]
_REACH, _STEP = 1.6, 0.4  # road widths: as far as an outline may be off, and less than the cues' own width
_TURNS_DEG = (-2.0, 0.0, 2.0)
_FINE = ((0.2, 1.0, 0.01), (0.1, 0.5, 0.005), (0.05, 0.25, 0.0025))  # shift in roads, turn in degrees, stretch


def settle(cues: Cues, mate: Cues, affine: Floats) -> Floats:
    """The map near `affine` (2x3, photo px to mate px) under which the faces agree best.

    Shifts up to 1.6 roads and turns of 2 degrees are tried all over, then shift, turn and stretch step by step.
    """
    road_px = mate.view.road_px * mate.view.step
    middle = cues.view.to_photo(np.array([cues.view.inside.shape[::-1]]) / 2.0)[0]
    steps = np.arange(-_REACH, _REACH + 1e-9, _STEP)
    moves = [(x, y, turn, 1.0) for turn in _TURNS_DEG for x in steps for y in steps]
    shown = [agreement(cues, mate, _moved(affine, middle, move, road_px), stride=4) for move in moves]
    best: tuple[float, ...] = moves[int(np.argmax(shown))]
    top = agreement(cues, mate, _moved(affine, middle, best, road_px), stride=2)
    for shift, turn, stretch in _FINE:
        for _ in range(3):
            near = [
                tuple(a + b for a, b in zip(best, way, strict=True))
                for sign in (-1, 1)
                for way in (
                    (sign * shift, 0, 0, 0),
                    (0, sign * shift, 0, 0),
                    (0, 0, sign * turn, 0),
                    (0, 0, 0, sign * stretch),
                )
            ]
            tried = [agreement(cues, mate, _moved(affine, middle, move, road_px), stride=2) for move in near]
            if max(tried) <= top:
                break
            top, best = max(tried), near[int(np.argmax(tried))]
    return _moved(affine, middle, best, road_px)


def _moved(affine: Floats, middle: Floats, move: tuple[float, ...], road_px: float) -> Floats:
    """Turn and stretch about the face's middle, then shift by roads, all on the mate's photo."""
    x, y, turn_deg, stretch = move
    angle = np.deg2rad(turn_deg)
    turn = stretch * np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    pivot = affine[:, :2] @ middle + affine[:, 2]
    shift = turn @ (affine[:, 2] - pivot) + pivot + road_px * np.array([x, y])
    return np.column_stack([turn @ affine[:, :2], shift])
