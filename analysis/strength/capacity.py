"""Newtons that a group of welds takes along a load, for each MPa of strength, and how sure the geometry is of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.strength.facewelds import HIDDEN, FaceWelds, outline_log_sd
from analysis.strength.loadcase import LoadCase
from analysis.strength.section import SectionRefused
from analysis.strength.weldgroup import Criterion, Peak, WeldGroup

Floats = NDArray[np.float64]
REACHES = 9  # places at which a lever arm's range is worked out; between them the logarithm is interpolated
_ENDS = 1e-3  # shares of the lever arm's draws below and above the outermost of those places
_STEP = 0.01  # change of scale by which its effect is told


@dataclass(frozen=True)
class Carried:
    """Capacity per MPa of one face along one load.

    `reach_mm` (k,) : lever arms worked out. `built_log` (3, k) and `whole_log` (k,) : natural logarithm of N per MPa,
    the rows of the former as in `HIDDEN`; `whole_log` is None where there is no fully bonded face. `*_scale` and
    `*_edge` : change of that logarithm for each unit of the scale's logarithm and for each pixel the edge moves.
    """

    reach_mm: Floats
    built_log: Floats
    whole_log: Floats | None
    built_scale: float
    built_edge: float
    whole_scale: float
    whole_edge: float


def peak_for(
    group: WeldGroup, load: LoadCase, centre_mm: tuple[float, float], force_n: float, reach_mm: float, by: Criterion
) -> Peak:
    """The most stressed weld under `force_n`; `centre_mm` is the centroid of the gross face in the maps' frame."""
    at = (group.section.x_mm - centre_mm[0], group.section.y_mm - centre_mm[1])
    return group.peak(load.at(at, force_n, reach_mm), by)


def carried(face: FaceWelds, load: LoadCase, by: Criterion) -> Carried | None:
    """Work out one load; None where nothing pulls at the welds by that criterion.

    Raises
    ------
    SectionRefused
        Nothing of the face is known to be bonded.
    """
    reach = lever_arms(load)
    groups = [face.built(hidden) for hidden in HIDDEN] if face.unknown.any() else [face.built()]
    rows = [_logs(face, group, load, reach, by) for group in groups]
    whole = None if face.whole is None else _logs(face, face.whole, load, reach, by)
    if not all(np.isfinite(row).all() for row in [*rows, *([] if whole is None else [whole])]):
        return None
    middle = float(reach[len(reach) // 2])
    built_scale, built_edge = _changes(face, lambda one: one.built(), load, middle, by)
    whole_scale, whole_edge = (0.0, 0.0) if whole is None else _changes(face, lambda one: one.whole, load, middle, by)
    return Carried(reach, np.array(rows * (3 // len(rows))), whole, built_scale, built_edge, whole_scale, whole_edge)


def lever_arms(load: LoadCase) -> Floats:
    """The lever arms at which a load is worked out, mm; one of them where it is exact, 0 where there is none."""
    if load.reach_mm is None:
        return np.zeros(1)
    if load.reach_mm.log_sd == 0:
        return np.array([load.reach_mm.median])
    return load.reach_mm.quantiles(np.linspace(_ENDS, 1 - _ENDS, REACHES))


def _logs(face: FaceWelds, group: WeldGroup, load: LoadCase, reach_mm: Floats, by: Criterion) -> Floats:
    centre = (face.outline.section.x_mm, face.outline.section.y_mm)
    peaks = [peak_for(group, load, centre, 1.0, float(reach), by).equivalent_mpa for reach in reach_mm]
    return -np.log([peak if peak > 0 else np.nan for peak in peaks])


def _changes(
    face: FaceWelds,
    group_of: Callable[[FaceWelds], WeldGroup | None],
    load: LoadCase,
    reach_mm: float,
    by: Criterion,
) -> tuple[float, float]:
    """How the logarithm of the capacity answers to the scale and to the place of the edge."""
    scaled = replace(face, mm_per_px=face.side_mm * (1 + _STEP))
    shrunk = face.without_rim()

    def log_of(one: FaceWelds) -> float:
        group = group_of(one)
        return math.nan if group is None else float(_logs(one, group, load, np.array([reach_mm]), by)[0])

    base = log_of(face)
    scale = (log_of(scaled) - base) / math.log1p(_STEP)
    try:
        edge = math.nan if shrunk is None else base - log_of(shrunk)
    except SectionRefused:
        edge = math.nan
    return scale, edge if math.isfinite(edge) else 1.0  # a pixel less and nothing is left: the edge says everything


def common_log_sd(face: FaceWelds, scale_change: float, edge_change: float) -> float:
    """Standard deviation of the logarithm from scale and outline together."""
    return math.hypot(scale_change * face.scale_relative_sd, outline_log_sd(face.edge_sd_px, edge_change))
