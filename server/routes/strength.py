"""Loads and weld strength of a break, and what comes of holding one against the other."""

from typing import Any

from fastapi import Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session, col, select

from server.access import get_or_404
from server.database import SessionDep
from server.formpage import FormPage, MaybeSent, show_form
from server.forms.loads import LoadCorrectionForm, LoadForm, WeldCorrectionForm, WeldForm
from server.forms.record import offer
from server.history.part import form_warnings
from server.links import address
from server.pages import show
from server.records import LoadCase
from server.strength import entries
from server.strength.ground import grounds
from server.strength.keeping import as_form, as_weld_form, keep_load, keep_weld
from server.strength.known import filled, look_up, offered
from server.strength.page import strength_page
from server.strength.presets import preset_choices
from server.verdict.scope import Scope, read_scope, trail, with_site

HINTS = (
    "Think of the half that came off as standing on the photographed face, and say what pulled or pushed that half.",
    "A range is read so that the true value lies in it nine times in ten. A narrow range that isn't known is a guess "
    "in disguise.",
    "Several loads may be entered: each is held against the face by itself.",
)
CORRECTED = "This load has been corrected already; correct the newest entry."


def strength(request: Request, session: SessionDep, failure_id: int, site: str = "") -> Response:
    scope = read_scope(session, failure_id, site)
    return show(request, "strength/strength.html", strength_page(request, session, scope, request.app.state.store))


def load_new(request: Request, session: SessionDep, failure_id: int, sent: MaybeSent, site: str = "") -> Response:
    scope = read_scope(session, failure_id, site)
    form = LoadForm(sent)
    _offer(session, scope, form)
    if sent is None or not form.validate():
        return show_form(request, _page(request, scope, "Log a load", hints=HINTS, submit="Save the load"), form)
    keep_load(session, scope, form)
    return _back(request, scope, "#loads")


def load_correct(request: Request, session: SessionDep, load_id: int, sent: MaybeSent) -> Response:
    load = get_or_404(session, LoadCase, load_id)
    scope = read_scope(session, load.failure_id, str(load.site_id or ""))
    form = LoadCorrectionForm(sent, **({} if sent else as_form(load)))
    _offer(session, scope, form)
    replaced = session.exec(select(LoadCase.id).where(col(LoadCase.replaces_id) == load_id)).first()
    if sent is None or replaced or not form.validate():
        warnings = [CORRECTED] if replaced else []
        page = _page(request, scope, f"Correct the load “{load.name}”", warnings=warnings, hints=HINTS[:1])
        return show_form(request, page, form)
    keep_load(session, scope, form, load)
    return _back(request, scope, "#loads")


def weld(request: Request, session: SessionDep, failure_id: int, sent: MaybeSent, site: str = "") -> Response:
    scope = read_scope(session, failure_id, site)
    held = entries.current_weld(session, scope)
    kind = WeldCorrectionForm if held else WeldForm
    form = kind(sent) if sent else kind(None, **(as_weld_form(held) if held else offered(session, scope)))
    if sent is None or not form.validate() or not _looked_up(session, scope, form):
        title = "Correct what the weld bears" if held else "What the weld bears"
        return show_form(request, _page(request, scope, title), form)
    keep_weld(session, scope, form, held)
    return _back(request, scope, "#weld")


def _looked_up(session: Session, scope: Scope, form: WeldForm) -> bool:
    """Fill in the strength where it was left to the table; where that has none, say so beside the field."""
    if form.strength.data:
        return True
    known = look_up(session, scope, form)
    if known.span_mpa is None:
        form.strength.errors = [f"Nothing could be looked up: {known.why}. Give the range yourself."]
        return False
    for name, value in filled(known).items():
        said = form[name].data if name == "how_known" else ""
        form[name].data = f"{said}\n{value}".strip() if said else value
    return True


def _offer(session: Session, scope: Scope, form: LoadForm) -> None:
    found = grounds(session, scope)
    faces = [(one.face.id, one.face.name) for one in found.faces] + [(m.face.id, m.face.name) for m in found.missing]
    none = None if faces else "no face is logged yet"
    offer(form.face_id, none, faces)
    form.preset.choices = preset_choices()


def _page(request: Request, scope: Scope, title: str, **more: Any) -> FormPage:
    back = with_site(address(request, "strength", failure_id=scope.failure_id), scope)
    more["warnings"] = [*form_warnings(scope.part), *more.get("warnings", ())]
    at = f"At {scope.site.name}." if scope.site and len(scope.sites) > 1 else ""
    return FormPage(title, back, [*trail(request, scope), ("Load and strength", back)], at, **more)


def _back(request: Request, scope: Scope, anchor: str) -> Response:
    here = with_site(address(request, "strength", failure_id=scope.failure_id), scope)
    return RedirectResponse(here + anchor, status_code=303)
