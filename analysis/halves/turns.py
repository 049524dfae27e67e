"""Lays one half's outline on the other's: which turns bring them together, and how well.

Both outlines are brought to millimetres about their own centroid, the mate mirrored left to right, so that a true pair
differs by a turn, a small shift and what the two cameras added: a scale error, a tilt, a slight bend.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

from analysis.common.polygons import perimeter
from analysis.outlines.outline import Outline

Floats = NDArray[np.float64]
TURNS = 360  # turns tried, one a degree
POINTS = 360  # on the outline that is moved
DENSE = 1600  # on the outline it is laid on
_CELLS = 192  # of the distance map's longer side
_EFFECTIVE = 40.0  # independent places on an outline; its errors run along it (judgement)


@dataclass(frozen=True)
class Rings:
    """Outer ring and holes of one half in mm, resampled evenly; `centre_px` and `mm_per_px` tell how it was done.

    points_mm (n, 2), normals (n, 2); a mate's x is mirrored.
    """

    points_mm: Floats
    normals: Floats
    centre_px: Floats
    mm_per_px: float
    mirrored: bool

    def to_mm(self) -> Floats:
        """Affine 2x3 from photo px to mm."""
        x = -self.mm_per_px if self.mirrored else self.mm_per_px
        linear = np.diag([x, self.mm_per_px])
        return np.column_stack([linear, -linear @ self.centre_px])


@dataclass(frozen=True)
class Lay:
    """One way to lay the photo's outline on the mate's: `affine_mm` 2x3 in the frames of `Rings`.

    residual_mm : mean distance of the two outlines from each other, both ways. worst_mm : 95th percentile of it.
    strain : how far the linear part's two stretches lie from 1.
    """

    affine_mm: Floats
    residual_mm: float
    worst_mm: float
    strain: tuple[float, float]


def make_rings(outline: Outline, mm_per_px: float, count: int, mirrored: bool) -> Rings:
    """Resample an outline to `count` even points in mm about its centroid."""
    rings = [outline.outer_px, *outline.holes_px]
    lengths = np.array([perimeter(ring) for ring in rings])
    share = np.maximum(8, np.round(count * lengths / lengths.sum())).astype(int)
    centre = _centroid(outline.outer_px)
    sampled = [_even(ring, int(n)) for ring, n in zip(rings, share, strict=True)]
    points = np.vstack([points for points, _ in sampled]) - centre
    normals = np.vstack([normals for _, normals in sampled])
    if mirrored:
        points, normals = points * [-1, 1], normals * [-1, 1]
    return Rings(points * mm_per_px, normals, centre, mm_per_px, mirrored)


def scan_turns(rings: Rings, mate: Rings, cap_mm: float) -> Floats:
    """Mean distance in mm of the turned outline from the mate's, for `TURNS` turns about the centroid.

    Each distance counts at most `cap_mm`, so that one bad stretch doesn't hide the right turn.
    """
    span = 1.1 * max(np.abs(rings.points_mm).max(), np.abs(mate.points_mm).max()) * np.sqrt(2) + cap_mm
    cell = 2 * span / _CELLS
    free = np.ones((_CELLS, _CELLS), bool)
    places = np.clip(((mate.points_mm + span) / cell).astype(int), 0, _CELLS - 1)
    free[places[:, 1], places[:, 0]] = False
    distance = np.minimum(ndimage.distance_transform_edt(free) * cell, cap_mm)
    turns = np.arange(TURNS) * 2 * np.pi / TURNS
    cos, sin = np.cos(turns)[:, None], np.sin(turns)[:, None]
    x, y = rings.points_mm.T
    cols = np.clip(((cos * x - sin * y + span) / cell).astype(int), 0, _CELLS - 1)
    rows = np.clip(((sin * x + cos * y + span) / cell).astype(int), 0, _CELLS - 1)
    return np.asarray(distance[rows, cols].mean(1))


def lay(rings: Rings, mate: Rings, turn_rad: float, line_width_mm: float, strain_sd: float) -> Lay:
    """Move, turn and slightly stretch the outline from a first turn until it lies on the mate's as well as it can.

    `strain_sd`: standard deviation that the stretches may have about 1, from both scales and the cameras' tilts.
    """
    tree = cKDTree(mate.points_mm)
    cos, sin = np.cos(turn_rad), np.sin(turn_rad)
    affine = np.array([[cos, -sin, 0.0], [sin, cos, 0.0]])
    for step in range(14):
        moved = rings.points_mm @ affine[:, :2].T + affine[:, 2]
        _, nearest = tree.query(moved)
        normals = mate.normals[nearest]
        off = np.einsum("ij,ij->i", normals, mate.points_mm[nearest] - moved)
        spread = max(1.48 * float(np.median(np.abs(off))), 0.05 * line_width_mm)
        weight = np.clip(1 - (off / (4 * spread)) ** 2, 0, 1) ** 2 * _EFFECTIVE / len(off) / spread**2
        hold = (0.1 if step < 4 else 1.0) * strain_sd
        affine = affine + _update(rings.points_mm, affine, normals, off, weight, hold)
    moved = rings.points_mm @ affine[:, :2].T + affine[:, 2]
    back = cKDTree(moved).query(mate.points_mm)[0]
    quarter_step = 0.25 * perimeter(moved) / len(moved)  # what sampling alone leaves between two equal lines
    apart = np.concatenate([tree.query(moved)[0], np.maximum(back - quarter_step, 0)])
    stretch = np.linalg.svd(affine[:, :2], compute_uv=False) - 1
    worst = float(np.percentile(apart, 95))
    return Lay(affine, float(apart.mean()), worst, (float(stretch[0]), float(stretch[1])))


def _update(points: Floats, affine: Floats, normals: Floats, off: Floats, weight: Floats, hold_sd: float) -> Floats:
    """One damped Gauss-Newton step of the six numbers; the stretches are held near 1 within `hold_sd`."""
    x, y = points.T
    ones = np.ones(len(points))
    slope = np.column_stack([normals[:, :1] * np.c_[x, y, ones], normals[:, 1:] * np.c_[x, y, ones]])
    lhs, rhs = slope.T @ (weight[:, None] * slope), slope.T @ (weight * off)
    # Strain = symmetric part of R^T A - 1, three numbers, each linear in A.
    u, _, vt = np.linalg.svd(affine[:, :2])
    turn = u @ vt
    hold = 1.0 / hold_sd**2
    (a, b), (c, d) = turn
    rows = np.array([[a, 0, 0, c, 0, 0], [0, b, 0, 0, d, 0], [b, a, 0, d, c, 0]], float) / np.array([[1], [1], [2]])
    strain = turn.T @ affine[:, :2] - np.eye(2)
    now = np.array([strain[0, 0], strain[1, 1], (strain[0, 1] + strain[1, 0]) / 2])
    lhs, rhs = lhs + hold * rows.T @ rows, rhs - hold * rows.T @ now
    lhs = lhs + np.eye(6) * 1e-6 * np.trace(lhs) / 6  # a disc's turn is free; leave it where it is
    return np.asarray(np.linalg.solve(lhs, rhs)).reshape(2, 3)


def _centroid(ring: Floats) -> Floats:
    x, y = (ring - ring[0]).T
    x2, y2 = np.roll(x, -1), np.roll(y, -1)
    cross = x * y2 - x2 * y
    return np.asarray(ring[0] + np.array([((x + x2) * cross).sum(), ((y + y2) * cross).sum()]) / (3 * cross.sum()))


def _even(ring: Floats, count: int) -> tuple[Floats, Floats]:
    """`count` points at even steps along a closed ring, and the line's unit normal at each."""
    closed = np.vstack([ring, ring[:1]])
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(closed, axis=0).T))]
    wanted = (np.arange(count) + 0.5) * along[-1] / count
    points = np.column_stack([np.interp(wanted, along, closed[:, k]) for k in (0, 1)])
    ahead = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    length = np.maximum(np.hypot(*ahead.T), 1e-12)
    return points, np.column_stack([-ahead[:, 1], ahead[:, 0]]) / length[:, None]
