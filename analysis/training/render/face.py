"""What tore on the face, how that looks, and how high every point lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.training.render import relief, weld
from analysis.training.render.defects import MISSING_BELOW
from analysis.training.render.ground import Ground, make_ground
from analysis.training.render.noise import Noise
from analysis.training.render.roads import RASTER_ID
from analysis.training.render.smooth import smooth, smooth_inside
from analysis.training.render.spec import Spec

Array = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Face:
    """Everything the light and the truth need; arrays (rows, cols) of the photo, heights in mm."""

    raster_deg: tuple[float, ...]  # per terrace, part frame
    inside: Mask
    terrace: NDArray[np.uint8]
    nominal: Mask
    bonded: Mask
    void: Mask
    walls: NDArray[np.uint8]
    touched: Mask  # pressed together, yet parted without tearing
    torn: Array  # 0..1: how torn it looks
    z: Array


def overload_zone(noise: Noise, spec: Spec, x: Array, y: Array) -> Array:
    """Return 0..1: where the break had turned from the weak plane into solid material."""
    if spec.overload_from >= 1:
        return np.zeros(len(x), np.float32)
    along = x * np.cos(spec.relief.crack_rad) + y * np.sin(spec.relief.crack_rad)
    along = along + 0.5 * noise.field(x, y, 2.0, octaves=3)
    start = np.quantile(along, spec.overload_from)
    span = max(float(np.ptp(along)) * 0.06, 0.1)
    return np.asarray(np.clip((along - start) / span, 0, 1), dtype=np.float32)


def _weld(spec: Spec, noise: Noise, g: Ground, band: Array, nominal: Mask, able: Mask, zone: Array) -> Array:
    """Return the margin of every face pixel: torn where positive."""
    w, d = spec.plan.line_width_mm, g.design
    fray = noise.field(d.along_mm, d.across_mm + d.road * np.float32(11.9), 0.12, stretch=1.5, octaves=3)
    rim = 1.02 - np.float32(spec.weld.fray) * np.abs(fray)
    s = weld.strength(noise, spec.weld, g.x, g.y, d.road, d.along_mm, d.across_mm, w, g.above_rad, spec.plan.spacing_mm)
    return weld.torn_margin(s, band, spec.weld, able, int(nominal.sum()), zone, rim)


def _torn_look(spec: Spec, noise: Noise, g: Ground, margin: Array, band: Array, bonded: Mask, zone: Array) -> Array:
    """Return 0..1 how torn each pixel looks: full where bonded, a faint spill beyond, weak welds only faintly."""
    strong = np.clip(0.55 + margin / 0.8, 0, 1)
    faint = np.clip(1 + np.maximum(margin, -9) / 0.35, 0, 1) ** 2 * spec.surface.spill * (band < 1.15)
    out = np.where(bonded, strong, 0.6 * faint) * ~g.seen.lower
    rough = 0.5 + 0.5 * np.tanh(1.5 * noise.field(g.x, g.y, 0.12, octaves=2))
    over = zone * np.clip(0.75 + 0.5 * rough, 0, 1) * np.where(g.seen.lower, 0.05, 1.0)
    # between the bands only part of the material joined in; deep grooves stay as printed
    over *= np.where(bonded | (band < 1.35), 1.0, 0.75)
    return np.asarray(np.maximum(out, over * g.above), dtype=np.float32)


def _printed(spec: Spec, noise: Noise, g: Ground, band: Array) -> Array:
    """Return the untorn height of every face pixel relative to the highest layer plane."""
    h, w, s = spec.layer_height_mm, spec.plan.line_width_mm, g.seen
    pressed = ((band < 1.25) & g.above & ~s.lower).astype(np.float32)
    own = s.near
    z = relief.road_surface(noise, spec.relief, h, w, s.u, pressed, own.road, own.along_mm, own.across_mm)
    ridge = relief.imprint(spec.relief, g.x, g.y, g.above_rad, spec.plan.spacing_mm, float(noise.rng.random()))
    z += h * ridge * pressed * (g.design.wall == RASTER_ID)
    return np.where(s.floor, -h * (s.level + 1.0), z - h * s.level).astype(np.float32)


def _settle(spec: Spec, z: Array, torn: Array, zone: Array, inside: Mask, px: float) -> Array:
    """Fill grooves in the overload zone, lift lips at the edge of torn patches, and round off steps of one pixel."""
    m = inside.astype(np.float32)
    if zone.any():
        level = smooth_inside(z, m, 0.35 * spec.plan.line_width_mm / px)
        z = z + (np.maximum(level, z) - z) * zone * 0.7
    edge = torn - smooth(torn, 0.05 / px)
    z = z + np.float32(spec.relief.lip_mm) * np.clip(edge * 2, 0, 1)
    return np.where(inside, smooth_inside(z, m, 0.012 / px), 0).astype(np.float32)


def make_face(spec: Spec, noise: Noise, x_mm: Array, y_mm: Array) -> Face:
    """Build the face for the photo's pixel grid (part mm of every pixel centre)."""
    g = make_ground(spec, noise, x_mm, y_mm)
    w, px = spec.plan.line_width_mm, spec.camera.um_per_px / 1000
    zone = overload_zone(noise, spec, g.x, g.y)
    band = g.design.distance_mm / np.float32(spec.contact_fraction * w / 2)
    nominal = (band < 1) & (g.border_mm > spec.terraces.ramp_mm / 2)
    on_road = g.design.distance_mm <= w / 2
    void = on_road & (g.design.factor < MISSING_BELOW)
    able = nominal & ~void & g.above & ~g.seen.lower
    # a thin road has a narrower contact band
    starved = np.asarray(band / np.clip(g.design.factor, MISSING_BELOW, 1), dtype=np.float32)
    margin = _weld(spec, noise, g, starved, nominal, able, zone)
    bonded = able & (margin > 0)
    torn = _torn_look(spec, noise, g, margin, band, bonded, zone)
    rough = relief.torn_ground(noise, spec.relief, g.x, g.y) * torn
    rough += relief.hackle(noise, spec.relief, g.x, g.y) * zone * np.where(g.seen.lower, np.float32(0.2), np.float32(1))
    wall = np.where(g.design.wall == RASTER_ID, 255, g.design.wall + 1) * on_road

    def bits(values: Mask) -> Mask:
        out = np.zeros(g.inside.shape, bool)
        out.ravel()[g.ids] = values
        return out

    def image(values: Array) -> Array:
        out = np.zeros(g.inside.shape, np.float32)
        out.ravel()[g.ids] = values
        return out

    torn2 = image(torn)
    z = _settle(spec, image(_printed(spec, noise, g, band)), torn2, image(zone), g.inside, px) + image(rough)
    return Face(
        raster_deg=tuple(layer.raster_deg for layer in g.layers[: len(spec.terraces.shares)]),
        inside=g.inside,
        terrace=g.terrace,
        nominal=bits(nominal),
        bonded=bits(bonded),
        void=bits(void),
        walls=image(wall).astype(np.uint8),
        touched=bits(able & ~bonded),
        torn=torn2,
        z=z,
    )
