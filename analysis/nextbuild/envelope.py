"""The envelope: which regions of a part are locked, which may grow and by how much, and so which changes have room."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from analysis.nextbuild.catalogue import ROOM_KINDS, ChangeKind

DIMENSION = "dimension"  # a region that only has to stay as it is: no change would grow there
REGION_KINDS = (*ROOM_KINDS, DIMENSION)
Standing = Literal["possible", "excluded", "not_known"]


class EnvelopeRefused(ValueError):
    """A region that can't be used; the message says what was wrong and what to give."""


@dataclass(frozen=True)
class Region:
    """A part's region in words, with the room that it has.

    `kind` is what growing there would be: see `REGION_KINDS`. `room_mm` is how far it may grow; None where
    nobody has measured it. A locked region may not change at all. `at_break` says whether the break runs through it.
    """

    name: str
    kind: str
    at_break: bool
    locked: bool
    room_mm: float | None = None
    reason: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise EnvelopeRefused("Name the region, such as “underside of the hook”.")
        if self.kind not in REGION_KINDS:
            raise EnvelopeRefused(f"{self.name}: the room is one of {', '.join(REGION_KINDS)}.")
        if self.room_mm is not None and not (math.isfinite(self.room_mm) and self.room_mm >= 0):
            raise EnvelopeRefused(f"{self.name}: the room must be 0 mm or more, or left empty where it isn't known.")
        if self.locked and self.room_mm:
            raise EnvelopeRefused(f"{self.name}: it can't be locked and have {self.room_mm:g} mm of room; say which.")


@dataclass(frozen=True)
class RoomAnswer:
    """Whether there is room for a change, how much, and why."""

    standing: Standing
    room_mm: float | None
    why: str


def room_for(change: ChangeKind, regions: Sequence[Region]) -> RoomAnswer:
    """Judge one change against the envelope.

    A change that needs no room is possible. One that does needs a region of its kind at the break that is free and
    large enough; a locked region never gives room, whatever else is said of it.
    """
    locked = [region for region in regions if region.locked]
    if change.moves_dimensions and locked:
        why = f"It moves outside dimensions, and {_names(locked)} must not{_because(locked)}."
        return RoomAnswer("excluded", None, why)
    if change.room is None:
        return RoomAnswer("possible", None, "")
    fitting = [region for region in regions if region.kind == change.room.kind]
    here = [region for region in fitting if region.at_break]
    if not here:
        return _nothing_here(change.room.kind, fitting, any(region.at_break for region in regions))
    free = [region for region in here if not region.locked]
    known = [region for region in free if region.room_mm is not None]
    most = max(known, key=lambda region: region.room_mm or 0.0, default=None)
    if most is not None and (most.room_mm or 0.0) >= change.room.least_mm:
        return RoomAnswer("possible", most.room_mm, f"{most.name} leaves {most.room_mm:g} mm.")
    if len(known) < len(free):
        names = _names([region for region in free if region.room_mm is None])
        return RoomAnswer("not_known", None, f"Measure the room at {names}: {change.room.least_mm:g} mm is needed.")
    if most is not None:
        return RoomAnswer(
            "excluded",
            most.room_mm,
            f"{most.name} leaves {most.room_mm:g} mm and {change.room.least_mm:g} mm is needed.",
        )
    return RoomAnswer("excluded", None, f"It needs room at {_names(here)}, which is locked{_because(here)}.")


def away_from_break(change: ChangeKind, regions: Sequence[Region]) -> list[str]:
    """Why growing a free region elsewhere would not help: one sentence for each such region.

    Nothing is said while no region is said to be at the break: then nobody knows what is elsewhere.
    """
    if change.room is None or not any(region.at_break for region in regions):
        return []
    return [
        f"{change.words} at {region.name} would not help: it did not break there."
        for region in regions
        if region.kind == change.room.kind and not region.at_break and not region.locked
    ]


def _nothing_here(kind: str, elsewhere: Sequence[Region], break_is_placed: bool) -> RoomAnswer:
    if elsewhere and not break_is_placed:
        return RoomAnswer("not_known", None, f"Say whether the break runs through {_names(elsewhere)}.")
    more = f" What is described at {_names(elsewhere)} is away from the break." if elsewhere else ""
    return RoomAnswer("not_known", None, f"Say how much room there is at the break ({kind}).{more}")


def _names(regions: Sequence[Region]) -> str:
    return " and ".join(region.name for region in regions)


def _because(regions: Sequence[Region]) -> str:
    reasons = [region.reason for region in regions if region.reason]
    return f" ({'; '.join(reasons)})" if reasons else ""
