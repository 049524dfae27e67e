"""What the page of a face shows: its photos, how far each is, the mate beside it, and what to do next."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from sqlmodel import Session, SQLModel, col, select

from server.measuring import jobs
from server.measuring.surroundings import mate_face
from server.pages import day
from server.records import (
    BreakSite,
    Face,
    Failure,
    Fragment,
    Job,
    Joining,
    Measurement,
    OutlineRecord,
    Part,
    Photo,
    Revision,
    ScaleRecord,
    Treatment,
)
from server.wording import words

Owned = TypeVar("Owned", bound=SQLModel)


@dataclass(frozen=True)
class Card:
    """A photo with what is known of it so far."""

    photo: Photo
    scale: ScaleRecord | None
    outline: OutlineRecord | None
    measurement: Measurement | None
    job: Job | None
    taken: str
    joining: Joining | None = None  # what it was made of, where it was made of several photos

    @property
    def state(self) -> str:
        """Say in a few words how far this photo is."""
        if self.job:
            return words(self.job.state, "job")
        if self.measurement:
            return "measured"
        if self.scale is None:
            return "needs its scale"
        return "scale set, ready to measure" if self.outline else "scale set, outline not looked at yet"


@dataclass(frozen=True)
class Step:
    """What to do next, and where."""

    words: str
    name: str = ""
    key: int | None = None
    button: str = ""


def trail_of(session: Session, face: Face | None) -> list[tuple[str, str]]:
    """Return the way from the list of parts to the face, as names with addresses."""
    trail = [("Parts", "/parts")]
    fragment = session.get(Fragment, face.fragment_id) if face else None
    failure = session.get(Failure, fragment.failure_id) if fragment else None
    revision = session.get(Revision, failure.revision_id) if failure else None
    part = session.get(Part, revision.part_id) if revision else None
    if face and failure and part:
        trail.append((part.name, f"/parts/{part.id}"))
        trail.append((failure.case_label or f"Failure {failure.id}", f"/failures/{failure.id}"))
        trail.append((face.name, f"/faces/{face.id}"))
    return trail


def treatments_of(session: Session, face: Face) -> list[Treatment]:
    """Return the logged cleaning steps of the face's fragment, corrected ones left out, oldest first."""
    made = select(Treatment).where(Treatment.fragment_id == face.fragment_id).order_by(col(Treatment.id))
    steps = list(session.exec(made).all())
    replaced = {step.replaces_id for step in steps}
    return [step for step in steps if step.id not in replaced]


def taken_choices(session: Session, face: Face) -> list[tuple[str, str]]:
    """Return when a photo can have been taken: as found, or after one of the logged treatments."""
    after = [(f"after-{step.id}", f"after: {_treatment(step)}") for step in treatments_of(session, face)]
    return [("as_found", "as found, before any cleaning"), *after]


def _treatment(step: Treatment) -> str:
    return f"{words(step.method, 'treatment')}, {day(step.done_on)}"


def cards_of(session: Session, face: Face) -> list[Card]:
    """Return the face's photos in the order they came in; a fixed number of queries however many there are."""
    photos = session.exec(select(Photo).where(Photo.face_id == face.id).order_by(col(Photo.id))).all()
    steps = {step.id: f"after: {_treatment(step)}" for step in session.exec(
        select(Treatment).where(Treatment.fragment_id == face.fragment_id)
    )}  # fmt: skip
    scales, outlines = _newest(session, ScaleRecord, photos), _newest(session, OutlineRecord, photos)
    measured, work = _newest(session, Measurement, photos), _newest_job(session, photos)
    joined = {one.photo_id: one for one in session.exec(select(Joining).where(Joining.face_id == face.id))}
    return [
        Card(
            photo=photo,
            scale=scales.get(photo.id),
            outline=outlines.get(photo.id),
            measurement=measured.get(photo.id),
            job=_worth_telling(work.get(photo.id)),
            taken=steps.get(photo.treatment_id) or words(photo.stage, "stage"),
            joining=joined.get(photo.id),
        )
        for photo in photos
    ]


def _newest(session: Session, kind: type[Owned], photos: Sequence[Photo]) -> dict[int | None, Owned]:
    owner, key = kind.photo_id, kind.id  # type: ignore[attr-defined]
    found = session.exec(select(kind).where(owner.in_([photo.id for photo in photos])).order_by(key))
    return {record.photo_id: record for record in found}  # type: ignore[attr-defined]


def _newest_job(session: Session, photos: Sequence[Photo]) -> dict[int | None, Job]:
    made = select(Job).where(col(Job.photo_id).in_([photo.id for photo in photos])).order_by(col(Job.id))
    return {job.photo_id: job for job in session.exec(made) if not jobs.is_joining(job)}


def _worth_telling(job: Job | None) -> Job | None:
    return job if job and (job.state not in jobs.ENDED or job.state == "failed") else None


def face_page(session: Session, face: Face) -> dict[str, Any]:
    """Return what the page of the face shows."""
    cards = cards_of(session, face)
    mate = mate_face(session, face)
    mate_cards = cards_of(session, mate) if mate else []
    fragment = session.get(Fragment, face.fragment_id)
    site = session.get(BreakSite, face.site_id) if face.site_id else None
    return {
        "title": face.name,
        "trail": trail_of(session, face)[:-1],
        "face": face,
        "fragment": fragment,
        "site": site,
        "surface": words(face.surface, "surface"),
        "cards": cards,
        "mate": mate,
        "pair": (_best(cards), _best(mate_cards)) if mate else None,
        "next": next_step(face, cards),
        "untouched_first": bool(treatments_of(session, face)) and not any(c.photo.stage == "as_found" for c in cards),
    }


def _best(cards: Sequence[Card]) -> Card | None:
    """Return the card to show for a face: the newest measured one, else the newest."""
    shown = [card for card in cards if card.measurement] or list(cards)
    return shown[-1] if shown else None


def next_step(face: Face, cards: Sequence[Card]) -> Step:
    """Return what brings this face on."""
    if not cards:
        return Step("Add photos of this face, square to it, the face filling most of the picture. Clean nothing yet.")
    waiting = next((card for card in cards if card.job and card.job.state != "failed"), None)
    if waiting and waiting.job:
        return Step(f"{waiting.photo.file_name} is being measured.", "job", waiting.job.id, "See how far it is")
    best = _best(cards)
    if best and best.measurement:
        return Step("This face is measured.", "measurement", best.measurement.id, "See what was found")
    first = cards[-1]
    words_ = "Say how large a pixel is and where the face ends, then measure."
    return Step(words_, "prepare", first.photo.id, f"Prepare {first.photo.file_name}")
