"""Do two captures show the same spot, and how do they lie on each other?

Whatever place was guessed has to hold tile by tile, or the two don't overlap: a repeated raster makes good guesses.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from skimage.feature import SIFT

from analysis.fields.detail import Detail, detail_of, seen_through
from analysis.fields.drift import Tiles, drift
from analysis.fields.place import Bytes, Floats, Place, ResidualTooLarge, corners
from analysis.fields.search import Features, by_features, by_shift

LEAST_SHARED = 0.08  # of the smaller capture's area: less can't be told from chance
MOST_RESIDUAL_PX = 0.75  # of the finest view; chance fits of a raster stay above this (measured on printed surfaces)
_GUESSES = 8
_LEAST_LIKENESS = 0.6  # of the shared area in the finest view
_SURE_LIKENESS = 0.85  # of single tiles: so alike is the same spot only, even where the whole doesn't fit
_LEAST_AGREEING = 0.5  # of the tiles, and
_FEWEST = 6
_LOOSE_SHARE = 0.012  # of the longer side: how far a tile may be off and still speak for an overlap


@dataclass(frozen=True)
class Capture:
    """A capture ready to be compared."""

    name: str
    detail: Detail

    @cached_property
    def features(self) -> Features:
        """Points (n, 2) as (row, col) of the coarsest view, and their descriptors."""
        finder = SIFT(upsampling=1)
        view = self.detail.views[0]
        try:
            finder.detect_and_extract(np.clip((view + 3) / 6, 0, 1))
        except RuntimeError:  # nothing to see
            return np.zeros((0, 2)), np.zeros((0, 128))
        return np.asarray(finder.keypoints), np.asarray(finder.descriptors)


def captures(names: Sequence[str], pictures: Sequence[Bytes]) -> list[Capture]:
    """Make captures, uint8 (rows, cols, 3) each, ready to be compared with each other."""
    longest = max(max(srgb.shape) for srgb in pictures)
    return [Capture(name, detail_of(srgb, longest)) for name, srgb in zip(names, pictures, strict=True)]


@dataclass(frozen=True)
class Overlap:
    """Two captures on each other: `tiles` in px of the captures themselves; `likeness` of the shared area, 0 to 1."""

    first: int
    second: int
    tiles: Tiles
    likeness: float
    shared: float

    @property
    def worth(self) -> float:
        """Likeness counts for more where more is alike: its spread falls with the root of the area."""
        return self.likeness * float(np.sqrt(self.shared))


def overlap(first: Capture, second: Capture, numbers: tuple[int, int] = (0, 1)) -> Overlap | None:
    """Lay the second capture on the first, both from one call of `captures`; None where nothing shows a shared spot.

    Raises
    ------
    ResidualTooLarge
        They do share one, yet no turn and shift brings them on each other: seen from another side, or bent since.
    """
    best, bent = None, 0.0
    for guess in _guesses(first, second):
        found = _followed(first.detail, second.detail, guess)
        if found is None:
            continue
        tiles, factor = found
        residual_px = tiles.apart_px() / factor
        like, shared = likeness(first.detail.views[-1], second.detail.views[-1], tiles.placed.enlarged(1 / factor))
        if residual_px <= MOST_RESIDUAL_PX and like >= _LEAST_LIKENESS:
            candidate = Overlap(*numbers, tiles, like, shared)
            best = candidate if best is None or candidate.worth > best.worth else best
            if like > _SURE_LIKENESS:
                break
        elif np.median(tiles.likeness) > _SURE_LIKENESS:
            bent = max(bent, tiles.apart_px())
    if best is None and bent:
        raise ResidualTooLarge(
            f"{first.name} and {second.name} look alike, but stay {bent:.1f} px apart on average. Either they show "
            "different spots of a pattern that repeats, or one was taken from another side: take them again from "
            "straight above, sharing more."
        )
    return best


def _guesses(first: Capture, second: Capture) -> Iterator[Place]:
    """Places of the second in the first, px of the coarsest views: by shift alone, then by features."""
    yield from by_shift(first.detail.views[0], second.detail.views[0], LEAST_SHARED, _GUESSES)
    turned = by_features(first.features, second.features)
    if turned:
        yield turned


def _followed(first: Detail, second: Detail, guess: Place) -> tuple[Tiles, float] | None:
    """Follow a guess from the coarse to the fine views; the finest tiles in px of the captures, and px per view px."""
    place, tiles = guess, None
    factor = first.factors[0]
    levels = len(first.views)
    for level in range(levels):
        place = place.enlarged(factor / first.factors[level])
        factor = first.factors[level]
        a, b = first.views[level], second.views[level]
        for _ in range(2 if level in (0, levels - 1) else 1):
            tiles = drift(a, b, place, max(_LOOSE_SHARE * max(a.shape), 2.0))
            if int(tiles.agree.sum()) < _FEWEST or tiles.agreeing_share < _LEAST_AGREEING:
                return None
            place = tiles.placed
    return (_at_full_size(tiles, factor), factor) if tiles else None


def _at_full_size(tiles: Tiles, factor: float) -> Tiles:
    half = (factor - 1) / 2 * (1 + 1j)
    here, there = tiles.here * factor + half, tiles.there * factor + half
    return replace(tiles, here=here, there=there, placed=tiles.placed.enlarged(factor))


def likeness(first: Floats, second: Floats, placed: Place) -> tuple[float, float]:
    """Correlation of two views where they lie on each other, and the shared part of the smaller; 0, 0 if nowhere."""
    edge = placed.of(corners(second.shape))
    top, left = (max(0, int(np.ceil(v))) for v in (edge.imag.min(), edge.real.min()))
    low, right = (min(n - 1, int(v)) for n, v in zip(first.shape, (edge.imag.max(), edge.real.max()), strict=True))
    if low <= top or right <= left:
        return 0.0, 0.0
    way = placed.back()
    rows, cols = np.mgrid[top : low + 1, left : right + 1]
    seen = way.of(cols + 1j * rows)
    on = (seen.real >= 0) & (seen.imag >= 0) & (seen.real <= second.shape[1] - 1) & (seen.imag <= second.shape[0] - 1)
    if on.sum() < 100:
        return 0.0, 0.0
    mine = first[top : low + 1, left : right + 1][on]
    theirs = seen_through(second, way, top, left, on.shape)[on]
    return float(np.corrcoef(mine, theirs)[0, 1]), float(on.sum()) / min(first.size, second.size)
