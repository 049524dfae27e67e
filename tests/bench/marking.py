"""Marks as a sensible person would set them on a practice face, by its truth: in clear places of both kinds.

A place is clear where a whole disc about the contact band wide is of one kind. "spread" sets them far from each other
without looking at the result; "corrects" looks at the layers first and goes where they are wrong; "mistaken" is
"spread" with the last mark saying the opposite of the truth.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.common.classes import BARE, BONDED
from tests.bench.scoring import read_mask

Bools = npt.NDArray[np.bool_]
WAYS = ("spread", "corrects", "mistaken")
RADIUS_ROADS = 0.25  # of a mark: within the contact band of most prints
FEWEST_PX = 30  # places of a kind; below that a person would not find any
WRONG_WORTH = 3.0  # judgement: a wrong place draws the eye as a right one three times as far off does


@lru_cache(maxsize=4)
def clear_places(folder: Path) -> tuple[dict[int, Bools], float]:
    """Where a mark of each kind may be set, (rows, cols) of the photo, and the mark's radius in px."""
    known = json.loads((folder / "input.json").read_text())
    radius = RADIUS_ROADS * known["line_width_mm"] * 1000 / known["um_per_px"]
    nominal, bonded, void, grease = (read_mask(folder, n) for n in ("nominal", "bonded", "void", "grease"))
    told = nominal & ~void & ~grease
    disc = np.hypot(*np.mgrid[-int(radius) : int(radius) + 1, -int(radius) : int(radius) + 1]) <= radius
    clear = {}
    for code, kind in ((BONDED, told & bonded), (BARE, told & ~bonded)):
        share = ndimage.uniform_filter(kind.astype(np.float32), disc.shape[0])
        clear[code] = kind & (share >= min(0.95, float(share[kind].max(initial=0)) - 1e-3))
    return clear, radius


def mistaken(marks: list[list[Any]]) -> list[list[Any]]:
    """The same marks, the last of them wrong."""
    turned = {BONDED: BARE, BARE: BONDED}
    return [*marks[:-1], *([*mark[:3], turned[mark[3]]] for mark in marks[-1:])]


def set_marks(folder: Path, count: int, seed: int, wrong: Bools | None = None) -> list[list[Any]]:
    """`count` marks [x, y, radius, code], bonded and bare by turns, far from each other.

    wrong : where the shown layers are wrong, (rows, cols) of the photo; such places are gone to first.
    """
    clear, radius = clear_places(folder)
    rng = np.random.default_rng(seed)
    places = {code: np.argwhere(mask) for code, mask in clear.items() if mask.sum() >= FEWEST_PX}
    marks: list[list[Any]] = []
    order = [code for code in (BONDED, BARE) if code in places]
    for number in range(count if order else 0):
        code = order[(number + seed) % len(order)]
        some = places[code][rng.integers(0, len(places[code]), 60)]
        far = _distance(some, marks)
        if wrong is not None:
            far = far * np.where(wrong[some[:, 0], some[:, 1]], WRONG_WORTH, 1.0)
        row, col = some[int(far.argmax())]
        marks.append([float(col), float(row), radius, code])
    return marks


def _distance(places: npt.NDArray[np.int_], marks: Sequence[Sequence[float]]) -> npt.NDArray[np.float64]:
    """From each place to the nearest mark so far; all alike where there is none."""
    if not marks:
        return np.ones(len(places))
    there = np.array([[m[1], m[0]] for m in marks])
    return np.asarray(np.sqrt(((places[:, None] - there[None]) ** 2).sum(-1).min(1)))
