"""Pages of the verdict: what the program concludes from what is known, and what the person concludes."""

from typing import Annotated

from fastapi import Depends, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session
from starlette.datastructures import FormData

from server.database import SessionDep
from server.forms.base import read_form
from server.forms.verdicts import PersonVerdictForm
from server.links import address
from server.pages import show
from server.verdict import verdicts
from server.verdict.scope import Scope, read_scope, with_site
from server.verdict.view import verdict_page

Sent = Annotated[FormData, Depends(read_form)]
Codes = Annotated[list[str] | None, Query()]


def verdict(
    request: Request, session: SessionDep, failure_id: int, site: str = "", mode: str = "", off: Codes = None
) -> Response:
    scope = read_scope(session, failure_id, site)
    context = verdict_page(request, session, scope, off or [], mode)
    held = context["people"][0] if context["people"] else None
    form = PersonVerdictForm(data={"mode": held.mode, "reason": held.reason, "said_by": held.said_by} if held else None)
    return show(request, "verdict/verdict.html", {**context, "form": form})


def verdict_keep(request: Request, session: SessionDep, failure_id: int, site: str = "") -> Response:
    scope = read_scope(session, failure_id, site)
    weighing = verdicts.weigh_scope(session, scope)
    # A second press of the button adds nothing: the same evidence gives the same verdict.
    if not verdicts.is_current(verdicts.kept_verdict(session, scope), weighing):
        verdicts.keep(session, weighing)
    return _back(request, scope, "#kept")


def verdict_person(request: Request, session: SessionDep, failure_id: int, sent: Sent, site: str = "") -> Response:
    scope = read_scope(session, failure_id, site)
    form = PersonVerdictForm(sent)
    form.programs = verdicts.weigh_scope(session, scope).result["primary"]
    if not form.validate():
        return _wrong(request, session, scope, form)
    verdicts.keep_person_verdict(session, scope, form.mode.data, form.reason.data or "", form.said_by.data)
    return _back(request, scope, "#person")


def _wrong(request: Request, session: Session, scope: Scope, form: PersonVerdictForm) -> Response:
    context = verdict_page(request, session, scope, [], "")
    return show(request, "verdict/verdict.html", {**context, "form": form}, 422)


def _back(request: Request, scope: Scope, anchor: str) -> Response:
    here = with_site(address(request, "verdict", failure_id=scope.failure_id), scope)
    return RedirectResponse(here + anchor, status_code=303)
