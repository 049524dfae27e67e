"""Reads the table of materials: every figure a range with its unit, its source and how well that source is known."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

# Name in the table -> words, unit. The order is that of the pages.
QUANTITIES: Mapping[str, tuple[str, str]] = {
    "in_plane_mpa": ("Strength of a flat printed bar", "MPa"),
    "z_ratio": ("Upright over flat bar, both on gross section", ""),
    "elongation_percent": ("Strain at break", "%"),
    "glass_c": ("Glass transition", "°C"),
    "melting_c": ("Melting point", "°C"),
    "hdt_045_c": ("Heat deflection at 0.45 MPa", "°C"),
    "hdt_180_c": ("Heat deflection at 1.8 MPa", "°C"),
    "continuous_c": ("Limit of continuous use", "°C"),
    "brief_c": ("Limit of brief use", "°C"),
    "expansion_1e5_per_k": ("Growth with heat", "10⁻⁵/K"),
    "uptake_50_percent": ("Water taken up at 50 % humidity", "%"),
    "uptake_saturated_percent": ("Water taken up when soaked", "%"),
    "density_g_cm3": ("Density", "g/cm³"),
    "nozzle_c": ("Nozzle", "°C"),
    "chamber_c": ("Chamber", "°C"),
    "dry_c": ("Drying", "°C"),
    "dry_h": ("Drying time", "h"),
    "anneal_c": ("Annealing", "°C"),
    "price_eur_kg": ("Price", "€/kg"),
}
AGENTS: Mapping[str, str] = {
    "chem_oil": "oil and grease",
    "chem_petrol": "petrol",
    "chem_alcohol": "alcohol",
    "chem_ketone": "ketones such as acetone",
    "chem_brake_fluid": "brake fluid",
    "chem_acid": "strong acid",
    "chem_hot_water": "hot water",
    "chem_uv": "sunlight (UV)",
}
NEEDS: Mapping[str, str] = {"hardened_nozzle": "Hardened nozzle"}
RATINGS = ("ok", "cracks", "swells", "weathers", "hydrolyses", "attacked")
STATUSES: Mapping[str, str] = {
    "read": "read in the source",
    "secondary": "at second hand",
    "memory": "from memory",
    "practice": "common practice, no source",
    "judgement": "judgement",
    "own": "own entry",
}
KINDS = ("amorphous", "semicrystalline", "elastomer")


class MaterialsError(ValueError):
    """The table contradicts itself; the message names the entry and what to mend."""


@dataclass(frozen=True)
class Source:
    """Where figures come from: words for the reader and the status (a key of `STATUSES`)."""

    words: str
    status: str


@dataclass(frozen=True)
class Figure:
    """A range `low` to `high` in `unit`, equal where only one value is known; `note` limits what it is good for."""

    low: float
    high: float
    unit: str
    source: Source
    note: str = ""


@dataclass(frozen=True)
class Rating:
    """One word of a few, such as "cracks" for a chemical or "yes" for a need, with its source."""

    code: str
    source: Source
    note: str = ""


@dataclass(frozen=True)
class Material:
    """One material. A quantity that is in neither mapping is not known.

    `decodes` is the plain designation, by which a spool's label finds its material.
    """

    code: str
    words: str
    decodes: str
    kind: str  # amorphous, semicrystalline, elastomer; "" where nobody said
    figures: Mapping[str, Figure]
    ratings: Mapping[str, Rating]

    def figure(self, name: str) -> Figure | None:
        """Return the range of a quantity of `QUANTITIES`, None where it is not known."""
        if name not in QUANTITIES:
            raise KeyError(name)
        return self.figures.get(name)

    def rating(self, name: str) -> Rating | None:
        """Return the word for a chemical of `AGENTS` or a need of `NEEDS`, None where it is not known."""
        if name not in AGENTS and name not in NEEDS:
            raise KeyError(name)
        return self.ratings.get(name)


@dataclass(frozen=True)
class Library:
    """The whole table: materials by code, and the share of an upright bar that is bonded."""

    materials: Mapping[str, Material]
    bonded_share: Figure


@cache
def load_library() -> Library:
    """Read and check the table that ships with the program."""
    return parse_library(resources.files("analysis.materials").joinpath("materials.toml").read_text(encoding="utf-8"))


def parse_library(text: str) -> Library:
    """Return the library in TOML text; raise `MaterialsError` naming the entry that is wrong."""
    data = tomllib.loads(text)
    sources = {code: Source(entry["words"], entry["status"]) for code, entry in data["sources"].items()}
    for code, source in sources.items():
        if source.status not in STATUSES:
            raise MaterialsError(f"source {code}: no status {source.status}; one of {', '.join(STATUSES)}")
    materials = [_material(entry, sources) for entry in data["material"]]
    by_code = {one.code: one for one in materials}
    if len(by_code) != len(materials):
        raise MaterialsError("two materials share a code; give each its own")
    share = _figure("upright_bar", "bonded_share", data["upright_bar"]["bonded_share"], sources)
    return Library(by_code, share)


def _material(entry: Mapping[str, Any], sources: Mapping[str, Source]) -> Material:
    code = entry["code"]
    if entry["kind"] not in KINDS:
        raise MaterialsError(f"{code}: no kind {entry['kind']}; one of {', '.join(KINDS)}")
    figures: dict[str, Figure] = {}
    ratings: dict[str, Rating] = {}
    for name, given in entry.items():
        if name in QUANTITIES:
            figures[name] = _figure(code, name, given, sources)
        elif name in AGENTS or name in NEEDS:
            ratings[name] = _rating(code, name, given, sources)
        elif name not in {"code", "words", "decodes", "kind"}:
            raise MaterialsError(f"{code}: nothing is called {name}; add it to QUANTITIES, AGENTS or NEEDS first")
    return Material(code, entry["words"], entry["decodes"], entry["kind"], figures, ratings)


def _figure(code: str, name: str, given: list[Any], sources: Mapping[str, Source]) -> Figure:
    low, high, source = float(given[0]), float(given[1]), str(given[2])
    if low > high:
        raise MaterialsError(f"{code}, {name}: {low:g} to {high:g} runs backwards")
    unit = QUANTITIES[name][1] if name in QUANTITIES else ""
    return Figure(low, high, unit, _source(code, name, source, sources), *given[3:4])


def _rating(code: str, name: str, given: list[Any], sources: Mapping[str, Source]) -> Rating:
    allowed = RATINGS if name in AGENTS else ("yes", "no")
    if given[0] not in allowed:
        raise MaterialsError(f"{code}, {name}: no word {given[0]}; one of {', '.join(allowed)}")
    return Rating(given[0], _source(code, name, given[1], sources), *given[2:3])


def _source(code: str, name: str, source: str, sources: Mapping[str, Source]) -> Source:
    if source not in sources:
        raise MaterialsError(f"{code}, {name}: no source {source}; list it under [sources] first")
    return sources[source]
