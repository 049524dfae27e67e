"""Reads the table of human and body loads that are offered as ranges, each with its source and status."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from analysis.strength.ranges import Range, RangeRefused

KINDS = ("low percentile", "usual", "strong user", "body weight")
STATUSES = ("read", "secondary", "derived", "from memory", "judgement")
_TEXTS = ("code", "words", "kind", "source", "status", "note")


class LoadsError(ValueError):
    """The table contradicts itself; the message names the entry and what to mend."""


@dataclass(frozen=True)
class BodyLoad:
    """A force a person may have brought on a part.

    `kind` says whose: "low percentile" figures are limits for design and say little of an overload.
    """

    code: str
    words: str
    force_n: Range
    kind: str
    source: str
    status: str
    note: str

    def to_json(self) -> dict[str, Any]:
        """The entry with its unit in the name."""
        return {**{name: getattr(self, name) for name in _TEXTS}, "force_n": self.force_n.to_json()}


@cache
def load_body_loads() -> Mapping[str, BodyLoad]:
    """The table that comes with the program, by code, in its order."""
    return parse_body_loads(resources.files("analysis.strength").joinpath("loads.toml").read_text(encoding="utf-8"))


def parse_body_loads(text: str) -> Mapping[str, BodyLoad]:
    """Read a table; raises LoadsError with the entry's name."""
    loads: dict[str, BodyLoad] = {}
    for entry in tomllib.loads(text).get("load", []):
        load = _load(entry)
        if load.code in loads:
            raise LoadsError(f"{load.code}: the code stands there twice")
        loads[load.code] = load
    return loads


def _load(entry: Mapping[str, Any]) -> BodyLoad:
    code = entry.get("code", "an entry without code")
    for name in _TEXTS:
        if not isinstance(entry.get(name), str) or not entry[name].strip():
            raise LoadsError(f"{code}: {name} is missing")
    if entry["kind"] not in KINDS or entry["status"] not in STATUSES:
        raise LoadsError(f"{code}: kind must be one of {KINDS} and status one of {STATUSES}")
    try:
        force = Range(float(entry["low_n"]), float(entry["high_n"]))
    except (KeyError, TypeError, RangeRefused) as error:
        raise LoadsError(f"{code}: low_n and high_n must be a range in N above 0 ({error})") from error
    return BodyLoad(**{name: entry[name] for name in _TEXTS}, force_n=force)
