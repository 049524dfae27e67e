"""What the page of a part's place prints: the place, what service has shown, and what fits."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import Request
from sqlmodel import Session

from analysis.materials.environments import load_presets
from analysis.materials.fitness import LEAST_MONTHS, Judgement, Point, Stood
from analysis.materials.library import AGENTS, STATUSES
from server.history.part import form_warnings
from server.links import address
from server.materials.page import here_words
from server.materials.places import Judged, judge_part, places_of
from server.naming import upper_first
from server.pages import moment
from server.records import Part, UsePlace
from server.wording import words


@dataclass(frozen=True)
class FitRow:
    """A material's judgement as printed."""

    name: str
    address: str
    fit: str
    fit_words: str
    why: str
    here: str
    others: list[Point]


@dataclass(frozen=True)
class PresetRow:
    """A usual place, with where a form begins that is filled in from it."""

    words: str
    numbers: str
    source: str
    status: str
    address: str


def place_page(request: Request, session: Session, part: Part) -> dict[str, Any]:
    """Return what the template prints for the part's newest revision."""
    judged = judge_part(session, part, date.today())
    entries = places_of(session, part)
    return {
        "title": f"What fits the place of {part.name}",
        "trail": [("Parts", address(request, "parts")), (part.name, address(request, "part", part_id=part.id))],
        "warnings": form_warnings(part),
        "place_facts": _facts(judged),
        "known": judged.place.environment.highest_c is not None,
        "stood": [_stood_words(one) for one in judged.stood],
        "rows": [_row(request, judged, one) for one in judged.judgements],
        "presets": _presets(request, part),
        "new": address(request, "place_new", part_id=part.id),
        "older": [_entry_words(one) for one in entries if one is not judged.place.entry],
    }


def _facts(judged: Judged) -> list[tuple[str, str]]:
    place, entry = judged.place, judged.place.entry
    heat = place.environment.highest_c
    facts = [("Highest temperature", f"{heat:g} °C, {place.heat_from}" if heat is not None else "not known")]
    facts.append(("Water", words(place.environment.water, "water")))
    agents = ", ".join(AGENTS[agent] for agent in place.environment.agents)
    facts.append(("It meets", agents or ("nothing was ticked" if entry else "not said")))
    if entry:
        like = f"like: {words(entry.preset, 'place')}" if entry.preset else ""
        said = f"{entry.entered_by}, {moment(entry.entered_at)}"
        facts.append(("Known from", "; ".join(part for part in (entry.how_known, like, said) if part)))
    return facts


def _stood_words(one: Stood) -> str:
    name, months = one.material.words, one.months
    if one.softened:
        return f"{name} softened here: heat marks were seen on the broken part."
    if months < LEAST_MONTHS:
        return f"{name} was here for {months:.1f} months; less than {LEAST_MONTHS:g} prove nothing about heat."
    return (
        f"{name} stood here for {months:.0f} months without softening: what softens earlier is not backed by service."
    )


def _row(request: Request, judged: Judged, one: Judgement) -> FitRow:
    code = one.material.code
    return FitRow(
        one.material.words,
        address(request, "material", code=code),
        one.fit,
        words(one.fit, "fit"),
        upper_first(one.decides.why),
        here_words(judged.known, code),
        [point for point in one.points if point is not one.decides],
    )


def _entry_words(entry: UsePlace) -> str:
    heat = f"{entry.highest_c:g} °C" if entry.highest_c is not None else "temperature not said"
    agents = ", ".join(AGENTS[agent] for agent in entry.agents if agent in AGENTS) or "nothing ticked"
    return f"{moment(entry.entered_at)}, {entry.entered_by}: {heat}; {words(entry.water, 'water')}; {agents}"


def _presets(request: Request, part: Part) -> list[PresetRow]:
    here = address(request, "place_new", part_id=part.id)
    return [
        PresetRow(
            preset.words,
            f"{preset.low_c:g} to {preset.high_c:g} °C",
            preset.source,
            STATUSES[preset.status],
            f"{here}?like={preset.code}",
        )
        for preset in load_presets().values()
    ]
