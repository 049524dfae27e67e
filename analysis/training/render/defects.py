"""Roads that are missing or starved: where along which wall, and which raster stretches."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from analysis.training.render.layers import Layer
from analysis.training.render.roads import RASTER_ID, ROAD_STEP_MM, Plan
from analysis.training.render.shapes import Points

MISSING_BELOW = 0.35  # a road narrower than this share of its nominal width counts as missing
PATTERNS = ("none", "incidental", "scattered", "cluster", "cluster_mate", "seam_all")


@dataclass(frozen=True)
class Stretch:
    """A piece of one wall, start to end in mm of its centre line (the end may pass the length: it wraps)."""

    wall: int
    start_mm: float
    end_mm: float
    width_loss: float = 1.0

    @property
    def length_mm(self) -> float:
        return self.end_mm - self.start_mm


@dataclass
class Defects:
    """All planned defects of a face."""

    gaps: list[Stretch] = field(default_factory=list)
    thin: list[Stretch] = field(default_factory=list)
    mate_gaps: list[Stretch] = field(default_factory=list)
    raster_holes: list[tuple[Points, float]] = field(default_factory=list)  # centre (2,), radius in mm


def _free(stretch: Stretch, taken: list[Stretch], length: float, margin: float) -> bool:
    """Whether a stretch keeps its distance from those already on its wall."""
    for t in taken:
        if t.wall == stretch.wall:
            mid = (t.start_mm + t.end_mm - stretch.start_mm - stretch.end_mm) / 2
            apart = abs((mid + length / 2) % length - length / 2)
            if apart < (t.length_mm + stretch.length_mm) / 2 + margin:
                return False
    return True


def _gap_length(rng: np.random.Generator, w: float, length: float) -> float:
    return float(min(rng.lognormal(np.log(4 * w), 0.5) + w, 0.35 * length))


def _scatter(rng: np.random.Generator, plan: Plan, count: int, into: list[Stretch], taken: list[Stretch]) -> None:
    for _ in range(count):
        k = int(rng.integers(len(plan.walls)))
        length = plan.walls[k].length_mm
        start = float(rng.uniform(0, length))
        s = Stretch(k, start, start + _gap_length(rng, plan.line_width_mm, length))
        if _free(s, taken, length, 2.5 * plan.line_width_mm):
            into.append(s)
            taken.append(s)


def _near_point(rng: np.random.Generator, plan: Plan, centre: Points, radius: float, into: list[Stretch]) -> None:
    """Put a gap on every wall that passes a starved place; the gaps' ends scatter."""
    for k, wall in enumerate(plan.walls):
        d = np.hypot(*(wall.line_mm - centre).T)
        if d.min() > radius * 0.9 or rng.random() < 0.2:
            continue
        half = float(np.sqrt(radius**2 - d.min() ** 2) * rng.uniform(0.6, 1.2))
        mid = float(np.argmin(d)) * wall.length_mm / len(d) + rng.normal(0, 0.3 * plan.line_width_mm)
        half = min(max(half, plan.line_width_mm), 0.2 * wall.length_mm)
        start = (mid - half) % wall.length_mm
        into.append(Stretch(k, start, start + 2 * half))


def _seam(rng: np.random.Generator, plan: Plan, into: list[Stretch]) -> None:
    """A gap on every wall at about the same place: where each road starts, pressure was still missing."""
    angle = rng.uniform(0, 2 * np.pi)
    for k, wall in enumerate(plan.walls):
        mid = wall.line_mm - plan.section.outer_mm.mean(0)
        turn = np.angle(np.exp(1j * (np.arctan2(mid[:, 1], mid[:, 0]) - angle)))
        start = float(np.argmin(np.abs(turn))) * wall.length_mm / len(turn) + rng.normal(0, plan.line_width_mm)
        start %= wall.length_mm
        into.append(Stretch(k, start, start + _gap_length(rng, plan.line_width_mm, wall.length_mm)))


