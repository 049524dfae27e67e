"""Stress that a load makes in a group of welds for each N, and how sure the geometry is of it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.strength.facewelds import HIDDEN, SCALE_STEP, FaceWelds, outline_log_sd
from analysis.strength.loadcase import LoadCase
from analysis.strength.section import SectionRefused
from analysis.strength.weldgroup import Criterion, Peak, WeldGroup

Floats = NDArray[np.float64]
GroupOf = Callable[[FaceWelds], WeldGroup | None]
# Lever arms at which a range of them is worked out. Stress is convex in the lever arm, so going straight between
# two of them errs to the side of more stress; by how little is held in the tests.
REACHES = 17
_ENDS = 1e-3  # shares of the lever arm's draws below and above the outermost of them
LEAST_MPA_PER_N = 1e-12  # less is no pull at all


@dataclass(frozen=True)
class Carried:
    """Greatest equivalent stress of one face under one load, MPa for each N.

    `reach_mm` (k,) : lever arms worked out. `built` (3, k), rows as in `HIDDEN`, and `whole` (k,), None where there is
    no fully bonded face. `*_scale` and `*_edge` : change of the capacity's logarithm for each unit of the scale's
    logarithm and for each pixel that the edge moves outward.
    """

    reach_mm: Floats
    built: Floats
    whole: Floats | None
    built_scale: float
    built_edge: float
    whole_scale: float
    whole_edge: float

    @property
    def middle(self) -> int:
        """Place of the middle lever arm."""
        return len(self.reach_mm) // 2

    @property
    def kept(self) -> float | None:
        """Capacity as built over that of the fully bonded face, at the middle lever arm and unknown like the rest."""
        if self.whole is None or self.built[1, self.middle] <= LEAST_MPA_PER_N:
            return None
        return float(self.whole[self.middle] / self.built[1, self.middle])


def centre_of(face: FaceWelds) -> tuple[float, float]:
    """Centroid of the gross face in the frame of the maps, mm."""
    return face.outline.section.x_mm, face.outline.section.y_mm


def peak_for(face: FaceWelds, group: WeldGroup, load: LoadCase, force_n: float, reach_mm: float, by: Criterion) -> Peak:
    """The most stressed weld of a group of the face under `force_n`."""
    centre = centre_of(face)
    at = (group.section.x_mm - centre[0], group.section.y_mm - centre[1])
    return group.peak(load.at(at, force_n, reach_mm), by)


def carried(face: FaceWelds, load: LoadCase, by: Criterion) -> Carried | None:
    """Work out one load; None where it pulls at no weld by that criterion.

    Raises
    ------
    SectionRefused
        Nothing of the face is known to be bonded.
    """
    reach = lever_arms(load)
    groups = [face.built(hidden) for hidden in HIDDEN] if face.unknown.any() else [face.built()] * 3
    built = np.array([_along(face, group, load, reach, by) for group in groups])
    whole = None if face.whole is None else _along(face, face.whole, load, reach, by)
    if built.max() <= LEAST_MPA_PER_N and (whole is None or whole.max() <= LEAST_MPA_PER_N):
        return None
    middle = float(reach[len(reach) // 2])
    built_answers = _answers(face, lambda one: one.built(), load, middle, by)
    whole_answers = (0.0, 0.0) if whole is None else _answers(face, lambda one: one.whole, load, middle, by)
    return Carried(reach, built, whole, *built_answers, *whole_answers)


def lever_arms(load: LoadCase) -> Floats:
    """The lever arms at which a load is worked out, mm; one of them where it is exact, 0 where there is none."""
    if load.reach_mm is None:
        return np.zeros(1)
    if load.reach_mm.log_sd == 0:
        return np.array([load.reach_mm.median])
    return load.reach_mm.quantiles(np.linspace(_ENDS, 1 - _ENDS, REACHES))


def _along(face: FaceWelds, group: WeldGroup, load: LoadCase, reach_mm: Floats, by: Criterion) -> Floats:
    peaks = [peak_for(face, group, load, 1.0, float(reach), by).equivalent_mpa for reach in reach_mm]
    return np.maximum(peaks, LEAST_MPA_PER_N)


def _answers(face: FaceWelds, group_of: GroupOf, load: LoadCase, reach_mm: float, by: Criterion) -> tuple[float, float]:
    """How the logarithm of the capacity answers to the scale and to the place of the edge."""

    def log_of(one: FaceWelds) -> float:
        group = group_of(one)
        assert group is not None  # the caller looked; a scaled or trimmed face has the same groups
        return -math.log(float(_along(one, group, load, np.array([reach_mm]), by)[0]))

    base = log_of(face)
    scale = (log_of(face.rescaled) - base) / math.log1p(SCALE_STEP)
    try:
        edge = 1.0 if face.without_rim is None else base - log_of(face.without_rim)
    except SectionRefused:
        edge = 1.0  # a pixel less and nothing is left: the edge says everything
    return scale, edge


def common_log_sd(face: FaceWelds, scale_change: float, edge_change: float) -> float:
    """Standard deviation of the logarithm from scale and outline together."""
    return math.hypot(scale_change * face.scale_relative_sd, outline_log_sd(face.edge_sd_px, edge_change))
