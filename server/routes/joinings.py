"""One picture made of several photos of a face: choosing, looking at how it was made, withdrawing."""

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session

from server.access import get_or_404
from server.database import SessionDep
from server.errors import not_found
from server.forms.joinings import JoiningForm, WithdrawForm
from server.joining import ordering, pictures
from server.joining.page import choose_page, joined_page
from server.pages import go, show
from server.photos.face_page import cards_of
from server.photos.pictures import derived
from server.records import Face, Joining
from server.sent import Sent

KEEP = {"Cache-Control": "private, max-age=86400"}


def choose(request: Request, session: SessionDep, face_id: int, sent: Sent) -> Response:
    face = get_or_404(session, Face, face_id)
    form = JoiningForm(sent)
    form.photos.choices = [(card.photo.id, card.photo.file_name) for card in cards_of(session, face)]
    if request.method == "GET":
        return show(request, "joining/choose.html", choose_page(session, face, form))
    job = ordering.order(session, face, form) if form.validate() else None
    if job is None:
        return show(request, "joining/choose.html", choose_page(session, face, form), 422)
    return go(request, "job", job_id=job.id)


def joined(request: Request, session: SessionDep, joining_id: int) -> Response:
    return _page(request, session, get_or_404(session, Joining, joining_id), WithdrawForm())


def seams(request: Request, session: SessionDep, joining_id: int) -> Response:
    return _picture(request, _made(session, joining_id, "fields"), "seams")


def heights(request: Request, session: SessionDep, joining_id: int) -> Response:
    return _picture(request, _made(session, joining_id, "focus"), "heights")


def withdraw(request: Request, session: SessionDep, joining_id: int, sent: Sent) -> Response:
    record, form = get_or_404(session, Joining, joining_id), WithdrawForm(sent)
    if not form.validate():
        return _page(request, session, record, form, 422)
    ordering.withdraw(session, record, form.why.data)
    return go(request, "joined", joining_id=joining_id)


def put_back(request: Request, session: SessionDep, joining_id: int) -> Response:
    ordering.put_back(session, get_or_404(session, Joining, joining_id))
    return go(request, "joined", joining_id=joining_id)


def _made(session: Session, joining_id: int, kind: str) -> Joining:
    record = get_or_404(session, Joining, joining_id)
    if record.kind != kind or not record.map_sha256:
        raise not_found("picture")
    return record


def _picture(request: Request, record: Joining, name: str) -> Response:
    state = request.app.state
    make = pictures.seams_png if name == "seams" else pictures.heights_png
    data = derived(state.settings, f"{record.map_sha256}-{name}-{record.id}.png", lambda: make(state.store, record))
    return Response(data, media_type="image/png", headers=KEEP)


def _page(request: Request, session: Session, record: Joining, form: WithdrawForm, status: int = 200) -> Response:
    return show(request, "joining/joined.html", joined_page(session, request.app.state.store, record, form), status)
