"""From a person's wish to a job: who measures what with which scale, outline and parameters."""

from dataclasses import dataclass, field
from typing import Any

from sqlmodel import Session, col, select

from server.measuring import jobs
from server.photos.keeping import current_scale
from server.records import Build, Face, Failure, Fragment, Job, Measurement, OutlineRecord, Photo, ScaleRecord, Spool


@dataclass(frozen=True)
class Order:
    """One measuring to be done; `parameters` by the names of the examine request, None where left to the program."""

    photo: Photo
    scale: ScaleRecord
    outline: OutlineRecord | None
    parameters: dict[str, Any]
    mate: Photo | None = None
    mate_scale: ScaleRecord | None = None


@dataclass(frozen=True)
class Surroundings:
    """What a photo belongs to; None where a photo was measured without a record."""

    face: Face | None = None
    fragment: Fragment | None = None
    failure: Failure | None = None
    build: Build | None = None
    spool: Spool | None = None
    mates: list[tuple[Photo, ScaleRecord | None]] = field(default_factory=list)


def place_order(session: Session, order: Order) -> Job:
    """Put the measuring into the queue. The inputs are written out in full: a record may later be replaced."""
    given = {name: value for name, value in order.parameters.items() if value is not None}
    given |= {
        "photo_sha256": order.photo.sha256,
        "file_name": order.photo.file_name,
        "scale_id": order.scale.id,
        "um_per_px": order.scale.um_per_px,
        "scale_relative_sd": order.scale.relative_sd,
        "scale_method": order.scale.method,
        "outline_id": order.outline.id if order.outline else None,
    }
    if order.mate and order.mate_scale:
        given |= {
            "mate_photo_id": order.mate.id,
            "mate_photo_sha256": order.mate.sha256,
            "mate_scale_id": order.mate_scale.id,
            "mate_um_per_px": order.mate_scale.um_per_px,
        }
    return jobs.enqueue(session, order.photo.id or 0, given)


def surroundings(session: Session, photo: Photo) -> Surroundings:
    """Return what the photo belongs to."""
    face = session.get(Face, photo.face_id) if photo.face_id else None
    if face is None:
        return Surroundings()
    fragment = session.get(Fragment, face.fragment_id)
    failure = session.get(Failure, fragment.failure_id) if fragment else None
    build = session.get(Build, failure.build_id) if failure and failure.build_id else None
    spool = session.get(Spool, build.spool_id) if build and build.spool_id else None
    return Surroundings(face, fragment, failure, build, spool, mates_of(session, face))


def mate_face(session: Session, face: Face) -> Face | None:
    """Return the mating face, whichever of the two names the other."""
    if face.mate_face_id:
        return session.get(Face, face.mate_face_id)
    return session.exec(select(Face).where(Face.mate_face_id == face.id).order_by(col(Face.id))).first()


def mates_of(session: Session, face: Face) -> list[tuple[Photo, ScaleRecord | None]]:
    """Return the photos of the mating face, newest first, with the scale that counts for each."""
    mate = mate_face(session, face)
    if mate is None:
        return []
    photos = session.exec(select(Photo).where(Photo.face_id == mate.id).order_by(col(Photo.id).desc())).all()
    return [(photo, current_scale(session, photo.id)) for photo in photos]


def prefilled(session: Session, photo: Photo, around: Surroundings) -> dict[str, Any]:
    """Return the parameters to offer: those of the photo's last measurement, else those of the build."""
    last = measurements_of(session, photo)[:1]
    if last:
        return {name: last[0].given.get(name) for name in OFFERED}
    if around.build is None:
        return {}
    return {name: getattr(around.build, name) for name in ("line_width_mm", "layer_height_mm", "wall_count")}


OFFERED = ("line_width_mm", "layer_height_mm", "wall_count", "road_spacing_mm", "contact_band_mm")


def measurements_of(session: Session, photo: Photo) -> list[Measurement]:
    """Return the photo's measurements, newest first."""
    made = select(Measurement).where(Measurement.photo_id == photo.id)
    return list(session.exec(made.order_by(col(Measurement.id).desc())).all())


def open_job(session: Session, photo: Photo) -> Job | None:
    """Return the photo's measuring that has not ended yet, if there is one."""
    waiting = select(Job).where(Job.photo_id == photo.id, col(Job.state).not_in(jobs.ENDED))
    found = session.exec(waiting.order_by(col(Job.id).desc()))
    return next((job for job in found if not jobs.is_joining(job)), None)
