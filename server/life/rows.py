"""What the record holds on stays and failures, as plain rows, in a number of queries that doesn't grow with them.

Rows are named tuples: there can be a hundred thousand of them, and those are made fastest.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import func
from sqlmodel import Session, col, select

from server.case.current import Conclusion, whole
from server.life.asked import Asked
from server.records import (
    BreakSite,
    Build,
    Failure,
    FailureEntry,
    Inspection,
    Part,
    PersonVerdict,
    Revision,
    Service,
    Spool,
    VerdictRecord,
)


class Made(NamedTuple):
    """A build, as far as groups are made by it; None where it isn't known."""

    build_id: int | None
    revision_id: int
    part_id: int
    revision: int
    printer_id: int | None = None
    spool_id: int | None = None
    material: str | None = None
    built_on: date | None = None


class Stay(NamedTuple):
    """From fitting to removal; `removed_on` is None while it is in use."""

    fitted_on: date
    removed_on: date | None


class Broke(NamedTuple):
    """A failure with what is concluded of it, as a whole and at each place where it broke."""

    id: int
    case_label: str
    part_name: str
    found_on: date
    made: Made
    mode: str
    places: dict[str, str]  # the place's name -> the verdict on it


@dataclass(frozen=True)
class Rows:
    """All that is read: builds that were ever in use, their stays, failures, and looks that found one failed."""

    made: dict[int, Made]
    stays: dict[int, list[Stay]]
    broke: list[Broke]
    seen_failed: set[int]


def read_rows(session: Session, asked: Asked) -> Rows:
    """Return what is logged on the part and revision asked for; by material, printer and spool it isn't cut yet.

    A failure whose build isn't said can be of any build of its revision, so that all of them are needed.
    """
    made, stays = _stays(session, asked)
    return Rows(made, stays, _broke(session, asked), _seen_failed(session))


def _of_part(asked: Asked) -> list[Any]:
    rules: list[Any] = []
    if asked.part:
        rules.append(col(Revision.part_id) == asked.part)
    if asked.revision:
        rules.append(col(Revision.number) == int(asked.revision))
    return rules


def _stays(session: Session, asked: Asked) -> tuple[dict[int, Made], dict[int, list[Stay]]]:
    query: Any = (
        select(  # type: ignore[call-overload, misc]
            Service.fitted_on,
            Service.removed_on,
            Build.id,
            Build.revision_id,
            Revision.part_id,
            Revision.number,
            Build.printer_id,
            Build.spool_id,
            Spool.material,
            Build.built_on,
        )
        .join(Build, col(Service.build_id) == col(Build.id))
        .join(Revision, col(Build.revision_id) == col(Revision.id))
        .join(Spool, col(Build.spool_id) == col(Spool.id), isouter=True)
        .where(*_of_part(asked))
        .order_by(col(Service.fitted_on), col(Service.id))
    )
    made: dict[int, Made] = {}
    stays: dict[int, list[Stay]] = defaultdict(list)
    for fitted_on, removed_on, *build in session.exec(query).all():
        made[build[0]] = Made(*build)
        stays[build[0]].append(Stay(fitted_on, removed_on))
    return made, stays


def _broke(session: Session, asked: Asked) -> list[Broke]:
    build_id = func.coalesce(Failure.build_id, Service.build_id)
    newest = select(func.max(FailureEntry.id)).group_by(col(FailureEntry.failure_id))
    query: Any = (
        select(  # type: ignore[call-overload, misc]
            Failure.id,
            Failure.case_label,
            Part.name,
            FailureEntry.found_on,
            Build.id,
            Failure.revision_id,
            Revision.part_id,
            Revision.number,
            Build.printer_id,
            Build.spool_id,
            Spool.material,
            Build.built_on,
        )
        .join(Revision, col(Failure.revision_id) == col(Revision.id))
        .join(Part, col(Revision.part_id) == col(Part.id))
        .join(FailureEntry, col(FailureEntry.failure_id) == col(Failure.id))
        .join(Service, col(Failure.service_id) == col(Service.id), isouter=True)
        .join(Build, col(Build.id) == build_id, isouter=True)
        .join(Spool, col(Build.spool_id) == col(Spool.id), isouter=True)
        .where(col(FailureEntry.id).in_(newest), *_of_part(asked))
        .order_by(col(FailureEntry.found_on), col(Failure.id))
    )
    rows = session.exec(query).all()
    said, places = _concluded(session), _places(session)
    found = []
    for key, label, name, found_on, *made in rows:
        by_site = said.get(key, {})
        overall = whole(by_site).code
        here = {place: by_site[site].code if site in by_site else overall for site, place in places.get(key, [])}
        found.append(Broke(key, label, name, found_on, Made(*made), overall, here))
    return found


def _concluded(session: Session) -> dict[int, dict[int | None, Conclusion]]:
    """The verdict in force on each failure by site: later rows take the place of earlier ones, a person's counts."""
    said: dict[int, dict[int | None, Conclusion]] = defaultdict(dict)
    weighed = select(VerdictRecord.failure_id, VerdictRecord.site_id, VerdictRecord.primary)
    for failure_id, site, mode in session.exec(weighed.order_by(col(VerdictRecord.id))).all():
        said[failure_id][site] = Conclusion(program=mode)
    spoken = select(PersonVerdict.failure_id, PersonVerdict.site_id, PersonVerdict.mode)
    for failure_id, site, mode in session.exec(spoken.order_by(col(PersonVerdict.id))).all():
        said[failure_id][site] = Conclusion(person=mode)
    return said


def _places(session: Session) -> dict[int, list[tuple[int, str]]]:
    places: dict[int, list[tuple[int, str]]] = defaultdict(list)
    rows: Iterable[Any] = session.exec(select(BreakSite.failure_id, BreakSite.id, BreakSite.name)).all()
    for failure_id, key, name in rows:
        places[failure_id].append((key, name.strip()))
    return places


def _seen_failed(session: Session) -> set[int]:
    query = (
        select(Service.build_id)
        .join(Inspection, col(Inspection.service_id) == col(Service.id))
        .where(Inspection.result == "failed")
    )
    return set(session.exec(query).all())
