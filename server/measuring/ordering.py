"""The prepare form, whole, into an order to measure: everything is judged first, then kept, then queued."""

from typing import Any

from sqlmodel import Session

from analysis.imaging.scale import Scale
from server.forms.photos import PrepareForm
from server.measuring.surroundings import OFFERED, Order, open_job, place_order, surroundings
from server.photos import preparing
from server.photos.keeping import current_scale
from server.records import Job, Photo, ScaleRecord

NEEDED = {"line_width_mm": "Give the line width as sliced.", "layer_height_mm": "Give the layer height as sliced."}


def order_from(session: Session, form: PrepareForm, photo: Photo, is_valid: bool) -> Job | None:
    """Keep scale and outline and queue the measuring; on any mistake keep nothing, put words beside it, return None.

    A photo that is being measured already isn't queued twice: its open job comes back.
    """
    for name, words in NEEDED.items():
        if form[name].data is None and not form[name].errors:
            form[name].errors = [words]
    scale = preparing.scale_of(form, photo)
    has_outline = bool((form.outer_px.data or "").strip())
    shapes = preparing.shapes_of(form, photo) if has_outline or form.unknown_px.data else None
    mate = _mate(session, form, photo)
    if not is_valid or scale is None or any(field.errors for field in form):
        return None
    return open_job(session, photo) or _queue(session, form, photo, scale, shapes, mate)


def _queue(
    session: Session,
    form: PrepareForm,
    photo: Photo,
    scale: Scale,
    shapes: dict[str, Any] | None,
    mate: tuple[Photo, ScaleRecord] | None,
) -> Job:
    around = surroundings(session, photo)
    parameters = {name: form[name].data for name in OFFERED}
    parameters["surface"] = around.face.surface if around.face else "fracture"
    parameters["colour"] = around.spool.colour or None if around.spool else None
    record = preparing.keep_scale(session, photo, scale, form.scale_method.data, preparing.given_of(form))
    outline = preparing.keep_outline(session, photo, shapes) if shapes else None
    return place_order(session, Order(photo, record, outline, parameters, *(mate or (None, None))))


def _mate(session: Session, form: PrepareForm, photo: Photo) -> tuple[Photo, ScaleRecord] | None:
    if not form.mate_photo_id.data or form.mate_photo_id.errors:
        return None
    mate = session.get(Photo, int(form.mate_photo_id.data))
    scale = current_scale(session, mate.id) if mate else None
    if mate is None or scale is None:
        form.mate_photo_id.errors = ["This photo has no scale yet. Prepare it first, or choose none."]
        return None
    return mate, scale
