"""Capacities drawn at random where no closed form holds, and where draws must share what two faces share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.strength.capacity import Carried
from analysis.strength.facewelds import EDGE_TOGETHER, FaceWelds
from analysis.strength.loadcase import LoadCase
from analysis.strength.ranges import Range

Floats = NDArray[np.float64]
Drawn = tuple[Floats, Floats | None]  # N as built and fully bonded


@dataclass(frozen=True)
class Common:
    """Draws that the face as built and the fully bonded one share, and those of what can't be told."""

    strength: Floats  # logarithm of weld strength over notch factor
    scale: Floats
    edge: Floats
    bonded: Floats
    hidden: Floats


def common_draws(face: FaceWelds, strength: Range, rng: np.random.Generator, n: int) -> Common:
    fraction = float(np.clip(face.known_fraction or 0.5, 0.01, 0.99))
    return Common(
        strength=np.log(strength.sample(rng, n)),
        scale=rng.standard_normal(n) * face.scale_relative_sd,
        edge=rng.standard_normal(n) * EDGE_TOGETHER * face.edge_sd_px,
        bonded=rng.standard_normal(n) * face.bonded_relative_sd,
        # Judgement: how much of the unknown is bonded is most likely as elsewhere, less likely towards none and all.
        hidden=rng.triangular(0.0, fraction, 1.0, n),
    )


def draw_capacity(face: FaceWelds, load: LoadCase, one: Carried, common: Common, rng: np.random.Generator) -> Drawn:
    """Capacities in N as built and fully bonded, draw by draw."""
    n = len(common.strength)
    reach = None if len(one.reach_mm) == 1 or load.reach_mm is None else load.reach_mm.sample(rng, n)

    def along(row: Floats) -> Floats:
        return np.full(n, row[0]) if reach is None else np.interp(np.log(reach), np.log(one.reach_mm), row)

    fraction = float(np.clip(face.known_fraction or 0.5, 0.01, 0.99))
    bare, rest, bonded = (along(row) for row in one.built_log)
    below = np.minimum(common.hidden / fraction, 1.0)
    above = np.maximum((common.hidden - fraction) / (1 - fraction), 0.0)
    logs = bare + (rest - bare) * below + (bonded - rest) * above
    logs = logs + common.strength + common.bonded + one.built_scale * common.scale + one.built_edge * common.edge
    if one.whole_log is None:
        return np.exp(logs), None
    whole = along(one.whole_log) + common.strength + one.whole_scale * common.scale + one.whole_edge * common.edge
    return np.exp(logs), np.exp(whole)
