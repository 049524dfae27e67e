"""Two halves of one break read as one: the mate's opinion on what was bonded mixed into this face's reading."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from analysis.halves.maps import joint_map
from analysis.roads.workview import Bools, Floats, Workview
from analysis.welds.bonding import BARE_P, BONDED_P, VOID_P, Reading


def bonded_given_contact(reading: Reading) -> Floats:
    """Probability that a point was bonded, given that a road of the layer was pressed there; one half where lost."""
    bonded, bare = reading.classes[..., BONDED_P], reading.classes[..., BARE_P]
    return np.asarray((bonded + 0.01) / (bonded + bare + 0.02), np.float32)


def combine(
    view: Workview,
    reading: Reading,
    known: Bools,
    mate: Workview,
    mate_reading: Reading,
    mate_known: Bools,
    affine: npt.NDArray[np.float64],
) -> Reading:
    """The reading of this face, what was bonded being judged from both halves.

    A weld that tore left its marks on both, so "bonded, given contact" is averaged in log odds where both can be
    told. What is contact, missing or hidden stays this face's own: the halves lie on different layers. `affine` (2, 3)
    takes photo px of this face to px of the mate's photo.
    """
    own = bonded_given_contact(reading)
    both = joint_map(own, known, view, bonded_given_contact(mate_reading), mate_known, mate, affine)
    share = np.where(both.both, both.bonded, own)
    classes = reading.classes.copy()
    contact = classes[..., BONDED_P] + classes[..., BARE_P]
    classes[..., BONDED_P], classes[..., BARE_P] = contact * share, contact * (1 - share)
    return replace(reading, classes=classes)


def parted(reading: Reading, known: Bools) -> Floats:
    """Probability that a road of this half parted without a weld, or is missing; NaN where it can't be told."""
    bonded, bare, void = (reading.classes[..., k] for k in (BONDED_P, BARE_P, VOID_P))
    told = known & (bonded + bare + void > 0.2)
    return np.where(told, 1 - bonded / np.maximum(bonded + bare + void, 1e-3), np.nan).astype(np.float32)
