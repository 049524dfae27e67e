"""How far two captures that nearly lie on each other are still off, tile by tile, and the place that mends it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from skimage.registration import phase_cross_correlation

from analysis.fields.detail import seen_through
from analysis.fields.place import Floats, Place, Points, corners

Doubles = npt.NDArray[np.float64]
_LEAST_LIKENESS = 0.35  # of a tile with its counterpart, 0 to 1; unlike tiles reach 0.2 to 0.3 by chance
_FINENESS = 20  # shifts are read to a twentieth of a pixel
_ACROSS = 7  # tiles a side of the overlap at most


@dataclass(frozen=True)
class Tiles:
    """What was compared: `here` and `there` are the same spots in the two views, px of each view.

    likeness : 0 to 1 each; agree : which of them fit the common place; placed : place of `there` in the first view.
    keen : (n, 2, 2), how sharply a tile tells shifts, 1 in its keenest direction: along bare roads next to nothing.
    """

    here: Points
    there: Points
    likeness: Doubles
    keen: Doubles
    agree: npt.NDArray[np.bool_]
    placed: Place

    def off_px(self, placed: Place) -> Doubles:
        """How far each tile is off where `placed` has it, px, as far as the tile can tell."""
        step = _pairs(self.here - placed.of(self.there))
        return np.asarray(np.sqrt(np.maximum(np.einsum("ni,nij,nj->n", step, self.keen, step), 0)))

    def residual_px(self, placed: Place | None = None) -> float:
        """Root of the mean squared distance of the agreeing tiles from their common place, px of the view."""
        off = self.off_px(placed or self.placed)[self.agree]
        return float(np.sqrt((off**2).mean())) if off.size else float("inf")

    def apart_px(self) -> float:
        """As `residual_px`, but with every tile's shift taken at its word: along bare roads it means little.

        For the judgement whether it is the same spot at all, where the little counts.
        """
        off = np.abs(self.here - self.placed.of(self.there))[self.agree]
        return float(np.sqrt((off**2).mean())) if off.size else float("inf")

    @property
    def agreeing_share(self) -> float:
        """Of all tiles that were compared."""
        return float(self.agree.mean()) if self.agree.size else 0.0


def drift(first: Floats, second: Floats, guess: Place, within_px: float, *, scale_free: bool = False) -> Tiles:
    """Compare tiles of two views.

    Parameters
    ----------
    first, second : (rows, cols), details at the same enlargement.
    guess : place of `second` in `first`.
    within_px : a tile agrees when it lies this near to where the common place has it.
    scale_free : whether the common place may enlarge (a focus series breathes).
    """
    way = guess.back()
    here, there, likeness, keen = [], [], [], []
    for top, left, size in _tiles(first.shape, second.shape, guess):
        mine = first[top : top + size, left : left + size]
        theirs = seen_through(second, way, top, left, (size, size))
        off, like = _shift(mine, theirs)
        centre = complex(left, top) + (size - 1) / 2 * (1 + 1j)
        here.append(centre)
        there.append(complex(way.turn * (centre - off) + way.shift))
        likeness.append(0.0 if abs(off) > size / 3 else like)
        keen.append(_keenness(mine))
    tiles = Tiles(
        np.array(here, complex), np.array(there, complex), np.array(likeness, float),
        np.array(keen, float).reshape(-1, 2, 2), np.zeros(len(here), bool), guess,
    )  # fmt: skip
    return _agreed(tiles, within_px, scale_free)


def _agreed(tiles: Tiles, within_px: float, scale_free: bool) -> Tiles:
    """Find the place that most tiles agree on: least squares whose outliers weigh less at each turn (Cauchy)."""
    alike = tiles.likeness >= _LEAST_LIKENESS
    if alike.sum() < 2:
        return tiles
    placed = tiles.placed
    weights = alike.astype(float)
    for _ in range(8):
        placed = _mended(tiles, placed, weights, scale_free)
        off = tiles.off_px(placed)
        width = max(float(np.median(off[alike])), 0.1)
        weights = alike / (1 + (off / width) ** 2)
    return replace(tiles, placed=placed, agree=alike & (tiles.off_px(placed) <= within_px))


def _mended(tiles: Tiles, placed: Place, weights: Doubles, scale_free: bool) -> Place:
    """One step of least squares from `placed`: shift and turn, and enlargement where it is free."""
    seen = placed.of(tiles.there)
    middle = complex((weights * seen).sum() / weights.sum())
    arm = seen - middle
    moves = [np.ones_like(arm), 1j * np.ones_like(arm), 1j * arm, *([arm] if scale_free else [])]
    ways = np.stack([_pairs(move) for move in moves], axis=2)  # (n, 2, unknowns)
    keen = tiles.keen * weights[:, None, None]
    left = np.einsum("nia,nij,njb->ab", ways, keen, ways)
    right = np.einsum("nia,nij,nj->a", ways, keen, _pairs(tiles.here - seen))
    found = np.linalg.lstsq(left, right, rcond=1e-9)[0]
    grown = 1 + (found[3] if scale_free else 0.0)
    turn = complex(grown * np.exp(1j * found[2]))
    return Place(turn, middle - turn * middle + complex(found[0], found[1])).after(placed)


def _pairs(points: Points) -> Doubles:
    return np.stack([points.real, points.imag], -1)


def _keenness(tile: Floats) -> Doubles:
    """The structure tensor of a tile over its larger eigenvalue."""
    down, right = np.gradient(tile.astype(np.float64))
    tensor = np.array([[(right**2).mean(), (right * down).mean()], [(right * down).mean(), (down**2).mean()]])
    return np.asarray(tensor / max(float(np.linalg.eigvalsh(tensor)[-1]), 1e-12))


def _tiles(first: tuple[int, ...], second: tuple[int, ...], guess: Place) -> list[tuple[int, int, int]]:
    """(top, left, size) of tiles of the first view whose spots lie on the second one as well."""
    edge = guess.of(corners(second))
    left, right = max(0.0, edge.real.min()), min(first[1] - 1.0, edge.real.max())
    top, low = max(0.0, edge.imag.min()), min(first[0] - 1.0, edge.imag.max())
    size = int(np.clip(min(right - left, low - top) / 2, 0, 64))
    if size < 16:
        return []
    way, found = guess.back(), []
    for y in _spread(top, low, size):
        for x in _spread(left, right, size):
            seen = way.of(complex(x, y) + corners((size, size)))
            low_enough = seen.real.max() <= second[1] - 1 and seen.imag.max() <= second[0] - 1
            if low_enough and seen.real.min() >= 0 and seen.imag.min() >= 0:
                found.append((y, x, size))
    return found


def _spread(low: float, high: float, size: int) -> list[int]:
    room = high - low + 1 - size
    count = int(np.clip(2 * room // size + 1, 1, _ACROSS))
    return [int(v) for v in np.linspace(np.ceil(low), np.floor(low + max(room, 0)), count)]


def _shift(mine: Floats, theirs: Floats) -> tuple[complex, float]:
    """How far `theirs` has to go to lie on `mine`, px, and how like they are then, 0 to 1."""
    window = np.hanning(len(mine))[:, None] * np.hanning(len(mine))
    a, b = (mine - mine.mean()) * window, (theirs - theirs.mean()) * window
    if not a.any() or not b.any():
        return 0j, 0.0
    (down, right), error, _ = phase_cross_correlation(a, b, upsample_factor=_FINENESS, normalization=None)
    return complex(right, down), float(np.sqrt(max(0.0, 1.0 - float(error) ** 2)))
