"""The list of parts: what is asked for, the query that finds it, and the rows as the page prints them."""

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import Request
from sqlalchemy import func
from sqlmodel import Session, col, select

from server.case.current import Conclusion, conclusions, failure_entries, loose_pieces, thumbnails, whole
from server.history.search_rules import rules_for
from server.history.state import part_state
from server.history.wanted import NO_VERDICT, Wanted
from server.links import address
from server.naming import printer_name, spool_name
from server.records import Build, Customer, Failure, Part, Printer, Revision, Spool
from server.wordindex.hits import Hits, hits_of
from server.wording import CODES

PER_PAGE = 24


@dataclass(frozen=True)
class PartRow:
    """One line of the list."""

    part: Part
    address: str
    log_failure: str
    customer: str
    state: str
    failures: int
    verdict: Conclusion
    thumb: str
    rendered: bool
    material: str
    warnings: list[str]
    hits: Hits | None = None


@dataclass(frozen=True)
class Found:
    """One page of the list, what narrows it down and what it can be narrowed down by."""

    wanted: Wanted
    rows: list[PartRow]
    total: int
    pages: int
    previous: str
    next: str
    verdicts: list[tuple[str, str]]
    materials: list[str]
    states: list[tuple[str, str]]
    printers: list[tuple[int | None, str]]
    spools: list[tuple[int | None, str]]
    customers: list[tuple[int | None, str]]


def find(request: Request, session: Session, wanted: Wanted) -> Found:
    """Return one page of the parts that are wanted, newest first."""
    rules = rules_for(wanted)
    total = session.exec(select(func.count()).select_from(Part).where(*rules)).one()
    pages = max(1, -(-total // PER_PAGE))
    page = min(wanted.page, pages)
    chosen = select(Part, part_state()).where(*rules).order_by(col(Part.id).desc())
    pairs = [(part, state) for part, state in session.exec(chosen.offset((page - 1) * PER_PAGE).limit(PER_PAGE)).all()]
    base = address(request, "parts")
    return Found(
        wanted,
        part_rows(request, session, pairs, wanted.text),
        total,
        pages,
        f"{base}?{wanted.query(page - 1)}" if page > 1 else "",
        f"{base}?{wanted.query(page + 1)}" if page < pages else "",
        [*CODES["mode"].items(), (NO_VERDICT, "failed, no verdict yet")],
        _materials(session),
        list(CODES["part_state"].items()),
        [(one.id, printer_name(one)) for one in session.exec(select(Printer).order_by(Printer.name)).all()],
        [(one.id, f"{spool_name(one)} (spool {one.id})") for one in _spools(session)],
        [(one.id, one.name) for one in session.exec(select(Customer).order_by(Customer.name)).all()],
    )


def _spools(session: Session) -> Sequence[Spool]:
    return session.exec(select(Spool).order_by(Spool.material, col(Spool.id).desc())).all()


def part_rows(request: Request, session: Session, pairs: list[tuple[Part, str]], asked: str = "") -> list[PartRow]:
    """Return the lines of the list for parts with their states, in a number of queries that doesn't grow with them.

    With words that were `asked` for, each says where they stand.
    """
    keys = [part.id for part, _ in pairs]
    customers = {
        c.id: c.name
        for c in session.exec(select(Customer).where(col(Customer.id).in_([p.customer_id for p, _ in pairs]))).all()
    }
    owned = session.exec(
        select(Failure.id, Revision.part_id)
        .join(Revision, col(Failure.revision_id) == col(Revision.id))
        .where(col(Revision.part_id).in_(keys))
    ).all()
    failure_keys = [failure_id for failure_id, _ in owned]
    entries, said = failure_entries(session, failure_keys), conclusions(session, failure_keys)
    pictures, loose = thumbnails(session, failure_keys), loose_pieces(session, failure_keys)
    materials = _newest_materials(session, keys)
    hits = hits_of(request, session, asked, [part for part, _ in pairs]) if asked else {}
    rows = []
    for part, state in pairs:
        mine = [failure_id for failure_id, part_id in owned if part_id == part.id and failure_id is not None]
        newest = max(mine, key=lambda key: (entries[key][-1].found_on, key), default=0)
        picture = pictures.get(newest)
        rows.append(
            PartRow(
                part,
                address(request, "part", part_id=part.id),
                address(request, "failure_new", part_id=part.id),
                customers.get(part.customer_id, ""),
                state,
                len(mine),
                whole(said.get(newest)),
                address(request, "photo_thumb", photo_id=picture.id) if picture else "",
                bool(picture and picture.is_rendered),
                materials.get(part.id, ""),
                [piece.words for key in mine for piece in loose.get(key, [])],
                hits.get(part.id),
            )
        )
    return rows


def _newest_materials(session: Session, keys: list[int | None]) -> dict[int | None, str]:
    made = (
        select(Revision.part_id, Spool.material)
        .join(Build, col(Build.revision_id) == col(Revision.id))
        .join(Spool, col(Build.spool_id) == col(Spool.id))
        .where(col(Revision.part_id).in_(keys))
        .order_by(col(Build.id))
    )
    # The newest build comes last and stays.
    return {row[0]: row[1] for row in session.exec(made).all()}


def _materials(session: Session) -> list[str]:
    return list(session.exec(select(Spool.material).distinct().order_by(Spool.material)).all())
