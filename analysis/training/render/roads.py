"""Geometry of the roads: walls that follow the outline inward, and raster roads inside them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, map_coordinates
from scipy.spatial import cKDTree
from skimage.measure import find_contours

from analysis.training.render.shapes import Points, Section, clockwise, resample, soften
from analysis.training.render.smooth import fill_polygon

ROAD_STEP_MM = 0.05
GRID_MM = 0.06
RASTER_ID = 255


class Depth:
    """Signed distance (mm, positive inside the material) from one contour, on a grid."""

    def __init__(self, contour_mm: Points, lo: Points, shape: tuple[int, int], hole: bool) -> None:
        self.lo, self.hole = lo, hole
        yy, xx = np.mgrid[: shape[0], : shape[1]] * GRID_MM
        at = np.c_[xx.ravel() + lo[0], yy.ravel() + lo[1]]
        dense = resample(contour_mm, 0.015)
        d = np.asarray(cKDTree(dense).query(at)[0]).reshape(shape)
        inside = fill_polygon((contour_mm - lo) / GRID_MM, shape)
        self.grid = np.where(inside ^ hole, d, -d)

    def at(self, points_mm: Points) -> NDArray[np.float64]:
        """Return the depth at (n, 2) points."""
        p = (points_mm - self.lo) / GRID_MM
        out = map_coordinates(self.grid, [p[:, 1], p[:, 0]], order=1, mode="nearest")
        return np.asarray(out, dtype=np.float64)

    def contours(self, level_mm: float) -> list[Points]:
        """Return the closed curves at this depth, clockwise, longest first (scraps shorter than 1 mm left out)."""
        curves: list[Points] = find_contours(self.grid, level_mm)
        found = [c[:-1, ::-1] * GRID_MM + self.lo for c in curves if np.allclose(c[0], c[-1])]
        found = [clockwise(c) for c in found if np.hypot(*np.diff(c, axis=0).T).sum() > 1.0]
        return sorted(found, key=len, reverse=True)


@dataclass(frozen=True)
class Wall:
    """The design centre line of one wall, from its start point on, clockwise."""

    contour: str
    index: int
    line_mm: Points

    @property
    def length_mm(self) -> float:
        return float(np.hypot(*(np.roll(self.line_mm, -1, axis=0) - self.line_mm).T).sum())


@dataclass(frozen=True)
class Plan:
    """What every layer of a part has in common."""

    section: Section
    depths: tuple[Depth, ...]
    walls: tuple[Wall, ...]
    line_width_mm: float
    spacing_mm: float
    wall_count: int
    density: float

    def depth_at(self, points_mm: Points) -> NDArray[np.float64]:
        """Return the distance to the nearest contour at (n, 2) points, positive inside the material."""
        return np.asarray(np.min([d.at(points_mm) for d in self.depths], axis=0), dtype=np.float64)


def _start_at(line: Points, contour: Points) -> Points:
    """Roll a centre line to the point nearest to the contour's point of largest x."""
    corner = contour[np.argmax(contour[:, 0])]
    return np.roll(line, -int(np.argmin(((line - corner) ** 2).sum(1))), axis=0)


def _wall(depth: Depth, level_mm: float, corner_mm: float) -> Points | None:
    """Return the one closed centre line at this depth, or None where it has split, vanished or leaves no road."""
    found = depth.contours(level_mm)
    if len(found) != 1:
        return None
    line = resample(found[0], ROAD_STEP_MM)
    line = gaussian_filter1d(line, corner_mm / ROAD_STEP_MM, axis=0, mode="wrap")
    return resample(line, ROAD_STEP_MM) if len(line) > 40 else None


def make_plan(section: Section, line_width_mm: float, spacing_mm: float, wall_count: int, density: float) -> Plan:
    """Lay the walls of a section; fewer than asked where they'd split or run into each other.

    Raises
    ------
    ValueError
        The section is too narrow for a single wall.
    """
    # a nozzle can't print a sharp corner: the part's own outline is as round as its outermost road
    section = replace(section, outer_mm=soften(section.outer_mm, 0.55 * line_width_mm))
    lo, hi = section.outer_mm.min(0) - 0.4, section.outer_mm.max(0) + 0.4
    nx, ny = np.ceil((hi - lo) / GRID_MM).astype(int) + 1
    rings = [section.outer_mm, *section.holes_mm]
    depths = tuple(Depth(c, lo, (int(ny), int(nx)), k > 0) for k, c in enumerate(rings))
    walls: list[list[Wall]] = [[] for _ in rings]
    for k in range(wall_count):
        level = line_width_mm / 2 + k * spacing_mm
        lines = [_wall(d, level, 0.12 * line_width_mm) for d in depths]
        if any(x is None for x in lines):
            break
        laid = [np.asarray(x) for x in lines]
        room = min(
            (
                float(depths[j].at(laid[i]).min()) - level
                for i in range(len(rings))
                for j in range(len(rings))
                if i != j
            ),
            default=spacing_mm,
        )
        if room < 0.8 * spacing_mm:
            break
        for i, line in enumerate(laid):
            name = "outer" if i == 0 else f"hole{i - 1}"
            walls[i].append(Wall(name, k, _start_at(line, rings[i])))
    if not walls[0]:
        raise ValueError("the section is too narrow for one wall")
    flat = tuple(w for group in walls for w in group)
    return Plan(section, depths, flat, line_width_mm, spacing_mm, len(walls[0]), density)


def raster_runs(plan: Plan, angle_deg: float, phase: float, overlap: float) -> list[list[Points]]:
    """Return, scan line by scan line, the straight raster roads (each two end points, mm) inside the walls.

    `phase` 0..1 shifts the lines by that share of their pitch; `overlap` (share of the road width) lets road ends
    reach into the innermost wall.
    """
    a = np.deg2rad(angle_deg)
    t, n = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
    pitch = plan.spacing_mm / plan.density
    level = plan.wall_count * plan.spacing_mm + plan.line_width_mm * (0.5 - overlap)
    reach = float(np.hypot(*plan.section.outer_mm.T).max()) + 0.2
    along = np.arange(-reach, reach, ROAD_STEP_MM)
    lines: list[list[Points]] = []
    for v in np.arange(-reach + phase * pitch, reach, pitch):
        inside = np.r_[False, plan.depth_at(along[:, None] * t + v * n) >= level, False]
        edges = np.flatnonzero(np.diff(inside.astype(int)))
        ends = [(along[i], along[j - 1]) for i, j in zip(edges[::2], edges[1::2], strict=True)]
        runs = [np.array([[p], [q]]) * t + v * n for p, q in ends if q - p > 0.6 * plan.line_width_mm]
        lines.append([np.asarray(r) for r in runs])
    return lines


def join_runs(lines: list[list[Points]], pitch_mm: float, turns: bool) -> list[Points]:
    """Join neighbouring raster roads by U-turns where the ends lie close to each other; return polylines."""
    chains: list[Points] = []
    open_chain: list[Points] = []
    flip = False
    for runs in lines:
        if len(runs) != 1 or not turns:
            if open_chain:
                chains.append(np.vstack(open_chain))
                open_chain = []
            chains += runs
            continue
        run = runs[0][::-1] if flip else runs[0]
        if open_chain and np.hypot(*(open_chain[-1][-1] - run[0])) > 2.2 * pitch_mm:
            chains.append(np.vstack(open_chain))
            open_chain = []
        open_chain.append(run)
        flip = not flip
    if open_chain:
        chains.append(np.vstack(open_chain))
    return chains
