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
_LIKE = 0.5  # judgement: share of an unknown zone that is bonded where the rest of the face can't tell


@dataclass(frozen=True)
class Common:
    """Draws that the face as built and the fully bonded one share, and those of what can't be told.

    `strength` : logarithm of weld strength over notch factor. `scale` of the scale. `edge` px outward. `bonded` :
    logarithm of bonded area over that measured. `hidden` : share of the unknown that is bonded; `like` that of the
    rest of the face.
    """

    strength: Floats
    scale: Floats
    edge: Floats
    bonded: Floats
    hidden: Floats
    like: float


def common_draws(face: FaceWelds, strength: Range, rng: np.random.Generator, n: int) -> Common:
    """Draw what all loads on a face have in common."""
    fraction = face.known_fraction
    like = float(np.clip(_LIKE if fraction is None else fraction, 0.01, 0.99))
    bonded = rng.standard_normal(n) * face.bonded_relative_sd
    return Common(
        strength=np.log(strength.sample(rng, n)),
        scale=rng.standard_normal(n) * face.scale_relative_sd,
        edge=rng.standard_normal(n) * face.edge_sd_px * EDGE_TOGETHER,
        # No more can be bonded than the design has contact.
        bonded=bonded if not fraction else np.minimum(bonded, max(-np.log(fraction), 0.0)),
        # Judgement: how much of the unknown is bonded is most likely as elsewhere, less likely towards none and all.
        hidden=rng.triangular(0.0, like, 1.0, n),
        like=like,
    )


def draw_capacity(face: FaceWelds, load: LoadCase, one: Carried, common: Common, rng: np.random.Generator) -> Drawn:
    """Capacities in N as built and fully bonded, draw by draw."""
    n = len(common.strength)
    reach = None if len(one.reach_mm) == 1 or load.reach_mm is None else load.reach_mm.sample(rng, n)

    def capacity(row: Floats) -> Floats:
        return 1 / (np.full(n, row[0]) if reach is None else np.interp(reach, one.reach_mm, row))

    bare, rest, bonded = (capacity(row) for row in one.built)
    # Straight between the three, as the area of the welds goes with the share of the unknown that is bonded.
    below = np.minimum(common.hidden / common.like, 1.0)
    above = np.maximum((common.hidden - common.like) / (1 - common.like), 0.0)
    built = bare + (rest - bare) * below + (bonded - rest) * above
    spread = common.strength + common.bonded + one.built_scale * common.scale + one.built_edge * common.edge
    if one.whole is None:
        return built * np.exp(spread), None
    whole = common.strength + one.whole_scale * common.scale + one.whole_edge * common.edge
    return built * np.exp(spread), capacity(one.whole) * np.exp(whole)
