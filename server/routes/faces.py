"""The page of a face, and the upload of its photos."""

from typing import Any

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session
from starlette.datastructures import FormData

from server.access import get_or_404
from server.database import SessionDep
from server.forms.options import options
from server.forms.photos import UploadForm
from server.pages import go, show
from server.photos.face_page import face_page, taken_choices
from server.photos.keeping import Belongs, Outcome, accept_photos
from server.records import Face
from server.sent import Sent


def face(request: Request, session: SessionDep, face_id: int) -> Response:
    record = get_or_404(session, Face, face_id)
    return _page(request, session, record, _form(session, record))


def photo_upload(request: Request, session: SessionDep, face_id: int, sent: Sent) -> Response:
    record = get_or_404(session, Face, face_id)
    form = _form(session, record, sent)
    if not form.validate():
        return _page(request, session, record, form, 422)
    state = request.app.state
    outcome = accept_photos(session, state.store, state.settings, sent.getlist("photos"), _belongs(record, form))
    if outcome.is_empty:
        form.taken.errors = []
        return _page(request, session, record, form, 422, problem="No photo was chosen.")
    if outcome.refused or outcome.doubled:
        return _page(request, session, record, form, 422 if outcome.refused else 200, outcome=outcome)
    return go(request, "face", "#photos", face_id=face_id)


def _form(session: Session, face: Face, sent: FormData | None = None) -> UploadForm:
    form = UploadForm(sent)
    choices = taken_choices(session, face)
    form.taken.choices = options(choices)
    if not sent:
        form.taken.data = choices[-1][0]
    return form


def _belongs(face: Face, form: UploadForm) -> Belongs:
    treatment = form.taken.data.partition("after-")[2]
    return Belongs(
        face_id=face.id,
        treatment_id=int(treatment) if treatment else None,
        stage="after_treatment" if treatment else "as_found",
        is_rendered=form.is_rendered.data,
    )


def _page(
    request: Request,
    session: Session,
    face: Face,
    form: UploadForm,
    status: int = 200,
    outcome: Outcome | None = None,
    problem: str = "",
) -> Response:
    settings = request.app.state.settings
    more: dict[str, Any] = {
        "form": form,
        "outcome": outcome,
        "problem": problem,
        "limit_mb": settings.photo_max_bytes // 1_000_000,
    }
    return show(request, "faces/face.html", face_page(session, face) | more, status)
