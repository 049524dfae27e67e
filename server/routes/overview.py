"""Photos of a failure as a whole: how the pieces lay when they were found."""

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session, col, select

from server.access import get_or_404
from server.database import SessionDep
from server.forms.photos import UploadForm
from server.links import address
from server.naming import failure_name
from server.pages import go, show
from server.photos.keeping import Belongs, Outcome, accept_photos
from server.records import Failure, Part, Photo, Revision
from server.sent import Sent


def overview(request: Request, session: SessionDep, failure_id: int) -> Response:
    return _page(request, session, get_or_404(session, Failure, failure_id), UploadForm())


def overview_upload(request: Request, session: SessionDep, failure_id: int, sent: Sent) -> Response:
    failure = get_or_404(session, Failure, failure_id)
    form = UploadForm(sent)
    if not form.validate():
        return _page(request, session, failure, form, 422)
    state = request.app.state
    belongs = Belongs(failure_id=failure.id, is_rendered=form.is_rendered.data)
    outcome = accept_photos(session, state.store, state.settings, sent.getlist("photos"), belongs)
    if outcome.is_empty:
        return _page(request, session, failure, form, 422, problem="No photo was chosen.")
    if outcome.refused or outcome.doubled:
        return _page(request, session, failure, form, 422 if outcome.refused else 200, outcome=outcome)
    return go(request, "overview", "#photos", failure_id=failure_id)


def _page(
    request: Request,
    session: Session,
    failure: Failure,
    form: UploadForm,
    status: int = 200,
    outcome: Outcome | None = None,
    problem: str = "",
) -> Response:
    part = get_or_404(session, Part, get_or_404(session, Revision, failure.revision_id).part_id)
    name = failure_name(failure)
    trail = [
        ("Parts", address(request, "parts")),
        (part.name, address(request, "part", part_id=part.id)),
        (name, address(request, "failure", failure_id=failure.id)),
    ]
    context = {
        "title": f"{name} as found",
        "trail": trail,
        "failure": failure,
        "photos": session.exec(select(Photo).where(Photo.failure_id == failure.id).order_by(col(Photo.id))).all(),
        "form": form,
        "outcome": outcome,
        "problem": problem,
        "limit_mb": request.app.state.settings.photo_max_bytes // 1_000_000,
    }
    return show(request, "failures/overview.html", context, status)
