"""The page on how long parts last, from what is asked for to what the template prints."""

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from fastapi import Request
from sqlmodel import Session, col, func, select

from analysis.life.curve import still_watched
from server.history.search_rules import NO_VERDICT
from server.life.asked import BY_FAILURE, GROUPS, Asked
from server.life.drawing import Drawing, age_ticks, draw
from server.life.groups import FEW, Group, Grouped, Names, group_units
from server.life.rows import Broke, read_rows
from server.life.trends import Trends, trends_of
from server.life.units import Lives, counts, lives_of
from server.life.wording import (
    FEW_WORDS,
    compared_words,
    few,
    group_facts,
    lasted_words,
    left_out_words,
    shape_words,
)
from server.links import address
from server.naming import printer_name, spool_name
from server.pages import day
from server.records import BreakSite, Part, Printer, Revision, Spool
from server.wording import CODES

PER_PAGE = 24
WIDE, NARROW, PANEL = 760, 350, 350
BANDS = 2  # more bands than this on one drawing hide each other


@dataclass(frozen=True)
class Choice:
    """One field of the filters."""

    name: str
    label: str
    options: list[tuple[str, str]]
    value: str


@dataclass(frozen=True)
class Card:
    """A group with its figures; `panels` are its own curve with its band where the common drawing has none."""

    group: Group
    number: int
    address: str
    facts: list[tuple[str, str]]
    words: str
    few: bool
    panels: list[tuple[str, Drawing]]
    falls: list[tuple[str, int, int, str, str]]


@dataclass(frozen=True)
class FailureLine:
    """One failure of the list."""

    words: str
    address: str
    part: str
    part_address: str
    facts: str
    mode: str


@dataclass(frozen=True)
class LifePage:
    """All that the page prints."""

    asked: Asked
    choices: list[Choice]
    features: list[str]
    part: str
    clear: str
    without_part: str
    counted: str
    left_out: list[str]
    few: bool
    few_words: str
    drawings: list[tuple[str, Drawing]]
    ages: list[str]
    at_risk: list[tuple[int, str, list[int]]]
    cards: list[Card]
    more_groups: int
    compared: str
    trends: Trends
    lines: list[FailureLine]
    total: int
    previous: str
    next: str


@dataclass(frozen=True)
class Counted:
    """What is asked for, counted and grouped; page and published interface are made from it."""

    names: Names
    lives: Lives
    grouped: Grouped
    all_failures: list[Broke]


def count(session: Session, asked: Asked, today: date) -> Counted:
    """Read the record and group what is in it, in a fixed number of queries."""
    names = Names(
        {one.id or 0: printer_name(one) for one in session.exec(select(Printer)).all()},
        {one.id or 0: spool_name(one) for one in session.exec(select(Spool)).all()},
    )
    rows = read_rows(session, asked)
    lives = lives_of(rows, asked, today)
    return Counted(names, lives, group_units(lives.units, asked, names), [one for one, _ in lives.listed])


