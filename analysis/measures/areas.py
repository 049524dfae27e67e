"""From probabilities to areas: what was bonded, what the design wanted joined, and where it can be told."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.roads.workview import Bools, Floats, Workview
from analysis.welds.bonding import BARE_P, BONDED_P, VOID_P, Reading


@dataclass(frozen=True)
class Areas:
    """Maps whose sums are areas in working px: bonded and nominal contact per point, and where it is known."""

    bonded: Floats
    nominal: Floats
    known: Bools
    inside: Bools

    def share(self) -> float:
        """Bonded area over known face area."""
        return float(self.bonded[self.known].sum() / max(self.known.sum(), 1))

    def fraction(self) -> float | None:
        """Bonded area over known nominal contact; None where there is less contact than one road square."""
        nominal = float(self.nominal[self.known].sum())
        return float(self.bonded[self.known].sum()) / nominal if nominal > 0 else None


def contact_areas(view: Workview, reading: Reading, unknown: Bools, band_share: float) -> Areas:
    """Expected bonded and nominal area at every point; a missing road counts with its contact band alone."""
    classes = reading.classes
    nominal = classes[..., BONDED_P] + classes[..., BARE_P] + band_share * classes[..., VOID_P]
    return Areas(classes[..., BONDED_P], nominal, view.inside & ~unknown, view.inside)
