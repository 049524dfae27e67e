"""From the network's opinion of every place to the best division into one, two, three or four planes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import linalg, ndimage
from skimage.segmentation import relabel_sequential, watershed

from analysis.roads.workview import Bools, Floats

LEAST_SHARE = 0.03  # by definition: a smaller terrace is not counted
MOST = 4  # judgement: more planes than this on one face are not told apart
_BASINS = 80
_TIGHT = 10.0  # how much a certain step loosens the tie across it, natural log; judgement, from rendered faces
Labels = npt.NDArray[np.int32]


@dataclass(frozen=True)
class Split:
    """The face in `count` planes.

    labels : (rows, cols) 1 .. count on the face, 0 outside.
    loose : natural log of how loosely the planes hang together, over what the face's shape alone would do; the lower,
    the clearer the steps between this many planes. 0 for one plane.
    """

    count: int
    labels: Labels
    loose: float


def splits(odds: Floats, marks: Floats, inside: Bools) -> list[Split]:
    """Divisions into 1, 2, .. MOST planes, as far as planes of `LEAST_SHARE` can be had.

    Parameters
    ----------
    odds, marks : (rows, cols), (rows, cols, k) log odds of a step, and the numbers that stand for a place's plane.
    inside : (rows, cols) the face.

    Small basins of the step map are joined two by two where that raises the squared spread of their numbers least
    (J. H. Ward, J. Am. Stat. Assoc. 58:236, 1963), whether or not they touch: an island of a plane belongs to it.
    Beside the marks stand the slowest swings of the basins as a net whose ties are loose across steps (J. Shi, J.
    Malik, IEEE Trans. PAMI 22:888, 2000), so that a border with a hole in it still parts.
    """
    step = np.asarray(1 / (1 + np.exp(-np.clip(odds, -30, 30))), np.float32)
    basins = _basins(step, inside)
    size = np.bincount(basins[inside], minlength=int(basins.max()) + 1)[1:].astype(float)
    mean = np.stack(
        [ndimage.mean(marks[..., k], basins, np.arange(1, len(size) + 1)) for k in range(marks.shape[-1])], 1
    )
    swings, loose = _swings(basins, step, size)
    found = [Split(1, inside.astype(np.int32), 0.0)]
    for count in range(2, min(MOST, len(size)) + 1):
        numbers = np.concatenate([mean, swings[:, : count - 1]], 1)
        plane = _joined(numbers, size, count)
        if plane is None:
            break
        found.append(Split(count, np.r_[0, plane].astype(np.int32)[basins], loose[count - 2]))
    return found


def _basins(step: Floats, inside: Bools) -> Labels:
    """Calm places of the step map, flooded until they meet."""
    soft = ndimage.gaussian_filter(step, 0.8)
    lowest = (ndimage.minimum_filter(soft, 5) == soft) & inside
    seeds, count = ndimage.label(lowest, np.ones((3, 3)))
    if count > _BASINS:
        sizes = ndimage.distance_transform_edt(inside & (soft < np.median(soft[inside]) + 0.05))
        order = np.argsort(-ndimage.maximum(sizes, seeds, np.arange(1, count + 1)))[:_BASINS] + 1
        seeds = np.where(np.isin(seeds, order), seeds, 0)
    basins = watershed(soft, seeds, mask=inside)
    lost = inside & (basins == 0)  # a piece apart without a seed of its own
    nearest = ndimage.distance_transform_edt(basins == 0, return_distances=False, return_indices=True)
    basins = np.where(lost, basins[tuple(nearest)], basins)
    return np.asarray(relabel_sequential(np.where(inside, basins, 0))[0], np.int32)


def _ties(basins: Labels, step: Floats, tight: float) -> npt.NDArray[np.float64]:
    """Length of the border of every two basins, each place of it by e to the minus `tight` times its step."""
    count = int(basins.max())
    ties = np.zeros((count, count))
    for a, b in ((np.s_[1:], np.s_[:-1]), (np.s_[:, 1:], np.s_[:, :-1])):
        meet = (basins[a] != basins[b]) & (basins[a] > 0) & (basins[b] > 0)
        weight = np.exp(-tight * np.maximum(step[a], step[b])[meet])
        np.add.at(ties, (basins[a][meet] - 1, basins[b][meet] - 1), weight)
    return ties + ties.T


def _swings(
    basins: Labels, step: Floats, size: npt.NDArray[np.float64]
) -> tuple[npt.NDArray[np.float64], tuple[float, ...]]:
    """The slowest swings of the net of basins (basins, MOST - 1), mean square 1 over the face; and how loose it is.

    Looseness: natural log of each swing's rate over the rate that the net would have without any step.
    """
    soft = ndimage.gaussian_filter(step, 0.5)
    rates, shapes = [], np.zeros((len(size), 0))
    for tight in (0.0, _TIGHT):
        ties = _ties(basins, soft, tight)
        net = np.diag(ties.sum(1)) - ties + 1e-9 * np.eye(len(size))
        rate, shapes = linalg.eigh(net, np.diag(size))
        rates.append(np.r_[rate, np.full(MOST, rate[-1])][1:MOST])
    loose = np.log(np.maximum(rates[1], 1e-9) / np.maximum(rates[0], 1e-9))
    return shapes[:, 1:MOST] * np.sqrt(size.sum()), tuple(float(v) for v in loose)


def _joined(
    numbers: npt.NDArray[np.float64], size: npt.NDArray[np.float64], count: int
) -> npt.NDArray[np.int32] | None:
    """Join basins until `count` planes are left that all count: each basin's plane, 1 upward."""
    mean, size, least = numbers.copy(), size.copy(), LEAST_SHARE * size.sum()
    owner = np.arange(len(size))
    alive = list(range(len(size)))
    while True:
        weight = size[alive, None] * size[None, alive] / (size[alive, None] + size[None, alive])
        cost = weight * ((mean[alive][:, None] - mean[alive][None]) ** 2).sum(-1)
        np.fill_diagonal(cost, np.inf)
        small = size[alive] < least
        if len(alive) == count and not small.any():
            place = {k: n for n, k in enumerate(alive, 1)}
            return np.array([place[int(k)] for k in owner], np.int32)
        if len(alive) <= count:
            return None
        if small.any() and (~small).sum() <= count:  # the planes are there: slivers go to them
            cost[~small] = np.inf
        a, b = (alive[int(k)] for k in np.unravel_index(int(cost.argmin()), cost.shape))
        mean[a] = (size[a] * mean[a] + size[b] * mean[b]) / (size[a] + size[b])
        size[a] += size[b]
        owner[owner == b] = a
        alive.remove(b)
