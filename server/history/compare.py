"""The same feature of a part in each revision that broke there, side by side: photo, verdict and main figures."""

from dataclasses import dataclass

from fastapi import Request
from sqlmodel import Session, col, select

from server.case.current import conclusions, failure_entries, grouped, whole
from server.links import address
from server.measuring.measured import Figure, shares
from server.naming import failure_name, revision_name, upper_first
from server.pages import day
from server.records import BreakSite, Face, Failure, Fragment, Measurement, Part, Photo, Revision
from server.wording import words


@dataclass(frozen=True)
class Shown:
    """One face: of which revision and failure, its photo, its verdict and figures, or why there are none."""

    revision: str
    failure: str
    failure_address: str
    face: str
    face_address: str
    photo: str
    rendered: bool
    verdict: str
    figures: list[Figure]
    why_none: str


@dataclass(frozen=True)
class Comparison:
    """The features that the part has names for, the one that was chosen, and its faces by revision."""

    features: list[str]
    chosen: str
    shown: list[Shown]


def comparison(request: Request, session: Session, part: Part, feature: str) -> Comparison:
    """Return the faces of `part` called `feature`, or of sites called so; capital letters don't matter."""
    query = (
        select(Face, Failure, Revision, BreakSite.name)
        .join(Fragment, col(Face.fragment_id) == col(Fragment.id))
        .join(Failure, col(Fragment.failure_id) == col(Failure.id))
        .join(Revision, col(Failure.revision_id) == col(Revision.id))
        .join(BreakSite, col(Face.site_id) == col(BreakSite.id), isouter=True)
        .where(col(Revision.part_id) == part.id)
        .order_by(col(Revision.number), col(Failure.id), col(Face.id))
    )
    rows = session.exec(query).all()
    names = {name.casefold(): name for face, _, _, site in rows for name in (face.name, site) if name}
    chosen = names.get(feature.casefold()) or next((site for *_, site in rows if site), None)
    chosen = chosen or next((face.name for face, *_ in rows), "")
    mine = [row for row in rows if chosen.casefold() in {row[0].name.casefold(), (row[3] or "").casefold()}]
    keys = [failure.id for _, failure, _, _ in mine]
    said, found = conclusions(session, keys), failure_entries(session, keys)
    photos = grouped(session, Photo, Photo.face_id, [face.id for face, *_ in mine])
    measured = grouped(session, Measurement, Measurement.photo_id, [p.id for group in photos.values() for p in group])
    shown = []
    for face, failure, revision, _ in mine:
        own = photos.get(face.id or 0, [])
        runs = [run for photo in own for run in measured.get(photo.id or 0, [])]
        newest = max(runs, key=lambda run: run.id or 0, default=None)
        photo = next((one for one in own if newest and one.id == newest.photo_id), own[0] if own else None)
        by_site = said.get(failure.id or 0, {})
        verdict = (by_site.get(face.site_id) or whole(by_site)).code
        shown.append(
            Shown(
                upper_first(revision_name(revision)),
                f"{failure_name(failure)}, {day(found[failure.id or 0][-1].found_on)}",
                address(request, "failure", failure_id=failure.id),
                face.name,
                address(request, "face", face_id=face.id),
                address(request, "photo_thumb", photo_id=photo.id) if photo else "",
                bool(photo and photo.is_rendered),
                words(verdict, "mode") if verdict else "no verdict yet",
                shares(newest.result) if newest and face.surface == "fracture" else [],
                "not measured yet" if not newest else "an outer surface: it has no bonded share",
            )
        )
    return Comparison(sorted(set(names.values())), chosen, shown)
