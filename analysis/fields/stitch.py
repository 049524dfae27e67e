"""The door: overlapping captures of one face -> one picture, with places, seams and what remains between them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from analysis.fields.overlap import Capture, Overlap, overlap
from analysis.fields.overlap import captures as made_ready
from analysis.fields.place import Bytes, FieldsRefused, Place, ResidualTooLarge
from analysis.fields.placing import between, place_all, refuse_loose
from analysis.fields.seams import Canvas, brightness, draw, extent, gains_of

MOST_CAPTURES = 16
MOST_PIXELS = 120_000_000
MOST_RESIDUAL_SHARE = 0.002  # of the longer side: what may remain between two captures (judgement: 4 px of 2000)
FEATHER_SHARE = 0.02  # of the shorter side
Tell = Callable[[str, float], None]


@dataclass(frozen=True)
class Between:
    """What remains between two captures, px of the captures; `likeness` of the shared area, -1 to 1."""

    first: int
    second: int
    residual_px: float
    likeness: float
    shared: float


@dataclass(frozen=True)
class Stitched:
    """One picture of several fields.

    canvas : picture and owner map. places : of each capture in it. gains : of each capture's code values.
    laps : the overlaps with their residuals. set_aside : overlaps (first, second) that contradicted the others.
    """

    canvas: Canvas
    places: tuple[Place, ...]
    gains: tuple[float, ...]
    laps: tuple[Between, ...]
    set_aside: tuple[tuple[int, int], ...]

    @property
    def worst_px(self) -> float:
        """The largest residual of an overlap, px."""
        return max(lap.residual_px for lap in self.laps)


def stitch(
    captures: Sequence[Bytes], names: Sequence[str], most_pixels: int = MOST_PIXELS, tell: Tell | None = None
) -> Stitched:
    """Put overlapping captures into one picture.

    Parameters
    ----------
    captures : uint8 (rows, cols, 3) each, of the same enlargement; they may be shifted and turned against each other.
    names : what refusals call them.
    most_pixels : larger pictures are refused.
    tell : called with the stage and the share done.

    Returns
    -------
    Stitched
        In the first capture's orientation. Points that no capture shows are grey and owned by nobody.

    Raises
    ------
    FieldsRefused
        Fewer than two or too many captures, a picture too large; NoOverlap and ResidualTooLarge as named there.
    """
    if not 2 <= len(captures) <= MOST_CAPTURES:
        raise FieldsRefused(f"Choose 2 to {MOST_CAPTURES} captures, not {len(captures)}.")
    tell = tell or (lambda stage, share: None)
    tell("looking at each capture", 0.0)
    ready = made_ready(names, captures)
    laps = _all_overlaps(ready, tell)
    most_px = MOST_RESIDUAL_SHARE * max(max(cut.shape) for cut in captures)
    places, kept = place_all(names, laps, most_px)
    start, shape = extent([cut.shape for cut in captures], places)
    if shape[0] * shape[1] > most_pixels:
        raise FieldsRefused(
            f"The picture would have {shape[0] * shape[1] / 1e6:.0f} million pixels, more than "
            f"{most_pixels / 1e6:.0f}. Choose fewer captures, or save them smaller."
        )
    tell("drawing the picture", 0.7)
    gains = gains_of(len(captures), [_light(captures, lap) for lap in kept])
    moved = [Place(place.turn, place.shift - start) for place in places]
    feather = FEATHER_SHARE * min(min(cut.shape[:2]) for cut in captures)
    canvas = draw(captures, moved, shape, gains, max(feather, 2.0))
    told = [
        Between(lap.first, lap.second, lap.tiles.residual_px(between(places, lap)), lap.likeness, lap.shared)
        for lap in kept
    ]
    aside = [(lap.first, lap.second) for lap in laps if lap not in kept]
    return Stitched(canvas, tuple(moved), tuple(gains), tuple(told), tuple(aside))


def _all_overlaps(ready: Sequence[Capture], tell: Tell) -> list[Overlap]:
    """Every pair that shares a spot; a pair that can't be laid on each other is told of where no other way leads."""
    pairs = list(combinations(range(len(ready)), 2))
    found, refused = [], []
    for done, (first, second) in enumerate(pairs):
        tell("comparing captures", 0.1 + 0.6 * done / len(pairs))
        try:
            lap = overlap(ready[first], ready[second], (first, second))
        except ResidualTooLarge as error:
            refused.append(error)
            continue
        if lap:
            found.append(lap)
    try:
        refuse_loose([each.name for each in ready], found)
    except FieldsRefused:
        if refused:
            raise refused[0] from None
        raise
    return found


def _light(captures: Sequence[Bytes], lap: Overlap) -> tuple[int, int, float]:
    """(first, second, how much brighter the first is where both show the same)."""
    here, there = lap.tiles.here[lap.tiles.agree], lap.tiles.there[lap.tiles.agree]
    radius = int(np.clip(max(captures[lap.first].shape) / 60, 4, 60))
    first, second = (brightness(captures[n], spots, radius) for n, spots in ((lap.first, here), (lap.second, there)))
    return lap.first, lap.second, first / second
