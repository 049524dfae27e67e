"""The page of a face, and the upload of its photos."""

from typing import Any

from fastapi import Request
from fastapi.responses import JSONResponse, Response
from sqlmodel import Session
from starlette.datastructures import FormData

from server.access import get_or_404
from server.database import SessionDep
from server.forms.options import options
from server.forms.photos import UploadForm
from server.pages import go, show
from server.photos.face_page import face_page, taken_choices, trail_of
from server.photos.keeping import Belongs, Outcome, accept_photos
from server.records import Face
from server.sent import Sent
from server.settings import MEGABYTE


def face(request: Request, session: SessionDep, face_id: int) -> Response:
    record = get_or_404(session, Face, face_id)
    return _page(request, session, record, _form(session, record))


def camera(request: Request, session: SessionDep, face_id: int) -> Response:
    record = get_or_404(session, Face, face_id)
    form, limit = _form(session, record), request.app.state.settings.photo_max_bytes
    more = {
        "title": f"Camera on {record.name}",
        "trail": trail_of(session, record),
        "face": record,
        "form": form,
        "limit_bytes": limit,
        "limit_mb": limit // MEGABYTE,
        "watch_commands": _watch_commands(request, session, record),
    }
    return show(request, "faces/camera.html", more)


def _watch_commands(request: Request, session: Session, face: Face) -> list[tuple[str, str]]:
    """Return for each time a picture can have been taken its words and the command that sends such pictures."""
    line = f"layerwitness watch FOLDER --face {face.id} --to {str(request.base_url).rstrip('/')}"
    steps = [(words, code.partition("after-")[2]) for code, words in taken_choices(session, face)]
    return [(words, f"{line} --after {step}" if step else line) for words, step in steps]


def photo_upload(request: Request, session: SessionDep, face_id: int, sent: Sent) -> Response:
    record = get_or_404(session, Face, face_id)
    form = _form(session, record, sent)
    if not form.validate():
        return _page(request, session, record, form, 422)
    state = request.app.state
    outcome = accept_photos(session, state.store, state.settings, sent.getlist("photos"), _belongs(record, form))
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse(_told(outcome), 200 if outcome.kept or outcome.doubled else 422)
    if outcome.is_empty:
        form.taken.errors = []
        return _page(request, session, record, form, 422, problem="No photo was chosen.")
    if outcome.refused or outcome.doubled:
        return _page(request, session, record, form, 422 if outcome.refused else 200, outcome=outcome)
    return go(request, "face", "#photos", face_id=face_id)


def _told(outcome: Outcome) -> dict[str, Any]:
    """Return what the camera's page needs to know; the published interface says the same in the same words."""
    return {
        "kept": [{"id": one.id, "file_name": one.file_name} for one in outcome.kept],
        "already_there": [{"id": one.id, "file_name": one.file_name} for one in outcome.doubled],
        "refused": [{"file_name": one.name, "detail": one.words} for one in outcome.refused],
        "detail": "No photo was sent." if outcome.is_empty else "",
    }


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
