"""The list of parts: what is asked for, the query that finds it, and the rows as the page prints them."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from fastapi import Request
from sqlalchemy import ColumnElement, and_, exists, func, literal, or_
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from server.current import Conclusion, conclusions, failure_entries, loose_pieces, thumbnails, whole
from server.links import address
from server.records import Build, Customer, Failure, FailureEntry, Part, PersonVerdict, Revision, Spool, VerdictRecord
from server.state import part_state
from server.wording import CODES

PER_PAGE = 24
NO_VERDICT = "none"


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
    _teach_folding(session)
    rules = _rules(wanted)
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
    customers = {c.id: c.name for c in session.exec(select(Customer).where(col(Customer.id).in_([p.customer_id for p, _ in pairs]))).all()}
    owned = session.exec(
        select(Failure.id, Revision.part_id).join(Revision, col(Failure.revision_id) == col(Revision.id)).where(col(Revision.part_id).in_(keys))
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
    return {part_id: material for part_id, material in session.exec(made).all()}  # the newest build comes last and stays


def _materials(session: Session) -> list[str]:
    return list(session.exec(select(Spool.material).distinct().order_by(Spool.material)).all())


def _rules(wanted: Wanted) -> list[ColumnElement[bool]]:
    rules: list[Any] = [_mentions(word) for word in wanted.text.split()[:12]]
    if wanted.verdict:
        rules.append(_judged(wanted.verdict))
    if wanted.material:
        rules.append(_of_part(Build, col(Build.revision_id), _made_of(wanted.material)))
    if wanted.state:
        rules.append(part_state() == wanted.state)
    return rules


def _made_of(material: str) -> Any:
    return exists(select(Spool.id).where(col(Spool.id) == col(Build.spool_id), col(Spool.material) == material).correlate(Build))


def _of_part(kind: Any, revision_column: Any, rule: Any) -> Any:
    """Whether the part has a record of `kind` under one of its revisions that meets `rule`."""
    joined = select(kind.id).join(Revision, revision_column == col(Revision.id))
    return exists(joined.where(col(Revision.part_id) == col(Part.id), rule).correlate(Part))


def _teach_folding(session: Session) -> None:
    # SQLite compares without regard to case in ASCII only; names have umlauts and accents.
    connection: Any = session.connection().connection.driver_connection
    connection.create_function("fold", 1, lambda value: str(value or "").casefold(), deterministic=True)


def _mentions(word: str) -> Any:
    """Whether any of the part's texts holds `word`: its own, its customer's name, its revisions', its failures'."""
    customer = select(Customer.id).where(col(Customer.id) == col(Part.customer_id), _holds(word, Customer.name)).correlate(Part)
    changed = select(Revision.id).where(col(Revision.part_id) == col(Part.id), _holds(word, Revision.what_changed, Revision.why)).correlate(Part)
    later = aliased(FailureEntry)
    newest = ~exists(select(later.id).where(later.failure_id == FailureEntry.failure_id, later.id > FailureEntry.id).correlate(FailureEntry))  # type: ignore[operator]
    account = exists(
        select(FailureEntry.id).where(
            col(FailureEntry.failure_id) == col(Failure.id),
            newest,
            _holds(
                word, FailureEntry.found_place, FailureEntry.finder, FailureEntry.noticed_how, FailureEntry.happened_before,
                FailureEntry.load_words, FailureEntry.load_direction, FailureEntry.as_found, FailureEntry.also_lost, FailureEntry.found_sound,
            ),
        ).correlate(Failure)
    )
    return or_(
        _holds(word, Part.name, Part.function, Part.fitted_where, Part.note),
        exists(customer),
        exists(changed),
        _of_part(Failure, col(Failure.revision_id), or_(account, _holds(word, Failure.case_label))),
    )


def _holds(word: str, *columns: Any) -> Any:
    # One text of all columns, parted by a sign that no word holds, so that a word isn't found across two of them.
    text: Any = literal("")
    for column in columns:
        text = text + "\n" + func.coalesce(column, "")
    return func.fold(text).contains(word.casefold(), autoescape=True)


def _judged(code: str) -> Any:
    """Whether one of the part's failures, or a site of one, has this verdict in force: the person's before the program's."""
    said, later_said = aliased(PersonVerdict), aliased(PersonVerdict)
    weighed, later_weighed = aliased(VerdictRecord), aliased(VerdictRecord)
    if code == NO_VERDICT:
        any_verdict = or_(
            exists(select(said.id).where(said.failure_id == Failure.id).correlate(Failure)),
            exists(select(weighed.id).where(weighed.failure_id == Failure.id).correlate(Failure)),
        )
        return _of_part(Failure, col(Failure.revision_id), ~any_verdict)
    said_now = ~exists(select(later_said.id).where(_same(later_said, said), later_said.id > said.id).correlate(said))  # type: ignore[operator]
    weighed_now = ~exists(select(later_weighed.id).where(_same(later_weighed, weighed), later_weighed.id > weighed.id).correlate(weighed))  # type: ignore[operator]
    overruled = exists(select(later_said.id).where(_same(later_said, weighed)).correlate(weighed))
    by_person = select(said.id).where(said.failure_id == Failure.id, said.mode == code, said_now).correlate(Failure)
    by_program = select(weighed.id).where(weighed.failure_id == Failure.id, weighed.primary == code, weighed_now, ~overruled).correlate(Failure)
    return _of_part(Failure, col(Failure.revision_id), or_(exists(by_person), exists(by_program)))


def _same(one: Any, other: Any) -> Any:
    return and_(one.failure_id == other.failure_id, one.site_id.is_not_distinct_from(other.site_id))
