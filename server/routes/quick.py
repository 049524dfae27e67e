"""Quick entry on a phone: photos, which part, what happened, where; the case page takes it from there."""

from typing import Any

from fastapi import Request
from fastapi.responses import JSONResponse, Response
from sqlmodel import Session

from server.case.quick import label, log_quickly, match, offered
from server.database import SessionDep
from server.formpage import MaybeSent
from server.forms.quick import QuickForm
from server.links import address
from server.naming import failure_name
from server.pages import go, show
from server.photos.keeping import Belongs, Outcome, accept_photos
from server.records import Part


def quick(request: Request, session: SessionDep, sent: MaybeSent) -> Response:
    form = QuickForm(sent)
    if sent is None:
        form.today()
        _prefill(request, session, form)
        return _page(request, session, form)
    matched = match(session, form.part.data) if form.validate() else None
    if matched and matched.namesakes:
        form.part.errors = [matched.words]
    if form.errors or matched is None:
        return _page(request, session, form, 422)
    failure = log_quickly(session, form, matched.part)
    state = request.app.state
    belongs = Belongs(failure_id=failure.id)
    outcome = accept_photos(session, state.store, state.settings, sent.getlist("photos"), belongs)
    if _wants_json(request):
        return JSONResponse({"go": address(request, "failure", failure_id=failure.id), "refused": _refused(outcome)})
    if outcome.refused:
        context = {"title": f"{failure_name(failure)} is logged", "failure": failure, "outcome": outcome}
        return show(request, "quick/kept.html", context)
    return go(request, "failure", failure_id=failure.id)


def quick_part(session: SessionDep, name: str = "") -> Response:
    """Tell what a typed name means, before anything is sent."""
    typed = name.replace("\x00", "").strip()
    return JSONResponse({"words": match(session, typed).words if typed else ""})


def _prefill(request: Request, session: Session, form: QuickForm) -> None:
    """Name the part that the address names: a part's page links from there."""
    key = request.query_params.get("part", "")
    part = session.get(Part, int(key)) if key.isascii() and key.isdigit() and len(key) < 16 else None
    if part:
        form.part.data = part.name if match(session, part.name).part else label(part)


def _wants_json(request: Request) -> bool:
    return "application/json" in request.headers.get("accept", "")


def _refused(outcome: Outcome) -> list[dict[str, str]]:
    return [{"file_name": one.name, "detail": one.words} for one in outcome.refused]


def _page(request: Request, session: Session, form: QuickForm, status: int = 200) -> Response:
    if status == 422 and _wants_json(request):
        return JSONResponse({"errors": {name: " ".join(words) for name, words in form.errors.items()}}, status)
    context: dict[str, Any] = {
        "title": "Log it now",
        "form": form,
        "names": offered(session),
        "limit_mb": request.app.state.settings.photo_max_bytes // 1_000_000,
    }
    return show(request, "quick/quick.html", context, status)