def plan_defects(rng: np.random.Generator, plan: Plan, pattern: str) -> Defects:
    """Choose the gaps, thin stretches and starved raster of a face.

    Raises
    ------
    ValueError
        `pattern` isn't one of PATTERNS.
    """
    if pattern not in PATTERNS:
        raise ValueError(f"gap pattern {pattern!r} isn't one of {', '.join(PATTERNS)}")
    out = Defects()
    reach = float(np.abs(plan.section.outer_mm).max())
    if pattern == "incidental":
        _scatter(rng, plan, int(rng.integers(1, 3)), out.gaps, [])
    elif pattern == "scattered":
        _scatter(rng, plan, int(rng.integers(3, 9)), out.gaps, [])
    elif pattern == "seam_all":
        _seam(rng, plan, out.gaps)
    elif pattern in ("cluster", "cluster_mate"):
        at = plan.section.outer_mm[int(rng.integers(len(plan.section.outer_mm)))] * rng.uniform(0.5, 1.0)
        radius = float(rng.uniform(0.15, 0.4) * reach)
        _near_point(rng, plan, at, radius, out.gaps if pattern == "cluster" else out.mate_gaps)
    if pattern not in ("none", "incidental"):
        for _ in range(int(rng.integers(0, 3))):
            out.raster_holes.append((rng.uniform(-0.6, 0.6, 2) * reach, float(rng.uniform(0.1, 0.3) * reach)))
        _scatter(rng, plan, int(rng.integers(0, 4)), out.mate_gaps, list(out.mate_gaps))
    taken = [*out.gaps]
    _scatter(rng, plan, int(rng.integers(0, 5)), out.thin, taken)
    out.thin = [Stretch(t.wall, t.start_mm, t.end_mm, float(rng.uniform(0.25, 0.55))) for t in out.thin]
    return out


def _inside(layer: Layer, s: Stretch, plan: Plan, shrink_mm: float = 0.0) -> NDArray[np.bool_]:
    length = plan.walls[s.wall].length_mm
    on = layer.wall == s.wall
    a = (layer.arc_mm - s.start_mm - shrink_mm) % length
    return np.asarray(on & (a <= s.length_mm - 2 * shrink_mm))


def apply_defects(rng: np.random.Generator, layer: Layer, defects: Defects, plan: Plan) -> None:
    """Write the defects into a layer's `factor` and `above` (in place)."""
    w = plan.line_width_mm
    for t in defects.thin:
        a = (layer.arc_mm - t.start_mm) % plan.walls[t.wall].length_mm / t.length_mm
        ease = np.clip(4 * np.minimum(a, 1 - a), 0, 1)
        layer.factor *= np.where(_inside(layer, t, plan), 1 - t.width_loss * ease, 1.0)
    raster = layer.wall == RASTER_ID
    for centre, radius in defects.raster_holes:
        d = np.hypot(*(layer.points_mm - centre).T) / radius
        jitter = rng.uniform(0.6, 1.3, int(layer.road.max()) + 1)[layer.road]
        line = np.floor(
            layer.points_mm @ [-np.sin(np.deg2rad(layer.raster_deg)), np.cos(np.deg2rad(layer.raster_deg))] / w
        )
        hit = raster & (d < jitter * np.where(line % 2 == 0, 1.0, rng.uniform(0.6, 1.1)))
        if rng.random() < 0.5:  # flow faded out and came back slowly: pointed road ends
            layer.factor *= np.where(raster, np.clip(0.3 + 0.7 * (d / jitter - 1) / 0.35, 0.3, 1), 1.0)
        starved = rng.random() < 0.4
        layer.factor[hit] = np.where(starved, layer.factor[hit] * rng.uniform(0.45, 0.7), 0.0)
    for g in defects.gaps:
        layer.factor[_inside(layer, g, plan)] = 0.0
    for m in defects.mate_gaps:
        layer.above[_inside(layer, m, plan)] = False


def capped(layer: Layer, line_width_mm: float) -> NDArray[np.bool_]:
    """Return which centre-line points carry a road, drawn back by half a width at each gap.

    The road ends in a round cap, and it's the cap's tip that lies at the gap's end.
    """
    keep = layer.factor >= MISSING_BELOW
    back = max(round(0.5 * line_width_mm / ROAD_STEP_MM) - 1, 0)
    gone = ~keep
    for road in np.unique(layer.road[gone]):
        ids = np.flatnonzero(layer.road == road)
        closed = layer.wall[ids[0]] != RASTER_ID
        g = gone[ids]
        grown = g.copy()
        for k in range(1, back + 1):
            f, b = np.roll(g, k), np.roll(g, -k)
            if not closed:
                f[:k], b[-k:] = False, False
            grown |= f | b
        keep[ids[grown]] = False
    return np.asarray(keep)
