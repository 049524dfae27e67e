"""What counts now: newest entries, verdicts in force, missing pieces; each read in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from sqlmodel import Session, SQLModel, col, select

from server.records import (
    Change,
    Face,
    FailureEntry,
    Fragment,
    FragmentEntry,
    PersonVerdict,
    Photo,
    SiteEntry,
    Treatment,
    VerdictRecord,
)

Row = TypeVar("Row", bound=SQLModel)


def grouped(session: Session, kind: type[Row], owner: Any, keys: Iterable[int | None]) -> dict[int, list[Row]]:
    """Return the rows of `kind` by the key in their column `owner`, oldest first."""
    wanted = [key for key in keys if key is not None]
    groups: dict[int, list[Row]] = defaultdict(list)
    if not wanted:
        return groups
    name = owner.key
    for row in session.exec(select(kind).where(owner.in_(wanted)).order_by(col(kind.id))):  # type: ignore[attr-defined]
        groups[getattr(row, name)].append(row)
    return groups


def not_replaced(rows: Sequence[Row]) -> list[Row]:
    """Return the rows that no later one replaces."""
    replaced = {row.replaces_id for row in rows}  # type: ignore[attr-defined]
    return [row for row in rows if row.id not in replaced]  # type: ignore[attr-defined]


def failure_entries(session: Session, keys: Iterable[int | None]) -> dict[int, list[FailureEntry]]:
    """Return the entries of each failure, the one that counts last."""
    return grouped(session, FailureEntry, FailureEntry.failure_id, keys)


def fragment_entries(session: Session, keys: Iterable[int | None]) -> dict[int, list[FragmentEntry]]:
    """Return the entries of each piece, the one that counts last."""
    return grouped(session, FragmentEntry, FragmentEntry.fragment_id, keys)


def site_entries(session: Session, keys: Iterable[int | None]) -> dict[int, list[SiteEntry]]:
    """Return the entries of each break site, the one that counts last."""
    return grouped(session, SiteEntry, SiteEntry.site_id, keys)


def treatments(session: Session, keys: Iterable[int | None]) -> dict[int, list[Treatment]]:
    """Return all treatments of each piece, corrected ones among them."""
    return grouped(session, Treatment, Treatment.fragment_id, keys)


def changes(session: Session, keys: Iterable[int | None]) -> dict[int, list[Change]]:
    """Return the changes that each failure asks for, without the corrected ones."""
    found = grouped(session, Change, Change.failure_id, keys)
    return {key: not_replaced(rows) for key, rows in found.items()}


@dataclass(frozen=True)
class Conclusion:
    """The verdict in force on a failure as a whole, or on one of its sites; a code is "" where nobody has concluded."""

    program: str = ""
    person: str = ""
    person_reason: str = ""

    @property
    def code(self) -> str:
        """The mode that counts: the person's where there is one."""
        return self.person or self.program

    @property
    def differ(self) -> bool:
        """Whether program and person conclude differently."""
        return bool(self.program and self.person and self.program != self.person)


def conclusions(session: Session, keys: Iterable[int | None]) -> dict[int, dict[int | None, Conclusion]]:
    """Return for each failure the conclusion by site; None stands for the failure as a whole."""
    wanted = list(keys)
    program = grouped(session, VerdictRecord, VerdictRecord.failure_id, wanted)
    person = grouped(session, PersonVerdict, PersonVerdict.failure_id, wanted)
    answer: dict[int, dict[int | None, Conclusion]] = {}
    for key in {*program, *person}:
        said = {row.site_id: row for row in person.get(key, [])}  # later rows take the place of earlier ones
        weighed = {row.site_id: row for row in program.get(key, [])}
        answer[key] = {
            site: Conclusion(
                weighed[site].primary if site in weighed else "",
                said[site].mode if site in said else "",
                said[site].reason if site in said else "",
            )
            for site in {*said, *weighed}
        }
    return answer


def whole(by_site: dict[int | None, Conclusion] | None) -> Conclusion:
    """Return the conclusion on the failure as a whole; where only one site was judged, that site's."""
    if not by_site:
        return Conclusion()
    if None in by_site:
        return by_site[None]
    return next(iter(by_site.values())) if len(by_site) == 1 else Conclusion()


def thumbnails(session: Session, keys: Iterable[int | None]) -> dict[int, Photo]:
    """Return the photo that stands for each failure: of a fracture face, else of an outer one, else of the whole."""
    wanted = [key for key in keys if key is not None]
    if not wanted:
        return {}
    on_faces = session.exec(
        select(Photo, Fragment.failure_id)
        .join(Face, col(Photo.face_id) == col(Face.id))
        .join(Fragment, col(Face.fragment_id) == col(Fragment.id))
        .where(col(Fragment.failure_id).in_(wanted))
        .order_by(col(Face.surface) != "fracture", col(Photo.id))
    ).all()
    overview = session.exec(select(Photo).where(col(Photo.failure_id).in_(wanted)).order_by(col(Photo.id))).all()
    chosen: dict[int, Photo] = {}
    for photo, failure_id in on_faces:
        chosen.setdefault(failure_id, photo)
    for photo in overview:
        if photo.failure_id is not None:
            chosen.setdefault(photo.failure_id, photo)
    return chosen


@dataclass(frozen=True)
class LoosePiece:
    """A missing piece that can jam or hurt something."""

    failure_id: int
    words: str


def loose_pieces(session: Session, keys: Iterable[int | None]) -> dict[int, list[LoosePiece]]:
    """Return for each failure the missing pieces that can do harm."""
    fragments = grouped(session, Fragment, Fragment.failure_id, keys)
    entries = fragment_entries(session, [piece.id for group in fragments.values() for piece in group])
    answer: dict[int, list[LoosePiece]] = defaultdict(list)
    for failure_id, group in fragments.items():
        for piece in group:
            said = entries.get(piece.id or 0)
            if said and said[-1].can_harm and said[-1].status != "recovered":
                answer[failure_id].append(LoosePiece(failure_id, harm_words(piece, said[-1])))
    return answer


def harm_words(piece: Fragment, entry: FragmentEntry) -> str:
    """Return the warning that a missing piece calls for."""
    harm = f"It can jam or hurt something: {entry.harm_how}" if entry.harm_how else "It can jam or hurt something"
    where = f" It may be: {entry.where_may_be.rstrip('.')}." if entry.where_may_be else " Where it may be is not known."
    return f"Piece {piece.item_label} is missing. {harm.rstrip('.')}.{where}"