def life_page(request: Request, session: Session, asked: Asked) -> LifePage:
    """Return the page for what is asked."""
    found = count(session, asked, date.today())
    groups = found.grouped.groups
    base = address(request, "life")
    part = session.get(Part, asked.part) if asked.part else None
    pages = max(1, -(-len(found.lives.listed) // PER_PAGE))
    page = min(asked.page, pages)
    ages = age_ticks(groups, 6)
    return LifePage(
        asked,
        _choices(session, asked, found.names),
        _features(session),
        part.name if part else "",
        f"{base}?{asked.query(material='', printer=0, spool=0, part=0, revision='', mode='', feature='')}".rstrip("?"),
        f"{base}?{asked.query(part=0, revision='')}".rstrip("?"),
        _counted_words(found.lives, asked),
        left_out_words(found.lives.left_out),
        few(found.grouped),
        FEW_WORDS,
        _drawings(groups, 0, bands=len(groups) <= BANDS),
        [f"{age:g}" for age in ages],
        [(n, group.name, still_watched(group.ages, np.array(ages))) for n, group in enumerate(groups)],
        [_card(base, asked, group, number, len(groups) > BANDS) for number, group in enumerate(groups)],
        found.grouped.more,
        compared_words(found.grouped, asked.group in BY_FAILURE),
        trends_of(found.all_failures, dict(found.names.printers)),
        _lines(request, found, page),
        len(found.lives.listed),
        f"{base}?{asked.query(page=page - 1)}#failures" if page > 1 else "",
        f"{base}?{asked.query(page=page + 1)}#failures" if page < pages else "",
    )


def _drawings(groups: list[Group], first: int, bands: bool) -> list[tuple[str, Drawing]]:
    if not groups:
        return []
    return [
        (name, draw(groups, width, bands=bands, first=first)) for name, width in (("wide", WIDE), ("narrow", NARROW))
    ]


def _card(base: str, asked: Asked, group: Group, number: int, panel: bool) -> Card:
    curve = group.curve
    low, high = curve.limits()
    falls = [
        (f"{at:g}", int(risk), int(failed), f"{100 * share:.0f} %", _limits(float(one), float(other)))
        for at, risk, failed, share, one, other in zip(
            curve.at, curve.at_risk, curve.failures, curve.share, low, high, strict=True
        )
    ]
    alone = asked.query(group="", **{asked.group: group.key}) if asked.group and group.key else ""
    return Card(
        group,
        number,
        f"{base}?{alone}" if alone else "",
        group_facts(group),
        shape_words(group),
        group.failures < FEW,
        [("panel", draw([group], PANEL, first=number))] if panel else [],
        falls if len(falls) <= 100 else [],
    )


def _limits(low: float, high: float) -> str:
    return "none: all had failed" if np.isnan(low) else f"{100 * low:.0f} to {100 * high:.0f} %"


def _counted_words(lives: Lives, asked: Asked) -> str:
    if not lives.units:
        return ""
    in_use = sum(unit.in_use for unit in lives.units)
    ended = sum(unit.broke is not None for unit in lives.units)
    sound = len(lives.units) - in_use - ended
    builds = "1 build was ever in use" if len(lives.units) == 1 else f"{len(lives.units)} builds were ever in use"
    text = f"{builds}: {ended} failed, {in_use} still in use, {sound} taken out without a failure."
    kind = sum(unit.broke is not None and counts(unit.broke, asked) for unit in lives.units)
    if kind < ended:
        text += f" Of the failures {kind} are of the kind asked for; the others end a build’s days as a removal does."
    return text


def _choices(session: Session, asked: Asked, names: Names) -> list[Choice]:
    materials = session.exec(select(Spool.material).distinct().order_by(Spool.material)).all()
    numbers = session.exec(select(Revision.number).distinct().order_by(col(Revision.number))).all()
    any_one = [("", "any")]
    modes = [*CODES["mode"].items(), (NO_VERDICT, "no verdict yet")]
    return [
        Choice("group", "Compare by", list(GROUPS.items()), asked.group),
        Choice("material", "Material", any_one + [(name, name) for name in materials], asked.material),
        Choice("printer", "Printer", any_one + _by_name(names.printers), str(asked.printer or "")),
        Choice("spool", "Spool", any_one + _by_name(names.spools), str(asked.spool or "")),
        Choice("revision", "Revision", any_one + [(str(n), str(n)) for n in numbers], asked.revision),
        Choice("mode", "Verdict", any_one + modes, asked.mode),
    ]


def _by_name(names: Any) -> list[tuple[str, str]]:
    return sorted(((str(key), name) for key, name in names.items()), key=lambda one: one[1].casefold())


def _features(session: Session) -> list[str]:
    """The places of breaks that are logged most, to choose from while typing."""
    query = select(BreakSite.name).group_by(BreakSite.name).order_by(func.count().desc(), col(BreakSite.name)).limit(40)
    return list(session.exec(query).all())


def _lines(request: Request, found: Counted, page: int) -> list[FailureLine]:
    newest = list(reversed(found.lives.listed))[(page - 1) * PER_PAGE : page * PER_PAGE]
    return [_line(request, found.names, broke, lasted) for broke, lasted in newest]


def _line(request: Request, names: Names, broke: Broke, lasted: float | None) -> FailureLine:
    made = broke.made
    facts = [
        f"found {day(broke.found_on)}",
        lasted_words(lasted),
        f"revision {made.revision}",
        names.spools.get(made.spool_id or 0, ""),
        names.printers.get(made.printer_id or 0, ""),
        ", ".join(broke.places),
    ]
    return FailureLine(
        f"Failure {broke.case_label or broke.id}",
        address(request, "failure", failure_id=broke.id),
        broke.part_name,
        address(request, "part", part_id=made.part_id),
        " · ".join(fact for fact in facts if fact),
        CODES["mode"].get(broke.mode, "no verdict yet"),
    )
