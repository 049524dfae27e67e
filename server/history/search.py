"""The list of parts: what is asked for, the query that finds it, and the rows as the page prints them."""

from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import Request
from sqlalchemy import func
from sqlmodel import Session, col, select

from server.case.current import Conclusion, conclusions, failure_entries, loose_pieces, thumbnails, whole
from server.history.search_rules import NO_VERDICT, rules_for, teach_folding
from server.history.state import part_state
from server.links import address
from server.records import Build, Customer, Failure, Part, Revision, Spool
from server.wording import CODES

PER_PAGE = 24


@dataclass(frozen=True)
class Wanted:
    """What a list is narrowed down to; stands in its address, so the list can be shared as a link."""

    text: str = ""
    verdict: str = ""
    material: str = ""
    state: str = ""
    page: int = 1

    @classmethod
    def from_query(cls, query: Mapping[str, str]) -> "Wanted":
        """Read an address; what it can't mean is left out rather than refused, for a link may be old."""
        page = query.get("page", "1")
        verdict, state = query.get("verdict", ""), query.get("state", "")
        return cls(
            query.get("text", "").replace("\x00", "").strip()[:200],
            verdict if verdict in {*CODES["mode"], NO_VERDICT} else "",
            query.get("material", "")[:200],
            state if state in CODES["part_state"] else "",
            int(page) if page.isascii() and page.isdigit() and 0 < len(page) < 7 and int(page) else 1,
        )

    def query(self, page: int) -> str:
        """Return the query string of the same list at `page`."""
        asked = {"text": self.text, "verdict": self.verdict, "material": self.material, "state": self.state}
        kept = {name: value for name, value in asked.items() if value}
        return urlencode({**kept, "page": page} if page > 1 else kept)

    @property
    def narrowed(self) -> bool:
        """Whether anything is asked for at all."""
        return bool(self.text or self.verdict or self.material or self.state)


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


def find(request: Request, session: Session, wanted: Wanted) -> Found:
    """Return one page of the parts that are wanted, newest first."""
    teach_folding(session)
    rules = rules_for(wanted.text, wanted.verdict, wanted.material, wanted.state)
    total = session.exec(select(func.count()).select_from(Part).where(*rules)).one()
    pages = max(1, -(-total // PER_PAGE))
    page = min(wanted.page, pages)
    chosen = select(Part, part_state()).where(*rules).order_by(col(Part.id).desc())
    pairs = [(part, state) for part, state in session.exec(chosen.offset((page - 1) * PER_PAGE).limit(PER_PAGE)).all()]
    base = address(request, "parts")
    return Found(
        wanted,
        part_rows(request, session, pairs),
        total,
        pages,
        f"{base}?{wanted.query(page - 1)}" if page > 1 else "",
        f"{base}?{wanted.query(page + 1)}" if page < pages else "",
        [*CODES["mode"].items(), (NO_VERDICT, "failed, no verdict yet")],
        _materials(session),
        list(CODES["part_state"].items()),
    )


def part_rows(request: Request, session: Session, pairs: list[tuple[Part, str]]) -> list[PartRow]:
    """Return the lines of the list for parts with their states, in a number of queries that doesn't grow with them."""
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
