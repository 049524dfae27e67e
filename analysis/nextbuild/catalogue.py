"""The catalogue of changes, read from `changes.toml` and checked."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from analysis.strength.ranges import Range, RangeRefused

TERMS = ("weld", "contact", "section", "notch", "orientation", "bypass", "clearance")
ROOM_KINDS = ("inner corner", "thickness", "side", "through the layers")
RULES = ("materials", "in_plane", "road_width", "layer_height", "full_contact", "thickness", "")
STATUSES = (
    "read in the source",
    "direction from the source, figures judgement",
    "common practice, no source",
    "from memory",
    "judgement",
)


class ChangesError(ValueError):
    """The data file contradicts itself; the message names the entry and what to mend."""


@dataclass(frozen=True)
class Room:
    """The room that a change needs at the break: its kind and the least that is of use, mm."""

    kind: str
    least_mm: float


@dataclass(frozen=True)
class ChangeKind:
    """One kind of change. `effect` is a 90 % range of the factor on its term; None where it has none of its own."""

    code: str
    words: str
    do: str
    acts_on: str
    effect: Range | None
    effect_from: str
    treats_modes: tuple[str, ...]
    treats_causes: tuple[str, ...]
    room: Room | None
    needs_chamber: bool
    needs_nozzle_c: float
    needs_sparse: bool
    moves_dimensions: bool
    cuts: bool
    time: str
    risk: str
    reason: str
    source: str
    status: str


@cache
def load_changes() -> Mapping[str, ChangeKind]:
    """Read and check the data file that ships with the program: code -> kind, in the file's order."""
    return parse_changes(resources.files("analysis.nextbuild").joinpath("changes.toml").read_text(encoding="utf-8"))


def parse_changes(text: str) -> dict[str, ChangeKind]:
    """The kinds of change from TOML text; raises ChangesError naming the entry that is wrong."""
    kinds: dict[str, ChangeKind] = {}
    for entry in tomllib.loads(text)["change"]:
        kind = _kind(entry)
        if kind.code in kinds:
            raise ChangesError(f"{kind.code}: two changes share this code; give each its own")
        kinds[kind.code] = kind
    return kinds


def _kind(entry: Mapping[str, Any]) -> ChangeKind:
    code = entry["code"]
    for name, allowed in (("acts_on", TERMS), ("status", STATUSES)):
        if entry[name] not in allowed:
            raise ChangesError(f"{code}: {name} is {entry[name]!r}; it must be one of {', '.join(allowed)}")
    if entry.get("effect_from", "") not in RULES:
        raise ChangesError(f"{code}: no rule {entry['effect_from']!r}")
    effect = _effect(code, entry)
    if effect is None and not entry.get("effect_from") and entry["acts_on"] != "clearance":
        raise ChangesError(f"{code}: give an effect or the rule that it follows from")
    return ChangeKind(
        code=code,
        words=entry["words"],
        do=entry["do"],
        acts_on=entry["acts_on"],
        effect=effect,
        effect_from=entry.get("effect_from", ""),
        treats_modes=tuple(entry["treats_modes"]),
        treats_causes=tuple(entry["treats_causes"]),
        room=_room(code, entry.get("room")),
        needs_chamber=bool(entry.get("needs_chamber", False)),
        needs_nozzle_c=float(entry.get("needs_nozzle_c", 0)),
        needs_sparse=bool(entry.get("needs_sparse", False)),
        moves_dimensions=bool(entry.get("moves_dimensions", False)),
        cuts=bool(entry.get("cuts", False)),
        time=entry["time"],
        risk=entry["risk"],
        reason=entry["reason"],
        source=entry["source"],
        status=entry["status"],
    )


def _effect(code: str, entry: Mapping[str, Any]) -> Range | None:
    if "effect" not in entry:
        return None
    try:
        return Range(*(float(end) for end in entry["effect"]))
    except (RangeRefused, TypeError) as error:
        raise ChangesError(f"{code}: {error}") from error


def _room(code: str, stated: Mapping[str, Any] | None) -> Room | None:
    if stated is None:
        return None
    if stated["kind"] not in ROOM_KINDS:
        raise ChangesError(f"{code}: room is of the kinds {', '.join(ROOM_KINDS)}, not {stated['kind']!r}")
    return Room(stated["kind"], float(stated["least_mm"]))
