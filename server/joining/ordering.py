"""From the chosen photos to a job: what can't go together is said before anything is queued."""

import math
from collections.abc import Sequence

from sqlmodel import Session, col, select

from analysis.fields.focus import FEWEST_SLICES, MOST_SLICES
from analysis.fields.stitch import MOST_CAPTURES
from server.forms.joinings import JoiningForm
from server.measuring import jobs
from server.photos.keeping import current_scale
from server.records import Face, Job, Joining, Photo, ScaleRecord
from server.records.base import now

# Captures lie in memory side by side; slices are read one at a time, but drawn into one picture of real numbers.
MOST_PIXELS_TOGETHER, MOST_PIXELS_EACH = 200_000_000, 30_000_000
_SAME_SCALE = 0.002  # scales this near are one, however sure they are said to be


def order(session: Session, face: Face, form: JoiningForm) -> Job | None:
    """Queue the making of one picture; on any mistake put words beside the field and return None."""
    photos = chosen(session, face, form.photos.data or [])
    form.photos.errors = [*form.photos.errors, *_mistakes(photos, form.kind.data)]
    scale = None if form.photos.errors else _scale(session, photos, form)
    if any(field.errors for field in form):
        return None
    joining = Joining(
        face_id=face.id or 0,
        kind=form.kind.data,
        photo_ids=[photo.id or 0 for photo in photos],
        um_per_px=scale[0] if scale else None,
        scale_relative_sd=scale[1] if scale else None,
        scale_from=scale[2] if scale else "",
        step_um=form.step_um.data if form.kind.data == "focus" else None,
        first_is_highest=form.order.data != "deepest",
    )
    session.add(joining)
    session.flush()
    job = jobs.enqueue(session, photos[0].id or 0, {jobs.JOINING: joining.id})
    joining.job_id = job.id
    session.add(joining)
    session.commit()
    return job


def chosen(session: Session, face: Face, keys: Sequence[int]) -> list[Photo]:
    """Return the face's own photos among `keys`, in the order in which they came in."""
    found = select(Photo).where(Photo.face_id == face.id, col(Photo.id).in_(keys)).order_by(col(Photo.id))
    return list(session.exec(found).all())


def _mistakes(photos: Sequence[Photo], kind: str) -> list[str]:
    low, high = (2, MOST_CAPTURES) if kind == "fields" else (FEWEST_SLICES, MOST_SLICES)
    if not low <= len(photos) <= high:
        return [f"Choose {low} to {high} photos."]
    if len({(photo.stage, photo.treatment_id) for photo in photos}) > 1:
        return ["These photos were taken before and after a cleaning step. Choose photos of one state of the face."]
    sizes = [photo.width_px * photo.height_px for photo in photos]
    if kind == "fields" and sum(sizes) > MOST_PIXELS_TOGETHER:
        return [_too_large(sum(sizes), MOST_PIXELS_TOGETHER, "together")]
    if kind == "focus" and max(sizes) > MOST_PIXELS_EACH:
        return [_too_large(max(sizes), MOST_PIXELS_EACH, "each")]
    if kind == "focus" and len({(photo.width_px, photo.height_px) for photo in photos}) > 1:
        return ["The photos of a focus series have one size. Choose those taken with one setting."]
    return []


def _too_large(pixels: int, most: int, how: str) -> str:
    return f"{pixels / 1e6:.0f} million pixels {how} are more than {most / 1e6:.0f} million. Save the photos smaller."


def _scale(session: Session, photos: Sequence[Photo], form: JoiningForm) -> tuple[float, float, str] | None:
    """Micrometres a pixel, relative standard deviation, and where from; None where nobody knows yet."""
    if form.um_per_px.data is not None:
        return float(form.um_per_px.data), 0.01, "given"
    known = [scale for photo in photos if (scale := current_scale(session, photo.id))]
    if not known:
        return None
    low, high = (pick(known, key=lambda scale: scale.um_per_px) for pick in (min, max))
    if high.um_per_px / low.um_per_px - 1 > max(_SAME_SCALE, 2 * math.hypot(low.relative_sd, high.relative_sd)):
        form.um_per_px.errors = [
            f"The photos' scales don't agree: {low.um_per_px:.4g} to {high.um_per_px:.4g} µm per px. "
            "One picture needs photos of one enlargement: choose others, or say here what holds for all."
        ]
        return None
    surest: ScaleRecord = min(known, key=lambda scale: scale.relative_sd)
    return surest.um_per_px, surest.relative_sd, "photos"


def withdraw(session: Session, joining: Joining, why: str) -> None:
    """Take the picture off its face: it is kept, but counts for nothing any more."""
    photo = session.get(Photo, joining.photo_id) if joining.photo_id else None
    if photo is None or joining.withdrawn_at:
        return
    photo.face_id = None
    joining.withdrawn_at, joining.withdrawn_why = now(), why
    session.add_all([photo, joining])
    session.commit()


def put_back(session: Session, joining: Joining) -> None:
    """Give the picture back to its face."""
    photo = session.get(Photo, joining.photo_id) if joining.photo_id else None
    if photo is None or joining.withdrawn_at is None:
        return
    photo.face_id = joining.face_id
    joining.withdrawn_at = None
    session.add_all([photo, joining])
    session.commit()
