"""What the verdict's page shows: shares of the modes, each contribution as a bar, where it came from, and what if."""

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from sqlmodel import Session

from analysis.evidence.catalogue import MODES, load_catalogue
from analysis.evidence.cautions import cautions
from analysis.evidence.load import CODE as LOAD
from analysis.evidence.words import SCALE_NAME, SCALE_SOURCE, grade, second_grade
from server.links import address
from server.records import Observation, VerdictRecord
from server.verdict.course import courses, where_seen
from server.verdict.scope import Scope, trail, with_site
from server.verdict.verdicts import Weighing, is_current, kept_verdicts, person_verdicts, weigh_scope
from server.verdict.weightsets import FILE
from server.wording import words

BAR_WIDTH = 200.0  # units of a bar's viewBox; 0 dB in its middle
NOTHING_DB = 0.05  # less than this is shown as saying nothing


@dataclass(frozen=True)
class Bar:
    """A bar from the middle: to the right where it speaks for the mode, to the left where against."""

    x: float
    width: float
    speaks: str  # for, against, nothing
    ticks: tuple[float, ...]  # x of each 5 dB


@dataclass(frozen=True)
class Line:
    """One contribution for reading."""

    code: str
    words: str
    said: str
    weight_db: float
    grade: str
    bar: Bar
    came_from: tuple[tuple[str, str], ...]
    note: str
    reason: str
    source: str
    weights_db: dict[str, float]
    counts_half: bool  # another answer rules it out
    kept_share: float  # what is left of its weight beside others that say the same
    is_off: bool
    switch: str  # address of the page with this one switched the other way


@dataclass(frozen=True)
class Share:
    """A mode's probability, with what it is when nothing is switched off."""

    mode: str
    words: str
    percent: float
    percent_all: float
    weight_db: float | None
    is_shown: bool
    address: str


