"""Outlines of random sections: closed polygons in part mm, clockwise as seen (y down), densely sampled."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

Points = NDArray[np.float64]
STEP_MM = 0.04


@dataclass(frozen=True)
class Section:
    """A cross-section: its outer contour, its holes, and the numbers it was made from (mm)."""

    kind: str
    outer_mm: Points
    holes_mm: tuple[Points, ...] = ()
    dims_mm: dict[str, float] = field(default_factory=dict)


def shoelace(points: Points) -> float:
    """Signed area; positive runs clockwise as seen with y down."""
    x, y = points[:, 0], points[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def clockwise(points: Points) -> Points:
    """Return the polygon turned so that it runs clockwise as seen with y down."""
    return points if shoelace(points) > 0 else points[::-1].copy()


def resample(points: Points, step_mm: float, closed: bool = True) -> Points:
    """Return points at equal arc steps of about `step_mm` along a polyline (the closing point isn't repeated)."""
    p = np.vstack([points, points[:1]]) if closed else points
    s = np.r_[0, np.cumsum(np.hypot(*np.diff(p, axis=0).T))]
    n = max(round(s[-1] / step_mm), 8 if closed else 2)
    t = np.linspace(0, s[-1], n, endpoint=not closed)
    return np.stack([np.interp(t, s, p[:, 0]), np.interp(t, s, p[:, 1])], axis=1)


def soften(points: Points, radius_mm: float) -> Points:
    """Round the corners of a closed, evenly sampled polygon by about `radius_mm`."""
    step = float(np.hypot(*(points[1] - points[0])))
    out = gaussian_filter1d(points, max(radius_mm, 1e-3) / step * 0.6, axis=0, mode="wrap")
    return np.asarray(out, dtype=np.float64)


def circle(radius_mm: float, centre: tuple[float, float] = (0.0, 0.0)) -> Points:
    """Return a circle."""
    a = np.linspace(0, 2 * np.pi, max(int(2 * np.pi * radius_mm / STEP_MM), 48), endpoint=False)
    return np.stack([centre[0] + radius_mm * np.cos(a), centre[1] + radius_mm * np.sin(a)], axis=1)


def box(a: float, b: float, radius_mm: float = 0.0) -> Points:
    """Return an a x b rectangle with corner radius."""
    r = min(radius_mm, a / 2 - 1e-3, b / 2 - 1e-3)
    if r <= 0.02:
        return np.array([[-a / 2, -b / 2], [a / 2, -b / 2], [a / 2, b / 2], [-a / 2, b / 2]])
    t = np.linspace(0, np.pi / 2, 24)
    quarter = np.c_[np.cos(t), np.sin(t)] * r
    corners = []
    for k, (sx, sy) in enumerate([(1, 1), (-1, 1), (-1, -1), (1, -1)]):
        c, s = [(1, 0), (0, 1), (-1, 0), (0, -1)][k]
        corners.append(quarter @ np.array([[c, s], [-s, c]]) + [sx * (a / 2 - r), sy * (b / 2 - r)])
    return np.vstack(corners)


def _finish(kind: str, outer: Points, holes: tuple[Points, ...], dims: dict[str, float], edge_mm: float) -> Section:
    outer = clockwise(soften(resample(clockwise(outer), STEP_MM), edge_mm))
    mid = (outer.max(0) + outer.min(0)) / 2
    rings = tuple(clockwise(resample(h, STEP_MM)) - mid for h in holes)
    return Section(kind, outer - mid, rings, {k: round(v, 3) for k, v in dims.items()})


def rectangle(rng: np.random.Generator, size: float) -> Section:
    """A sharp-cornered rectangle."""
    a, b = size, size * rng.uniform(0.4, 0.95)
    return _finish("rectangle", box(a, b), (), {"a": a, "b": b, "r": 0.0}, rng.uniform(0.04, 0.15))


def rounded(rng: np.random.Generator, size: float) -> Section:
    """A rectangle with round corners."""
    a, b = size, size * rng.uniform(0.5, 0.95)
    r = rng.uniform(0.1, 0.35) * b
    return _finish("rounded_rectangle", box(a, b, r), (), {"a": a, "b": b, "r": r}, 0.03)


def disc(rng: np.random.Generator, size: float) -> Section:
    """A disc."""
    d = size * rng.uniform(0.6, 1.0)
    return _finish("disc", circle(d / 2), (), {"D": d}, 0.02)


def d_shape(rng: np.random.Generator, size: float) -> Section:
    """A disc with a flat."""
    d, flat = size * rng.uniform(0.65, 1.0), rng.uniform(0.1, 0.3)
    p = circle(d / 2)
    p[:, 0] = np.maximum(p[:, 0], -d / 2 + flat * d)
    return _finish("D_shape", p, (), {"D": d, "flat": flat}, rng.uniform(0.04, 0.15))


def l_section(rng: np.random.Generator, size: float) -> Section:
    """An angle section, sometimes a tee."""
    a, b = size, size * rng.uniform(0.7, 1.0)
    t = size * rng.uniform(0.36, 0.5)
    if rng.random() < 0.3:
        k = (a - t) / 2
        p = np.array([[0, 0], [a, 0], [a, t], [k + t, t], [k + t, b], [k, b], [k, t], [0, t]])
        return _finish("T_section", p, (), {"a": a, "b": b, "t": t}, rng.uniform(0.05, 0.2))
    p = np.array([[0, 0], [a, 0], [a, t], [t, t], [t, b], [0, b]])
    return _finish("L_section", p, (), {"a": a, "b": b, "t": t}, rng.uniform(0.05, 0.2))


def annulus(rng: np.random.Generator, size: float) -> Section:
    """A ring."""
    d = size * rng.uniform(0.8, 1.0)
    hole = d * rng.uniform(0.2, 0.5)
    return _finish("annulus", circle(d / 2), (circle(hole / 2),), {"D": d, "d": hole}, 0.02)


def drilled(rng: np.random.Generator, size: float) -> Section:
    """A plate with one bolt hole."""
    a, b = size, size * rng.uniform(0.6, 0.9)
    d = b * rng.uniform(0.22, 0.38)
    x = rng.uniform(-0.5, 0.5) * (a - b)
    r = 0.15 * b
    return _finish("drilled", box(a, b, r), (circle(d / 2, (x, 0.0)),), {"a": a, "b": b, "r": r, "d": d}, 0.04)


def thin_web(rng: np.random.Generator, size: float) -> Section:
    """A narrow strip, hardly more than its walls."""
    a = size * rng.uniform(0.9, 1.25)
    b = float(np.clip(a * rng.uniform(0.14, 0.38), 1.7, 6.0))
    return _finish("thin_web", box(a, b), (), {"a": a, "b": b, "r": 0.0}, rng.uniform(0.04, 0.15))


def polygon(rng: np.random.Generator, size: float) -> Section:
    """A random star-shaped polygon with rounded corners."""
    n = int(rng.integers(3, 9))
    ang = 2 * np.pi * (np.arange(n) + rng.uniform(-0.28, 0.28, n)) / n
    r = size / 2 * rng.uniform(0.65, 1.0, n)
    p = np.c_[r * np.cos(ang), r * np.sin(ang) * rng.uniform(0.75, 1.0)]
    return _finish("polygon", p, (), {"size": size, "corners": float(n)}, rng.uniform(0.1, 0.8))


MAKERS = {
    "rectangle": rectangle,
    "rounded_rectangle": rounded,
    "disc": disc,
    "D_shape": d_shape,
    "L_section": l_section,
    "annulus": annulus,
    "drilled": drilled,
    "thin_web": thin_web,
    "polygon": polygon,
}
