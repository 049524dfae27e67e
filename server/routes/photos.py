"""A photo's pictures, and its preparing: scale, outline, parameters, and the order to measure."""

import json
from typing import Any
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import JSONResponse, Response
from sqlmodel import Session
from starlette.datastructures import FormData

from analysis.outlines.outline import OutlineRefused
from server.access import get_or_404
from server.database import SessionDep
from server.forms.options import options
from server.forms.photos import PrepareForm
from server.measuring.ordering import order_from
from server.measuring.surroundings import prefilled, surroundings
from server.pages import go, show
from server.photos import pictures, preparing
from server.photos.finding import find
from server.photos.keeping import current_outline, current_scale
from server.photos.prepare_page import prepare_page
from server.records import Photo
from server.sent import Sent

# A derived picture of an unaltered original never changes.
KEEP = {"Cache-Control": "private, max-age=86400"}


def photo_thumb(request: Request, session: SessionDep, photo_id: int) -> Response:
    state = request.app.state
    data = pictures.thumb(state.settings, state.store, get_or_404(session, Photo, photo_id))
    return Response(data, media_type="image/jpeg", headers=KEEP)


def photo_view(request: Request, session: SessionDep, photo_id: int, side: int = 1600) -> Response:
    state = request.app.state
    data = pictures.view(state.settings, state.store, get_or_404(session, Photo, photo_id), side)
    return Response(data, media_type="image/jpeg", headers=KEEP)


def photo_original(request: Request, session: SessionDep, photo_id: int) -> Response:
    photo = get_or_404(session, Photo, photo_id)
    data = request.app.state.store.read(photo.sha256)
    # The original carries whatever the camera wrote into it, so it is a download for the bench and nothing else.
    disposition = f"attachment; filename*=UTF-8''{quote(photo.file_name)}"
    return Response(data, media_type=photo.media_type, headers={"Content-Disposition": disposition})


def prepare(request: Request, session: SessionDep, photo_id: int) -> Response:
    photo = get_or_404(session, Photo, photo_id)
    form = _form(session, photo)
    preparing.fill_from_record(form, current_scale(session, photo.id), current_outline(session, photo.id))
    for name, value in prefilled(session, photo, surroundings(session, photo)).items():
        form[name].data = value
    return _page(request, session, photo, form)


def scale_save(request: Request, session: SessionDep, photo_id: int, sent: Sent) -> Response:
    photo, form, good = _sent_form(session, photo_id, sent)
    scale = preparing.scale_of(form, photo)
    if scale is None or not good:
        return _page(request, session, photo, form, 422)
    preparing.keep_scale(session, photo, scale, form.scale_method.data, preparing.given_of(form))
    if preparing.is_unsaved(form, current_outline(session, photo.id)):
        # What was drawn but isn't saved yet has to stay in sight, so here no redirect follows.
        return _page(request, session, photo, form, said="The scale is saved. The outline is not saved yet.")
    return go(request, "prepare", "#scale", photo_id=photo_id)


def outline_save(request: Request, session: SessionDep, photo_id: int, sent: Sent) -> Response:
    photo, form, _ = _sent_form(session, photo_id, sent)
    shapes = preparing.shapes_of(form, photo)
    if shapes is None:
        return _page(request, session, photo, form, 422)
    preparing.keep_outline(session, photo, shapes)
    if preparing.is_scale_unsaved(form, current_scale(session, photo.id)):
        return _page(request, session, photo, form, said="The outline is saved. The scale is not saved yet.")
    return go(request, "prepare", "#outline", photo_id=photo_id)


def outline_find(request: Request, session: SessionDep, photo_id: int, sent: Sent) -> Response:
    photo, form, _ = _sent_form(session, photo_id, sent)
    as_json = "application/json" in request.headers.get("accept", "")
    scale = preparing.scale_of(form, photo)
    if scale is None:
        words = "The program looks for edges in mm: set the scale first."
        return JSONResponse({"detail": words}, 422) if as_json else _page(request, session, photo, form, 422)
    try:
        found = find(request.app.state.settings, request.app.state.store, photo, scale)
    except OutlineRefused as error:
        if as_json:
            return JSONResponse({"detail": str(error)}, 422)
        form.outer_px.errors = [str(error)]
        return _page(request, session, photo, form, 422)
    if as_json:
        return JSONResponse(found)
    form.outer_px.data = preparing.write_rings([found["outer_px"]])
    form.holes_px.data = preparing.write_rings(found["holes_px"])
    return _page(request, session, photo, form, said=f"{found['words']} It is not saved yet.")


def measure(request: Request, session: SessionDep, photo_id: int, sent: Sent) -> Response:
    photo, form, good = _sent_form(session, photo_id, sent)
    job = order_from(session, form, photo, good)
    if job is None:
        return _page(request, session, photo, form, 422)
    return go(request, "job", job_id=job.id)


def _form(session: Session, photo: Photo, sent: FormData | None = None) -> PrepareForm:
    form = PrepareForm(sent)
    mates = surroundings(session, photo).mates
    choices = [(str(mate.id), f"{mate.file_name}{'' if scale else ' (no scale yet)'}") for mate, scale in mates]
    form.mate_photo_id.choices = options([("", "none"), *choices])
    if not sent:
        ready = [str(mate.id) for mate, scale in mates if scale]
        form.mate_photo_id.data = ready[0] if ready else ""
    return form


def _sent_form(session: Session, photo_id: int, sent: FormData) -> tuple[Photo, PrepareForm, bool]:
    photo = get_or_404(session, Photo, photo_id)
    form = _form(session, photo, sent)
    return photo, form, form.validate()


def _page(
    request: Request, session: Session, photo: Photo, form: PrepareForm, status: int = 200, said: str = ""
) -> Response:
    context: dict[str, Any] = prepare_page(session, photo, form)
    context |= {"said": said, "box": json.dumps([photo.width_px, photo.height_px])}
    return show(request, "photos/prepare.html", context, status)
