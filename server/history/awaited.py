"""What the bench waits for from people: entries to be finished, and opinions that were asked for."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import Request
from sqlmodel import Session, col, exists, or_, select

from server.case.current import failure_entries
from server.links import address
from server.naming import failure_name
from server.pages import day
from server.records import (
    Face,
    Failure,
    FailureEntry,
    Fragment,
    Opinion,
    OpinionLink,
    Part,
    PersonVerdict,
    Photo,
    Revision,
    VerdictRecord,
)

SHOWN = 12


@dataclass(frozen=True)
class Waiting:
    """One line: what waits, where it leads, and what stands beside it."""

    words: str
    address: str
    beside: str = ""
    late: bool = False


def is_judged() -> Any:
    """Whether a failure has a verdict, the program's or a person's."""
    return or_(
        exists(select(VerdictRecord.id).where(VerdictRecord.failure_id == Failure.id)),
        exists(select(PersonVerdict.id).where(PersonVerdict.failure_id == Failure.id)),
    )


def has_pictured_face() -> Any:
    """Whether a face of the failure is photographed: from there on there is something to judge by."""
    pictured = (
        select(Photo.id)
        .join(Face, col(Photo.face_id) == col(Face.id))
        .join(Fragment, col(Face.fragment_id) == col(Fragment.id))
        .where(Fragment.failure_id == Failure.id)
    )
    return exists(pictured.correlate(Failure))


def unfinished_entries(request: Request, session: Session) -> tuple[list[Waiting], bool]:
    """Return failures that nothing can be judged from yet and what they lack, newest first; and if there are more."""
    query = (
        select(Failure, Part.name)
        .join(Revision, col(Failure.revision_id) == col(Revision.id))
        .join(Part, col(Revision.part_id) == col(Part.id))
        .where(~is_judged(), ~has_pictured_face())
        .order_by(col(Failure.id).desc())
        .limit(SHOWN + 1)
    )
    found = session.exec(query).all()
    shown = found[:SHOWN]
    keys = [failure.id for failure, _ in shown]
    said = failure_entries(session, keys)
    pieces = set(session.exec(select(Fragment.failure_id).where(col(Fragment.failure_id).in_(keys))).all())
    on_face = select(Fragment.failure_id).join(Face, col(Face.fragment_id) == col(Fragment.id))
    faces = set(session.exec(on_face.where(col(Fragment.failure_id).in_(keys))).all())
    lines = [
        Waiting(
            f"{name}: {failure_name(failure)}",
            address(request, "failure", failure_id=failure.id),
            f"found {day(said[failure.id or 0][-1].found_on)}; missing: "
            + ", ".join(_lacks(said[failure.id or 0], failure.id in pieces, failure.id in faces)),
        )
        for failure, name in shown
    ]
    return lines, len(found) > SHOWN


def _lacks(said: Sequence[FailureEntry], has_pieces: bool, has_faces: bool) -> list[str]:
    missing = [] if said[-1].as_found else ["condition as found"]
    if not has_pieces:
        return [*missing, "pieces"]
    return [*missing, "photos of its faces" if has_faces else "faces"]


def opinions_awaited(request: Request, session: Session) -> list[Waiting]:
    """Return the open questions to colleagues that nobody has answered, the one wanted first at the top."""
    today = date.today()
    asked = (
        select(OpinionLink, Failure, Part.name)
        .join(Failure, col(OpinionLink.failure_id) == col(Failure.id))
        .join(Revision, col(Failure.revision_id) == col(Revision.id))
        .join(Part, col(Revision.part_id) == col(Part.id))
        .where(
            col(OpinionLink.revoked_at).is_(None),
            OpinionLink.expires_on >= today,
            ~exists(select(Opinion.id).where(Opinion.link_id == OpinionLink.id)),
        )
        .order_by(col(OpinionLink.answer_by).is_(None), col(OpinionLink.answer_by), col(OpinionLink.id))
        .limit(SHOWN)
    )
    return [
        Waiting(
            f"{name}: {failure_name(failure)}",
            address(request, "opinion_links", failure_id=failure.id),
            _asked_words(link, today),
            bool(link.answer_by and link.answer_by < today),
        )
        for link, failure, name in session.exec(asked).all()
    ]


def _asked_words(link: OpinionLink, today: date) -> str:
    asked = f"asked {link.for_whom}" if link.for_whom else f"asked on {day(link.entered_at)}"
    if link.answer_by is None:
        return f"{asked}, no day set"
    ago = (today - link.answer_by).days
    late = f", {ago} day{'s' if ago > 1 else ''} ago" if ago > 0 else ""
    return f"{asked}, answer by {day(link.answer_by)}{late}"
