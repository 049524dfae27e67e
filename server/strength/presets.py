"""Loads of hands, feet and bodies that a person can start from, as the analysis has them."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Preset:
    """A load from the table: its range in N and where that is from."""

    code: str
    words: str
    low_n: float
    high_n: float
    source: str


def presets() -> dict[str, Preset]:
    """Return every load of the table by code."""
    return {}


def preset(code: str) -> Preset | None:
    """Return one load of the table, None for a code that it no longer has."""
    return presets().get(code)


def preset_choices() -> dict[str, str]:
    """Return the table as choices of a form."""
    return {"": "no, I give it below"} | {
        one.code: f"{one.words} ({one.low_n:g} to {one.high_n:g} N)" for one in presets().values()
    }
