"""The face in the photo's own pixels: which layer each pixel should show, and which road is really seen there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.training.render.defects import MISSING_BELOW, apply_defects, capped
from analysis.training.render.layers import Layer, Near, lay, nearest, scattered
from analysis.training.render.noise import Noise
from analysis.training.render.relief import border_distance_px, split_terraces
from analysis.training.render.roads import RASTER_ID, ROAD_STEP_MM
from analysis.training.render.smooth import fill_polygon
from analysis.training.render.spec import Spec

Array = NDArray[np.float32]
Mask = NDArray[np.bool_]
BELOW = 2  # layers that a missing road can lay open


@dataclass(frozen=True)
class Seen:
    """The road that is really seen at n face pixels; `level` counts layers down from the highest terrace."""

    near: Near
    level: NDArray[np.int16]
    u: Array  # offset as a share of the road's half width there
    floor: Mask  # nothing but the deep ground
    lower: Mask  # a layer below the one the terrace should show, or the deep ground


@dataclass(frozen=True)
class Ground:
    """Geometry of a face: masks (rows, cols), and one row per face pixel for the rest (`ids`: flat pixel numbers)."""

    layers: list[Layer]
    inside: Mask
    terrace: NDArray[np.uint8]
    ids: NDArray[np.int64]
    x: Array
    y: Array
    border_mm: Array
    design: Near  # the exposed layer's nearest road, whether or not it is really there
    above: Mask  # the layer above had its road here
    above_rad: Array  # and ran in this direction
    seen: Seen


def inside_mask(spec: Spec) -> Mask:
    """Return the face mask at the photo's pixel centres."""
    shape = (spec.camera.height, spec.camera.width)
    out = fill_polygon(spec.camera.to_px(spec.plan.section.outer_mm), shape)
    for ring in spec.plan.section.holes_mm:
        out &= ~fill_polygon(spec.camera.to_px(ring), shape)
    return out


def make_layers(spec: Spec, rng: np.random.Generator) -> list[Layer]:
    """Lay all layers that can be seen; the planned defects hit those that a terrace exposes."""
    layers = []
    for k in range(len(spec.terraces.shares) + BELOW):
        layer = lay(rng, spec.plan, spec.raster_deg + 90.0 * (k % 2), spec.road_looks)
        if k < len(spec.terraces.shares):
            apply_defects(rng, layer, spec.defects, spec.plan)
        layers.append(layer)
    return layers


def _blocks(points: NDArray[np.float64], layer: Layer, width_mm: float) -> NDArray[np.float64]:
    """Move every point to the middle of its road's piece, three widths long: a crack that hops from road to road."""
    near = nearest(points, layer)
    piece = 3 * width_mm
    ahead = np.rint((piece / 2 - near.along_mm % piece) / ROAD_STEP_MM).astype(np.int64)
    middle = np.clip(near.index + ahead, 0, len(layer.road) - 1)
    same = layer.road[middle] == near.road
    return np.asarray(layer.points_mm[np.where(same, middle, near.index)])


def _design(points: NDArray[np.float64], terrace: NDArray[np.uint8], layers: list[Layer]) -> tuple[Near, Mask, Array]:
    """Return the exposed layer's nearest road, whether the layer above was there, and that layer's direction."""
    parts = []
    above, direction = np.zeros(len(points), bool), np.zeros(len(points), np.float32)
    for k in np.unique(terrace):
        at = np.flatnonzero(terrace == k)
        layer = layers[k - 1]
        near = nearest(points[at], layer)
        parts.append((at, near))
        above[at] = layer.above[near.index]
        own = np.arctan2(layer.tangent[near.index, 1], layer.tangent[near.index, 0])
        direction[at] = np.where(near.wall == RASTER_ID, np.deg2rad(layer.raster_deg + 90), own)
    return scattered(len(points), parts), above, direction


def _seen(
    points: NDArray[np.float64], terrace: NDArray[np.uint8], layers: list[Layer], design: Near, half_mm: float
) -> Seen:
    """Find the topmost road that is really there, down to BELOW layers under the terrace's own."""
    level = (terrace - 1).astype(np.int16)
    lower = np.zeros(len(points), bool)
    parts = [(np.arange(len(points)), design)]
    todo = np.arange(len(points))
    for step in range(BELOW + 1):
        rest = []
        for k in np.unique(level[todo]):
            at = todo[level[todo] == k]
            keep = capped(layers[k], 2 * half_mm)
            if step == 0:  # where the nearest road is there, it has been found already
                known = keep[design.index[at]]
                at, rest_at = at[~known], at[known]
                rest.append(rest_at[~_reaches(design.pick(rest_at), half_mm)])
            near = nearest(points[at], layers[k], keep)
            hit = _reaches(near, half_mm)
            parts.append((at[hit], near.pick(hit)))
            rest.append(at[~hit])
        todo = np.concatenate(rest) if rest else todo[:0]
        level[todo] += 1
        lower[todo] = True
    near = scattered(len(points), parts)
    floor = np.zeros(len(points), bool)
    floor[todo] = True
    reach = np.float32(half_mm) * np.maximum(near.factor, np.float32(MISSING_BELOW))
    u = np.asarray(near.distance_mm / reach, dtype=np.float32)
    return Seen(near, level, u, floor, lower)


def _reaches(near: Near, half_mm: float) -> Mask:
    """Whether the road covers the point; roads touch, so a slit opens only a little past the road's own width."""
    return near.distance_mm <= 1.04 * half_mm * np.maximum(near.factor, np.float32(MISSING_BELOW))


def make_ground(spec: Spec, noise: Noise, x_mm: Array, y_mm: Array) -> Ground:
    """Lay the layers and look every face pixel up (x_mm, y_mm: part mm of every pixel centre)."""
    layers = make_layers(spec, np.random.default_rng([spec.seed, 1]))
    inside = inside_mask(spec)
    ids = np.flatnonzero(inside)
    x, y = x_mm.ravel()[ids], y_mm.ravel()[ids]
    points = np.c_[x, y].astype(float)
    w = spec.plan.line_width_mm
    cut = spec.terraces
    front = points
    if cut.block:  # their edges are torn: a little off the straight line
        torn = np.stack([noise.field(x, y, 0.25, octaves=2), noise.field(y, x, 0.25, octaves=2)], -1)
        front = _blocks(points + 0.3 * cut.ragged_mm * torn, layers[0], w)
    fx, fy = front.T.astype(np.float32)
    level = split_terraces(noise, fx, fy, cut.shares, cut.direction_rad, cut.wave_mm, cut.ragged_mm)
    terrace = np.zeros(inside.shape, np.uint8)
    terrace.ravel()[ids] = level
    border = border_distance_px(terrace).ravel()[ids] * np.float32(spec.camera.um_per_px / 1000)
    design, above, direction = _design(points, level, layers)
    seen = _seen(points, level, layers, design, w / 2)
    return Ground(layers, inside, terrace, ids, x, y, border, design, above, direction, seen)