def draw_bar(weight_db: float, reach_db: float) -> Bar:
    """The bar of a weight on a scale that reaches `reach_db` to either side."""
    half = BAR_WIDTH / 2
    size = min(abs(weight_db), reach_db) / reach_db * half
    speaks = "nothing" if abs(weight_db) < NOTHING_DB else "for" if weight_db > 0 else "against"
    ticks = tuple(
        half + half * step * 5 / reach_db for step in range(-int(reach_db // 5), int(reach_db // 5) + 1) if step
    )
    return Bar(half if weight_db >= 0 else half - size, size, speaks, ticks)


def verdict_page(request: Request, session: Session, scope: Scope, off: Collection[str], mode: str) -> dict[str, Any]:
    """Everything the template prints."""
    everything = weigh_scope(session, scope)
    off = sorted(set(off) & {line["code"] for line in _all_lines(everything)})
    weighing = weigh_scope(session, scope, off) if off else everything
    result = weighing.result
    shown = mode if mode in MODES else max(MODES, key=lambda one: result["probabilities"][one])
    here = address(request, "verdict", failure_id=scope.failure_id)
    lines = [] if weighing.parts else _lines(request, session, scope, everything, weighing, off, shown)
    kept = kept_verdicts(session, scope)
    return {
        "title": f"Verdict: {scope.part.name}",
        "trail": trail(request, scope),
        "scope": scope,
        "here": here,
        "result": result,
        "shares": _shares(here, scope, everything, weighing, shown, off),
        "shown": shown,
        "lines": lines,
        "off": off,
        "all_on": with_site(here, scope),
        "together": _together(result, shown, lines),
        "reckoning": _reckoning(weighing, lines),
        "kept": kept[0] if kept else None,
        "is_current": is_current(kept[0] if kept else None, everything),
        "earlier": [_as_earlier(record) for record in kept],
        "people": person_verdicts(session, scope),
        "sites": [_site_row(here, scope, part, weighing) for part in weighing.parts],
        "cautions": cautions(scope.part.can_hurt),
        "can_hurt": scope.part.can_hurt,
        "scale": (SCALE_NAME, SCALE_SOURCE),
        "prior_name": weighing.given["prior_name"],
        "prior": weighing.given["prior"],
        "prior_address": address(request, "prior"),
        "weights_address": address(request, "weights"),
        "courses": courses(request, session, scope),
        "where_seen": where_seen(session, scope),
        "looks": _looks(request, scope, result),
        "causes": _causes(request, session, scope, result),
        "open_causes": _open_causes(request, scope, result),
        "change_address": address(request, "change_new", failure_id=scope.failure_id),
        "observations_address": with_site(address(request, "observations", failure_id=scope.failure_id), scope),
        "strength_address": with_site(address(request, "strength", failure_id=scope.failure_id), scope),
        "summary_address": address(request, "summary", failure_id=scope.failure_id),
        "post_address": with_site(here, scope),
        "person_address": with_site(address(request, "verdict_person", failure_id=scope.failure_id), scope),
    }


def _all_lines(weighing: Weighing) -> list[dict[str, Any]]:
    if weighing.parts:
        return [line for part in weighing.parts for line in part.result["contributions"]]
    lines: list[dict[str, Any]] = weighing.result["contributions"]
    return lines


def _shares(
    here: str, scope: Scope, everything: Weighing, weighing: Weighing, shown: str, off: list[str]
) -> list[Share]:
    now, before = weighing.result["probabilities"], everything.result["probabilities"]
    weights = weighing.result.get("weight_db") or {}
    return [
        Share(
            mode,
            words(mode, "mode"),
            100 * now[mode],
            100 * before[mode],
            weights.get(mode),
            mode == shown,
            with_site(here, scope, mode=mode, off=off),
        )
        for mode in MODES
    ]


def _lines(
    request: Request,
    session: Session,
    scope: Scope,
    everything: Weighing,
    weighing: Weighing,
    off: list[str],
    shown: str,
) -> list[Line]:
    on = weighing.result["contributions"]
    switched = [line for line in everything.result["contributions"] if line["code"] in off]
    reach = _reach([line["against_rest_db"][shown] for line in [*on, *switched]])
    here = address(request, "verdict", failure_id=scope.failure_id)

    def one(line: dict[str, Any], is_off: bool) -> Line:
        weight = line["against_rest_db"][shown]
        others = [code for code in off if code != line["code"]] if is_off else [*off, line["code"]]
        return Line(
            code=line["code"],
            words=line["words"],
            said=line["value"] or words(line["answer"], "answer"),
            weight_db=weight,
            grade=grade(weight),
            bar=draw_bar(weight, reach),
            came_from=_came_from(request, session, scope, line),
            note=line["note"],
            reason=line["reason"],
            source=line["source"],
            weights_db=line["weights_db"],
            counts_half=line["counts_half"],
            kept_share=line["group_factor"],
            is_off=is_off,
            switch=with_site(here, scope, mode=shown, off=others) + "#evidence",
        )

    rows = [one(line, False) for line in on] + [one(line, True) for line in switched]
    return sorted(rows, key=lambda row: -row.weight_db)


def _reach(weights: list[float]) -> float:
    """The scale's end: a multiple of 5 dB, at least 10, so that a page of small weights doesn't look weighty."""
    return max(10.0, 5.0 * math.ceil(max((abs(weight) for weight in weights), default=0.0) / 5.0))


def _came_from(request: Request, session: Session, scope: Scope, line: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    kind, _, number = str(line["origin"]).partition(":")
    if kind == "measurement":
        return (("the measurement", address(request, "measurement", measurement_id=int(number))),)
    if kind == "strength":
        return (("load and strength", with_site(address(request, "strength", failure_id=scope.failure_id), scope)),)
    if kind != "answer":
        return ()
    entry = session.get(Observation, int(number))
    if entry is None:
        return ()
    listed = address(request, "observations", failure_id=scope.failure_id)
    site = f"?site={entry.site_id}" if entry.site_id else ""
    found = [(f"answer{' by ' + entry.seen_by if entry.seen_by else ''}", f"{listed}{site}#q-{entry.code}")]
    if entry.photo_id:
        found.append(("the photo", address(request, "photo_view", photo_id=entry.photo_id)))
    return tuple(found)


def _together(result: dict[str, Any], shown: str, lines: list[Line]) -> dict[str, Any] | None:
    if not lines:
        return None
    weight = result["weight_db"][shown]
    return {
        "weight_db": weight,
        "grade": grade(weight),
        "second_grade": second_grade(weight),
        "bar": draw_bar(weight, _reach([weight, *(line.weight_db for line in lines)])),
    }


def _reckoning(weighing: Weighing, lines: list[Line]) -> dict[str, Any] | None:
    """The sum as it is really done: prior and weights per mode in dB, then shares."""
    if weighing.parts:
        return None
    prior = {mode: 10 * math.log10(weighing.given["prior"][mode]) for mode in MODES}
    rows = [(line.words, line.weights_db) for line in lines if not line.is_off]
    sums = {mode: prior[mode] + sum(weights[mode] for _, weights in rows) for mode in MODES}
    return {"modes": MODES, "prior": prior, "rows": rows, "sums": sums}


def _as_earlier(record: VerdictRecord) -> dict[str, Any]:
    share = record.result["probabilities"].get(record.primary)
    return {
        "record": record,
        "percent": None if share is None else 100 * share,
        "prior": record.given.get("prior_name", ""),
        "weights": record.result.get("weights", FILE),
    }


def _site_row(here: str, scope: Scope, part: Weighing, whole: Weighing) -> dict[str, Any]:
    site = part.scope.site
    entry = next(one for one in whole.result["sites"] if site and one["site_id"] == site.id)
    primary = part.result["primary"]
    return {
        "name": entry["name"],
        "address": with_site(here, part.scope),
        "primary": primary,
        "words": part.result["words"],
        "percent": 100 * part.result["probabilities"].get(primary, 0.0),
        "sequence": entry["sequence"],
        "load": entry["load"],
        "why_followed": entry["why_followed"],
        "faces": entry["faces"],
        "how_known": entry["how_known"],
        "counts": entry["site_id"] in whole.result["rests_on"],
    }


def _causes(request: Request, session: Session, scope: Scope, result: dict[str, Any]) -> list[dict[str, Any]]:
    """Each cause with a bar, and below it what weighs how much and where that came from."""
    weights = [part["weight_db"] for cause in result["causes"] for part in cause["parts"]]
    reach = _reach([*weights, *(cause["weight_db"] for cause in result["causes"])])
    return [
        {
            **cause,
            "bar": draw_bar(cause["weight_db"], reach),
            "parts": [
                {
                    **part,
                    "said": words(part["answer"], "answer"),
                    "came_from": _came_from(request, session, scope, part),
                }
                for part in cause["parts"]
            ],
        }
        for cause in result["causes"]
    ]


def _open_causes(request: Request, scope: Scope, result: dict[str, Any]) -> list[dict[str, Any]]:
    listed = with_site(address(request, "observations", failure_id=scope.failure_id), scope)
    book = load_catalogue()
    return [
        {
            "words": cause["words"],
            "looks": [(book.observations[code].words, f"{listed}#q-{code}") for code in cause["look"]],
        }
        for cause in result.get("open_causes", [])
    ]


def _looks(request: Request, scope: Scope, result: dict[str, Any]) -> list[dict[str, Any]]:
    listed = with_site(address(request, "observations", failure_id=scope.failure_id), scope)
    case = address(request, "failure", failure_id=scope.failure_id)
    strength = with_site(address(request, "strength", failure_id=scope.failure_id), scope)
    measures = {LOAD: strength}
    return [
        {
            **look,
            "address": f"{listed}#q-{look['code']}" if look["kind"] == "answer" else measures.get(look["code"], case),
        }
        for look in result.get("next_looks", [])
        if look["bits"] >= 0.01
    ]


def cause_words(code: str) -> str:
    """What a contributing mode or cause is called."""
    book = load_catalogue()
    return book.causes[code].words if code in book.causes else words(code, "mode")
