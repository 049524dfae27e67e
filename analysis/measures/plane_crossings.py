"""Cliff edges: dark lines that cross a wall's road instead of following it, with the road alike on both sides."""

from __future__ import annotations

import numpy as np
from scipy import ndimage, signal

from analysis.measures.plane_cues import NAMES
from analysis.roads.workview import ROAD_PX, Bools, Floats

_TURNS = 8  # directions that are looked in
_CLEAR = 6.0  # times the median absolute response along walls: what stands out; judgement
_ALIKE = 0.6  # of the face's own spread: at a gap's end one side is road and the other is not; judgement


def crossings(cues: Floats) -> float:
    """Number of clear lines across walls, over the square root of the face's area in square roads.

    cues : (rows, cols, k) as `plane_cues` gives them. 0 where there are next to no walls. A step between layers leaves
    such a line on every wall it passes; gaps' ends are left out, as the road's light differs on their two sides.
    """
    light, wall, across = _laid_out(cues)
    if wall.sum() < 3.5 * ROAD_PX**2:
        return 0.0
    answers = np.stack([signal.fftconvolve(light, _line(k * np.pi / _TURNS), "same") for k in range(_TURNS)])
    turn = np.rint((across % np.pi) / (np.pi / _TURNS)).astype(int) % _TURNS
    answer = np.take_along_axis(answers, turn[None], 0)[0]
    usual = float(np.median(np.abs(answer[wall] - np.median(answer[wall])))) + 1e-3
    peaks = wall & (ndimage.maximum_filter(answer, 9) == answer) & (answer > _CLEAR * usual)
    soft = ndimage.gaussian_filter(light, ROAD_PX / 6)
    row, col = np.nonzero(peaks)
    along = across[peaks] + np.pi / 2
    sides = [
        ndimage.map_coordinates(soft, [row + d * np.sin(along), col + d * np.cos(along)], order=1, mode="nearest")
        for d in (ROAD_PX / 2, -ROAD_PX / 2)
    ]
    area = ndimage.binary_erosion(cues[..., -1] > 0.9, iterations=2).sum() * 4 / ROAD_PX**2
    return float((np.abs(sides[0] - sides[1]) < _ALIKE).sum() / np.sqrt(max(area, 1.0)))


def _laid_out(cues: Floats) -> tuple[Floats, Bools, Floats]:
    """On the working grid: lightness, where walls are well inside the face, and the direction across them, radians."""
    rows, cols = cues.shape[:2]
    light = np.zeros((2 * rows, 2 * cols), np.float32)
    for k in range(4):
        light[k // 2 :: 2, k % 2 :: 2] = cues[..., k]
    even, odd, on_wall = (cues[..., NAMES.index(n)] for n in ("phase_even", "phase_odd", "on_wall"))
    dy, dx = (even * ndimage.sobel(odd, axis) - odd * ndimage.sobel(even, axis) for axis in (0, 1))
    wall = (on_wall > 0.9) & ndimage.binary_erosion(cues[..., -1] > 0.9, iterations=2)
    return light, np.kron(wall, np.ones((2, 2), bool)), np.kron(np.arctan2(dy, dx), np.ones((2, 2))).astype(np.float32)


def _line(angle: float) -> Floats:
    """Kernel that answers to a dark line at an angle: a tenth of a road thin, a third of a road long, mean 0."""
    reach = np.arange(-9, 10)
    along = reach[None] * np.cos(angle) + reach[:, None] * np.sin(angle)
    off = -reach[None] * np.sin(angle) + reach[:, None] * np.cos(angle)
    thin, long = ROAD_PX * 0.108, ROAD_PX / 3
    kernel = (off**2 / thin**2 - 1) * np.exp(-(off**2) / (2 * thin**2) - along**2 / (2 * long**2))
    kernel -= kernel.mean()
    return np.asarray(kernel / np.abs(kernel).sum(), np.float32)
