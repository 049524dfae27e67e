"""The face's contact in patches of a few roads: how much of each tore. Patches are what is counted, not pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.roads.workview import Bools, Floats, Workview
from analysis.welds.bonding import BARE_P, BONDED_P, Reading

Reals = npt.NDArray[np.float64]

SIDE_ROADS = 3.0  # judgement: wide enough to hold several roads, so that one odd road doesn't make a patch
_LEAST_FILLED = 0.15  # of the middle patch's contact: slivers at the rim say too little to count as one


@dataclass(frozen=True)
class Patches:
    """Patches of the face.

    xy_mm : (n, 2) middle of each patch's contact, mm from working pixel (0, 0), x right, y down.
    torn : (n,) share of the contact that tore, 0 to 1.
    contact_mm2 : (n,) contact that can be told.
    side_mm : edge of a patch.
    """

    xy_mm: Reals
    torn: Reals
    contact_mm2: Reals
    side_mm: float

    def __len__(self) -> int:
        return len(self.torn)

    @property
    def mean(self) -> float:
        """Share of all the contact that tore."""
        return float(np.average(self.torn, weights=self.contact_mm2))


def contact_and_torn(reading: Reading, known: Bools) -> tuple[Floats, Floats]:
    """Probable contact and probable torn contact of each working pixel, (rows, cols); 0 where it can't be told."""
    bonded, bare = reading.classes[..., BONDED_P], reading.classes[..., BARE_P]
    return np.asarray((bonded + bare) * known, np.float32), np.asarray(bonded * known, np.float32)


def cut_patches(view: Workview, contact: Floats, torn: Floats) -> Patches:
    """Cut the face into squares of `SIDE_ROADS` line widths; squares with little contact are left out.

    Parameters
    ----------
    contact, torn : (rows, cols) contact per working pixel and the part of it that tore, 0 where it can't be told.
    """
    side = max(round(SIDE_ROADS * view.road_px), 2)
    rows, cols = contact.shape
    row, col = np.indices((rows, cols))
    number = (row // side) * (cols // side + 1) + col // side

    def total(values: npt.NDArray[np.floating]) -> Reals:
        return np.asarray(np.bincount(number.ravel(), np.asarray(values, float).ravel()), float)

    area = total(contact)
    there = area > 0
    if there.any():
        there = area > _LEAST_FILLED * np.median(area[there])
    mm = view.mm_per_px
    part = area[there]
    places = np.c_[total(contact * col)[there] / part, total(contact * row)[there] / part]
    return Patches(places * mm, total(torn)[there] / part, part * mm**2, side * mm)
