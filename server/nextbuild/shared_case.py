"""One case as a colleague sees it through a link: photos, measures, what is locked; nothing that was not ticked."""

from dataclasses import dataclass
from typing import Any

from fastapi import Request
from sqlmodel import Session, col, select

from analysis.evidence.cautions import cautions
from server.links import address
from server.nextbuild.gathering import Known
from server.pages import day, moment
from server.records import Attachment, Customer, Face, Fragment, OpinionLink, Photo
from server.verdict.scope import Scope, latest_records
from server.wording import words

SHARES = (
    ("bonded_share_of_face", "Bonded share of the face"),
    ("bonded_area_fraction", "Bonded part of the contact area"),
)


@dataclass(frozen=True)
class SharedPhoto:
    """A photo by its place in the case; its facts only where they are shown."""

    number: int
    face: str
    source: str
    facts: str


@dataclass(frozen=True)
class SharedMeasure:
    """One figure of a face, with its interval."""

    face: str
    lines: tuple[tuple[str, str], ...]


def photos_of_case(session: Session, failure_id: int) -> list[tuple[Photo, Face]]:
    """The photos of the case's faces, in the order in which a link numbers them."""
    query = (
        select(Photo, Face)
        .join(Face, col(Photo.face_id) == col(Face.id))
        .join(Fragment, col(Face.fragment_id) == col(Fragment.id))
        .where(Fragment.failure_id == failure_id)
        .order_by(col(Photo.id))
    )
    return list(session.exec(query).all())


def models_of(session: Session, scope: Scope) -> list[Attachment]:
    """The model files of the revision that broke."""
    query = select(Attachment).where(Attachment.revision_id == scope.revision.id, Attachment.kind == "model")
    return list(session.exec(query.order_by(col(Attachment.id))).all())


def shared_case(
    request: Request, session: Session, link: OpinionLink, token: str, scope: Scope, known: Known
) -> dict[str, Any]:
    """What the colleague's page prints."""
    return {
        "title": scope.part.name,
        "link": link,
        "facts": _facts(session, link, scope),
        "photos": [
            _photo(request, link, token, number, photo, face)
            for number, (photo, face) in enumerate(photos_of_case(session, scope.failure_id), start=1)
        ],
        "measures": _measures(session, scope),
        "verdict": known.verdict_words,
        "regions": [
            ("free" if row.is_free else "locked", row.what, _beside(row.room_mm, row.is_free, row.reason))
            for row in known.regions
        ],
        "models": [
            (number, file.file_name, address(request, "shared_model", token=token, number=number))
            for number, file in enumerate(models_of(session, scope) if link.shows_model else [], start=1)
        ],
        "cautions": cautions(scope.part.can_hurt),
        "can_hurt": scope.part.can_hurt,
        "here": address(request, "shared_case", token=token),
    }


def _beside(room_mm: float | None, is_free: bool, reason: str) -> str:
    if not is_free:
        return reason
    return "room not measured" if room_mm is None else f"{room_mm:g} mm of room"


def _facts(session: Session, link: OpinionLink, scope: Scope) -> list[tuple[str, str]]:
    customer = session.get(Customer, scope.part.customer_id) if scope.part.customer_id else None
    facts = [("What it does", scope.part.function)]
    if link.shows_place:
        facts.append(("Fitted", scope.part.fitted_where))
    if link.shows_customer and customer:
        facts.append(("Customer", customer.name))
    return [(name, text) for name, text in facts if text]


def _photo(request: Request, link: OpinionLink, token: str, number: int, photo: Photo, face: Face) -> SharedPhoto:
    taken = f"{photo.file_name}, added {moment(photo.entered_at)}" if link.shows_photo_facts else ""
    marked = "rendered picture" if photo.is_rendered else ""
    return SharedPhoto(
        number,
        f"{face.name} ({words(face.surface, 'surface')})",
        address(request, "shared_photo", token=token, number=number),
        ", ".join(part for part in (marked, taken) if part),
    )


def _measures(session: Session, scope: Scope) -> list[SharedMeasure]:
    faces = list(
        session.exec(select(Face).join(Fragment).where(Fragment.failure_id == scope.failure_id).order_by(col(Face.id)))
    )
    return [SharedMeasure(face.name, _lines(record.result)) for face, record in latest_records(session, faces)]


def _lines(result: dict[str, Any]) -> tuple[tuple[str, str], ...]:
    lines: list[tuple[str, str]] = []
    for key, name in SHARES:
        found = result.get(key)
        if found and found.get("value") is not None:
            low, high = found["interval"] or (None, None)
            within = f" ({low:.0%} to {high:.0%})" if low is not None else ""
            lines.append((name, f"{found['value']:.0%}{within}"))
    if result.get("largest_gap_mm") is not None:
        lines.append(("Longest gap in a wall", f"{result['largest_gap_mm']:.1f} mm"))
    if result.get("rub_area_mm2") is not None:
        lines.append(("Rubbed area", f"{result['rub_area_mm2']:.1f} mm²"))
    return tuple(lines)


def until_words(link: OpinionLink) -> str:
    """When the answer is wanted and when the link ends."""
    wanted = f"An answer is wanted by {day(link.answer_by)}. " if link.answer_by else ""
    return f"{wanted}This link ends after {day(link.expires_on)}."
