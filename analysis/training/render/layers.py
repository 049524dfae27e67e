"""One printed layer as a cloud of centre-line points, and the look-up of the nearest road for every pixel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import cKDTree

from analysis.training.render.noise import curve
from analysis.training.render.roads import RASTER_ID, ROAD_STEP_MM, Plan, join_runs, raster_runs
from analysis.training.render.shapes import Points, resample

Vector = NDArray[np.float64]
Array = NDArray[np.float32]


@dataclass
class Layer:
    """Centre-line points of one layer; all arrays have one row per point.

    `factor` is the road's width as a share of the nominal one (0 = no road); `above` is False where the road of the
    layer above was missing, so that nothing was welded here.
    """

    raster_deg: float
    points_mm: Points
    tangent: Points
    road: NDArray[np.int32]
    wall: NDArray[np.int32]
    arc_mm: Vector
    factor: Vector
    above: NDArray[np.bool_]


def _tangents(line: Points, closed: bool) -> Points:
    d = np.roll(line, -1, 0) - np.roll(line, 1, 0) if closed else np.gradient(line, axis=0)
    return np.asarray(d / np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-9)[:, None])


def lay(rng: np.random.Generator, plan: Plan, raster_deg: float, looks: dict[str, float]) -> Layer:
    """Lay one layer: walls with a wobble of their own, raster with its own phase, widths that swing along the road."""
    w = plan.line_width_mm
    roads: list[tuple[Points, bool, int]] = []
    for i, wall in enumerate(plan.walls):
        nrm = _tangents(wall.line_mm, True)[:, ::-1] * [-1, 1]
        wobble = curve(rng, len(wall.line_mm), 2.0 / ROAD_STEP_MM, True) * looks["wobble"] * w
        roads.append((wall.line_mm + nrm * wobble[:, None], True, i))
    pitch = plan.spacing_mm / plan.density
    lines = raster_runs(plan, raster_deg, float(rng.random()), looks["overlap"])
    for chain in join_runs(lines, pitch, looks["turns"] > 0.5):
        line = resample(chain, ROAD_STEP_MM, closed=False)
        if len(line) > 6:
            line = gaussian_filter1d(line, 0.3 * w / ROAD_STEP_MM, axis=0, mode="nearest")
            roads.append((line, False, RASTER_ID))
    parts = []
    for k, (line, closed, wall_id) in enumerate(roads):
        n = len(line)
        step = plan.walls[wall_id].length_mm / n if closed else ROAD_STEP_MM
        width = 1 + looks["swing"] * curve(rng, n, 1.5 * w / ROAD_STEP_MM, closed)
        width += looks["road_swing"] * rng.standard_normal()
        parts.append((line, _tangents(line, closed), np.full(n, k), np.full(n, wall_id), np.arange(n) * step, width))
    cat = [np.concatenate(x) for x in zip(*parts, strict=True)]
    road, wall_ids = cat[2].astype(np.int32), cat[3].astype(np.int32)
    width = np.clip(cat[5], 0.75, 1.2)
    return Layer(raster_deg, cat[0], cat[1], road, wall_ids, cat[4], width, np.ones(len(road), bool))


@dataclass(frozen=True)
class Near:
    """The nearest road for n query points: which centre-line point, how far, and what that road is there."""

    index: NDArray[np.int64]
    distance_mm: Array
    across_mm: Array  # signed offset across the road
    along_mm: Array  # arc length along the road
    road: NDArray[np.int32]
    wall: NDArray[np.int32]
    factor: Array

    def pick(self, which: NDArray[np.bool_] | NDArray[np.int64]) -> Near:
        """Return the rows that a mask or an index array names."""
        return Near(*(getattr(self, f.name)[which] for f in fields(self)))


def scattered(n: int, parts: Sequence[tuple[NDArray[np.int64], Near]]) -> Near:
    """Put the rows of several answers back to their places among n points."""
    first = parts[0][1]
    out = Near(*(np.zeros(n, getattr(first, f.name).dtype) for f in fields(first)))
    for at, near in parts:
        for f in fields(near):
            getattr(out, f.name)[at] = getattr(near, f.name)
    return out


def nearest(points_mm: Points, layer: Layer, keep: NDArray[np.bool_] | None = None) -> Near:
    """Find the nearest road of a layer for (n, 2) points; `keep` restricts the roads to some of the layer's points.

    The distance is that to the short piece of centre line around the nearest sample, so it has no ripple of the
    sampling step, and it becomes a round cap beyond a road's end. Without any road the distance is 1000 mm.
    """
    ids = np.flatnonzero(keep) if keep is not None else np.arange(len(layer.road))
    bare = len(ids) == 0
    hit = np.zeros(len(points_mm), np.int64) if bare else ids[cKDTree(layer.points_mm[ids]).query(points_mm)[1]]
    q = points_mm - layer.points_mm[hit]
    t = layer.tangent[hit]
    along = q[:, 0] * t[:, 0] + q[:, 1] * t[:, 1]
    across = q[:, 1] * t[:, 0] - q[:, 0] * t[:, 1]
    over = np.maximum(np.abs(along) - ROAD_STEP_MM, 0)
    f32 = np.float32
    distance = np.full(len(hit), 1e3, f32) if bare else np.hypot(across, over).astype(f32)
    arc = (layer.arc_mm[hit] + along).astype(f32)
    factor = layer.factor[hit].astype(f32)
    return Near(hit, distance, across.astype(f32), arc, layer.road[hit], layer.wall[hit], factor)
