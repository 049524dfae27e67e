"""What the page of load and strength shows: what is said of loads and welds, and what comes of it."""

from dataclasses import dataclass
from typing import Any

from fastapi import Request
from sqlmodel import Session

from analysis.evidence.cautions import CAN_HURT
from server.links import address
from server.pages import moment
from server.records import LoadCase, WeldStrength
from server.store import Store
from server.strength.assessing import hold
from server.strength.entries import (
    all_loads,
    current_loads,
    current_weld,
    direction_words,
    earlier,
    force_words,
    load_line,
    place_words,
    weld_history,
    weld_line,
)
from server.strength.ground import Missing, grounds
from server.strength.result import SIDES, face_result
from server.verdict.scope import Scope, trail, with_site


@dataclass(frozen=True)
class LoadRow:
    """A load as it is known now, and what was said of it before."""

    number: int
    name: str
    facts: list[tuple[str, str]]
    correct: str
    old: list[tuple[str, str, str]]


@dataclass(frozen=True)
class MissingRow:
    """A face that can't be reckoned on, why, and where that is mended."""

    name: str
    why: str
    share: str
    words: str
    address: str


def strength_page(request: Request, session: Session, scope: Scope, store: Store) -> dict[str, Any]:
    """Everything the template prints."""
    key = scope.failure_id
    ask_site = scope.site is None and len(scope.sites) > 1
    found, held = (grounds(session, scope), []) if ask_site else hold(session, scope, store)
    rows, loads, weld = all_loads(session, scope), current_loads(session, scope), current_weld(session, scope)
    return {
        "title": "Could it have carried the load?",
        "trail": trail(request, scope),
        "scope": scope,
        "here": address(request, "strength", failure_id=key),
        "ask_site": ask_site,
        "loads": [_load(request, one, number, rows) for number, one in enumerate(loads, 1)],
        "withdrawn": [load_line(one) for one in rows if one.is_withdrawn],
        "weld": _weld(weld) if weld else [],
        "weld_old": _weld_old(weld_history(session, scope), weld),
        "missing": [_missing(request, one) for one in found.missing],
        "results": [face_result(one, {load.id: number for number, load in enumerate(loads, 1)}) for one in held],
        "sides": [words for _, words in SIDES],
        "left_out": [load.name for load in loads if all(load not in one.loads for one in held)],
        "stood": bool(scope.failure.service_id),
        "chosen_because": found.chosen_because,
        "has_ground": bool(found.faces),
        "load_address": with_site(address(request, "load_new", failure_id=key), scope),
        "weld_address": with_site(address(request, "weld", failure_id=key), scope),
        "verdict_address": with_site(address(request, "verdict", failure_id=key), scope),
        "case_address": address(request, "failure", failure_id=key),
        "can_hurt": scope.part.can_hurt,
        "cautions": CAN_HURT if scope.part.can_hurt else (),
    }


def _load(request: Request, load: LoadCase, number: int, rows: list[LoadCase]) -> LoadRow:
    facts = [
        ("Force", force_words(load)),
        ("Acts", direction_words(load)),
        ("Takes hold", place_words(load)),
        ("How it is known", load.how_known),
        ("Source", load.source),
        ("Entered", f"{moment(load.entered_at)} by {load.entered_by}"),
        ("Corrected because", load.correction_reason),
    ]
    old = [(moment(one.entry.entered_at), one.reason, load_line(one.entry)) for one in earlier(load, rows)]
    correct = address(request, "load_correct", load_id=load.id)
    return LoadRow(number, load.name, [(name, text) for name, text in facts if text], correct, old)


def _weld(weld: WeldStrength) -> list[tuple[str, str]]:
    facts = [
        ("Given", weld_line(weld)),
        ("How it is known", weld.how_known),
        ("Entered", f"{moment(weld.entered_at)} by {weld.entered_by}"),
        ("Corrected because", weld.correction_reason),
    ]
    return [(name, text) for name, text in facts if text]


def _weld_old(rows: list[WeldStrength], now: WeldStrength | None) -> list[str]:
    return [
        f"{moment(row.entered_at)}, {row.entered_by}: {weld_line(row)}"
        for row in reversed(rows)
        if now is None or row.id != now.id
    ]


def _missing(request: Request, one: Missing) -> MissingRow:
    if one.photo is None:
        return MissingRow(
            one.face.name, one.why, one.share, "Add a photo", address(request, "face", face_id=one.face.id)
        )
    prepare = address(request, "prepare", photo_id=one.photo.id)
    return MissingRow(one.face.name, one.why, one.share, "Scale, outline, measuring", prepare)
