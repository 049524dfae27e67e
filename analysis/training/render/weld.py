"""The weld: how strongly each point of the contact bands was joined, and which of them tore."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.training.render.noise import Noise

Array = NDArray[np.float32]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class WeldLooks:
    """How the strength varies; the weights are standard deviations of the parts of one sum."""

    target: float  # share of the nominal contact that tore
    low: float  # over the whole face
    low_scale_mm: float
    gradient: float
    gradient_rad: float
    road: float  # from road to road
    along: float  # along each road
    along_scale: float  # its length, in line widths
    cross: float  # under the roads of the layer above
    ragged: float  # at the scale of tenths of a millimetre: islands and bays of the torn patches
    ragged_mm: float  # that scale
    fray: float  # how far the band's edge wanders in and out, as a share of its half width
    edge: float  # how much weaker the band's edge is than its middle


def strength(
    noise: Noise,
    looks: WeldLooks,
    x: Array,
    y: Array,
    road: NDArray[np.int32],
    arc: Array,
    across: Array,
    width_mm: float,
    above_rad: Array,
    spacing_mm: float,
) -> Array:
    """Return the weld's strength (no unit) at n points of the exposed layer, without the band's edge."""
    reach = max(float(np.abs(x).max()), float(np.abs(y).max()), 1e-3)
    s = looks.low * noise.field(x, y, looks.low_scale_mm, octaves=2)
    s += looks.gradient * (x * np.cos(looks.gradient_rad) + y * np.sin(looks.gradient_rad)).astype(np.float32) / reach
    per_road = noise.rng.standard_normal(int(road.max()) + 1).astype(np.float32)
    s += looks.road * per_road[road]
    own = across + road * np.float32(37.7)  # every road reads its own strip of the texture
    s += looks.along * noise.field(arc, own, looks.along_scale * width_mm, octaves=2)
    phase = (y * np.cos(above_rad) - x * np.sin(above_rad)) * (2 * np.pi / spacing_mm)
    s += looks.cross * np.cos(phase + noise.rng.uniform(0, 6.28)).astype(np.float32)
    s += looks.ragged * noise.field(arc, own, looks.ragged_mm, stretch=1.3, octaves=4)
    return s


def torn_margin(s: Array, band: Array, looks: WeldLooks, able: Mask, wanted: int, zone: Array, rim: Array) -> Array:
    """Return strength minus the threshold that makes the torn share meet its target; torn is where it is positive.

    Parameters
    ----------
    band : array
        Offset from the centre line as a share of the contact band's half width (1 = its edge).
    able : mask
        Points of the nominal contact where two roads really met.
    wanted : int
        Number of points of the whole nominal contact (met or not), to which the target refers.
    zone : array 0..1
        Where the break went through solid material whatever the weld's strength (overload).
    rim : array
        Where the frayed edge of the weld lies, in units of `band` (about 1).
    """
    m = s - looks.edge * np.clip(band, 0, 2) ** 2 + zone * np.float32(4.0)
    m = np.where(band < rim, m, np.float32(-1e3))
    v = np.sort(m[able])
    if len(v) == 0:
        return m - np.float32(1e3)
    k = int(np.clip(len(v) - looks.target * wanted, 0, len(v) - 1))
    return np.asarray(m - v[k], dtype=np.float32)
