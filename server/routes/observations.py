"""Pages of the observations: the list of questions for a failure or one of its break sites."""

from typing import Annotated

from fastapi import Depends, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session
from starlette.datastructures import FormData

from server.database import SessionDep
from server.forms.base import read_form
from server.forms.observations import LookForm
from server.links import address
from server.pages import show
from server.verdict import answers
from server.verdict.scope import Scope, read_scope, trail, with_site

Sent = Annotated[FormData, Depends(read_form)]


def observations(request: Request, session: SessionDep, failure_id: int, site: str = "", saved: str = "") -> Response:
    scope = read_scope(session, failure_id, site)
    return _page(request, session, scope, answers.ask(session, scope), _look(session, scope), saved=saved)


def observations_keep(request: Request, session: SessionDep, failure_id: int, sent: Sent, site: str = "") -> Response:
    scope = read_scope(session, failure_id, site)
    groups, look = answers.ask(session, scope, sent), _look(session, scope, sent)
    sound = [asked.form.validate() for group in groups for asked in group.asked]
    added = answers.changed(groups, look) if all(sound) else []
    if not all(sound) or (added and not look.validate()):
        return _page(request, session, scope, groups, look, 422)
    answers.keep(session, scope, [entry for _, entry in added])
    here = address(request, "observations", failure_id=failure_id)
    return RedirectResponse(with_site(here, scope, saved=str(len(added))), 303)


def _look(session: Session, scope: Scope, sent: FormData | None = None) -> LookForm:
    look = LookForm(sent)
    look.offer(answers.photo_choices(session, scope))
    return look


def _page(
    request: Request,
    session: Session,
    scope: Scope,
    groups: list[answers.Group],
    look: LookForm,
    status: int = 200,
    saved: str = "",
) -> Response:
    context = {
        "title": f"What was seen: {scope.part.name}",
        "trail": trail(request, scope),
        "scope": scope,
        "groups": groups,
        "look": look,
        "wrong": status == 422,
        "saved": int(saved) if saved.isdigit() else None,
        "here": address(request, "observations", failure_id=scope.failure_id),
        "verdict_address": with_site(address(request, "verdict", failure_id=scope.failure_id), scope),
        "clashes": answers.clashes_of(session, scope),
        "unassigned": answers.unassigned_faces(session, scope),
    }
    return show(request, "observations/list.html", context, status)
