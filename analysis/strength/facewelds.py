"""The welds of one face as maps: as built, as designed, and what can't be told."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from analysis.common.classes import BONDED, OPENING, OUTSIDE, RUBBED, UNKNOWN
from analysis.strength.ranges import Z90
from analysis.strength.section import SectionRefused
from analysis.strength.weldgroup import WeldGroup

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Hidden = Literal["bare", "rest", "bonded"]
HIDDEN: tuple[Hidden, ...] = ("bare", "rest", "bonded")  # what lies under the unknown zones; "rest": like the rest

EDGE_TOGETHER = 0.5  # judgement: neighbouring points of the outline err together over about a quarter of it
SCALE_STEP = 0.01
NO_SCALE = "The face has no scale: areas and strength in N need one. Shares and knock-downs don't."
NO_CONTACT = "There is no nominal contact on this face, so there is no fully bonded face to hold it against."
NO_WELD = "Nothing of the face is known to be bonded, so there is no section that could carry."


@dataclass(frozen=True)
class FaceWelds:
    """Maps (rows, cols) of one face, all of one shape.

    `bonded` : share of each pixel known to be welded, 0 to 1, 0 on unknown. `designed` : share that would be welded
    had all of the nominal contact held, None where the face has none. `unknown` : can't be told. `gross` : the face.
    `mm_per_px` : side of a pixel, None without a scale. `scale_relative_sd` : of a length. `edge_sd_px` : of the
    outline's place, px of these maps. `bonded_relative_sd` : of the bonded area as measured.
    """

    bonded: Floats
    designed: Floats | None
    unknown: Bools
    gross: Bools
    mm_per_px: float | None = None
    scale_relative_sd: float = 0.01
    edge_sd_px: float = 0.0
    bonded_relative_sd: float = 0.0

    def __post_init__(self) -> None:
        maps = [self.bonded, self.unknown, self.gross, *([] if self.designed is None else [self.designed])]
        if len({one.shape for one in maps}) != 1:
            raise ValueError("the maps of a face must have one shape")
        if self.mm_per_px is not None and not (math.isfinite(self.mm_per_px) and self.mm_per_px > 0):
            raise SectionRefused("The scale must be above 0 mm per pixel.")
        if not self.gross.any():
            raise SectionRefused("The face is empty; check the outline.")

    @classmethod
    def from_labels(
        cls,
        labels: NDArray[np.uint8],
        result: Mapping[str, Any],
        um_per_px: float | None,
        px_per_pixel: float = 1.0,
        *,
        scale_relative_sd: float = 0.01,
        edge_sd_px: float = 3.0,
        contact_share: float | None = None,
    ) -> FaceWelds:
        """From a stored measurement of a fracture face.

        Parameters
        ----------
        labels : uint8 (rows, cols), the label map's class codes (`analysis.common.classes`).
        result : the measurement's JSON object; `bonded_share_of_face` and `bonded_area_fraction` are read.
        um_per_px : of the original photo, None where the scale isn't known. px_per_pixel : photo px a label pixel.
        edge_sd_px : standard deviation of the outline's place in photo px; 3 for a drawn one (judgement).
        contact_share : contact band over road width, for a face whose fraction can't be had; None gives no design.

        Raises
        ------
        SectionRefused
            The measurement is of an outer surface, or its face is empty.
        """
        if (labels == RUBBED).any() or result.get("surface") == "outer":
            raise SectionRefused("Strength is for fracture faces; this measurement is of an outer surface.")
        gross = labels != OUTSIDE
        unknown = labels == UNKNOWN
        bonded = (labels == BONDED).astype(np.float64)
        return cls(
            bonded=bonded,
            designed=_designed(labels, bonded, unknown, gross, result, contact_share),
            unknown=unknown,
            gross=gross,
            mm_per_px=None if um_per_px is None else um_per_px / 1000 * px_per_pixel,
            scale_relative_sd=scale_relative_sd,
            edge_sd_px=edge_sd_px / px_per_pixel,
            bonded_relative_sd=_relative_sd(result),
        )

    @cached_property
    def without_rim(self) -> FaceWelds | None:
        """The same with the outermost pixel of the face taken off all round; None where nothing is left."""
        inner = ndimage.binary_erosion(self.gross)
        if not inner.any():
            return None
        return replace(
            self,
            bonded=self.bonded * inner,
            designed=None if self.designed is None else self.designed * inner,
            unknown=self.unknown & inner,
            gross=inner,
        )

    @cached_property
    def rescaled(self) -> FaceWelds:
        """The same with a pixel larger by `SCALE_STEP`, from which the effect of the scale is told."""
        return replace(self, mm_per_px=self.side_mm * (1 + SCALE_STEP))

    @property
    def side_mm(self) -> float:
        """Side of a pixel in mm, 1 without a scale: ratios stay right, sizes must not be told."""
        return 1.0 if self.mm_per_px is None else self.mm_per_px

    @property
    def known_fraction(self) -> float | None:
        """Bonded area over nominal contact, both without unknown."""
        if self.designed is None:
            return None
        nominal = float(self.designed[~self.unknown].sum())
        return float(self.bonded.sum()) / nominal if nominal > 0 else None

    def built(self, hidden: Hidden = "rest") -> WeldGroup:
        """The welds as they were, with the unknown zones taken as bare, like the rest, or bonded."""
        return self._built["bare" if not self.unknown.any() else hidden]

    @cached_property
    def _built(self) -> dict[Hidden, WeldGroup]:
        """The groups by what is taken for the unknown; kept, as their sections are asked for again and again."""
        groups: dict[Hidden, WeldGroup] = {"bare": WeldGroup(self.bonded, self.side_mm)}
        if self.unknown.any():
            known = float((self.gross & ~self.unknown).sum())
            share = float(self.bonded.sum()) / known if known else 0.0
            full = self.gross.astype(np.float64) if self.designed is None else self.designed
            groups["rest"] = WeldGroup(np.where(self.unknown, share, self.bonded), self.side_mm)
            groups["bonded"] = WeldGroup(np.where(self.unknown, full, self.bonded), self.side_mm)
        return groups

    @cached_property
    def whole(self) -> WeldGroup | None:
        """The fully bonded face: all of the nominal contact; None where there is none."""
        return None if self.designed is None else WeldGroup(self.designed, self.side_mm)

    @cached_property
    def outline(self) -> WeldGroup:
        """The gross face, as if it were solid."""
        return WeldGroup(self.gross, self.side_mm)


def _designed(
    labels: NDArray[np.uint8],
    bonded: Floats,
    unknown: Bools,
    gross: Bools,
    result: Mapping[str, Any],
    contact_share: float | None,
) -> Floats | None:
    """Nominal contact at every pixel: 1 where bonded, and elsewhere as dense as the measured nominal area asks.

    The label map doesn't tell a bare contact band from the flank between two roads, so the rest of the contact is
    spread evenly over what is bare, missing or unknown, never over openings. Its sum is the measured nominal area.
    """
    known = gross & ~unknown
    area = float(known.sum())
    share, fraction = _value(result, "bonded_share_of_face"), _value(result, "bonded_area_fraction")
    if fraction and share:
        nominal = share / fraction * area
    elif contact_share is not None:
        nominal = contact_share * float((known & (labels != OPENING)).sum())
    else:
        return None
    rest = known & (labels != BONDED) & (labels != OPENING)
    wanted = max(nominal - float(bonded.sum()), 0.0)
    density = min(wanted / float(rest.sum()), 1.0) if rest.any() else 0.0
    return np.where(rest, density, np.where(unknown, min(nominal / area, 1.0) if area else 0.0, bonded))


def _value(result: Mapping[str, Any], name: str) -> float | None:
    entry = result.get(name)
    return None if not entry else float(entry["value"])


def _relative_sd(result: Mapping[str, Any]) -> float:
    """Of the bonded area, from the 90 % interval of its share."""
    entry = result.get("bonded_share_of_face")
    if not entry or not entry["value"]:
        return 0.0
    low, high = entry["interval"]
    return float((high - low) / (2 * Z90) / entry["value"])


def outline_log_sd(edge_sd_px: float, change_per_px: float) -> float:
    """Standard deviation of a logarithm that changes by `change_per_px` when the whole edge moves by a pixel."""
    return EDGE_TOGETHER * edge_sd_px * abs(change_per_px)
