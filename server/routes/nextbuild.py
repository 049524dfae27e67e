"""Pages of the next build: its plans and the choice of one."""

from datetime import date, timedelta

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session
from starlette.datastructures import FormData

from analysis.nextbuild.plans import rank_plans
from server.database import SessionDep
from server.formpage import MaybeSent
from server.forms.nextbuild import ChooseForm, PlanTermsForm
from server.nextbuild.choosing import choose
from server.nextbuild.gathering import gather, regions_of
from server.nextbuild.page import FIRST_LOOK_DAYS, plan_page
from server.pages import go, show
from server.records import PlanTerms
from server.sent import Sent
from server.verdict.scope import Scope, read_scope

KEPT_TERMS = (
    "needed_on", "thickness_mm", "mass_g", "printing_h", "printer_per_h", "bench_h", "bench_per_h", "entered_by",
)  # fmt: skip


def plan(request: Request, session: SessionDep, failure_id: int, sent: MaybeSent) -> Response:
    scope = read_scope(session, failure_id)
    if sent is None:
        return _page(request, session, scope)
    form = PlanTermsForm(sent)
    if not form.validate():
        return _page(request, session, scope, form, status=422)
    session.add(_terms(session, scope, form, sent))
    session.commit()
    return go(request, "plan", "#plans", failure_id=failure_id)


def plan_choose(request: Request, session: SessionDep, failure_id: int, sent: Sent) -> Response:
    scope = read_scope(session, failure_id)
    form = ChooseForm(sent)
    known = gather(session, scope)
    ranking = rank_plans(known.situation)
    wanted = next((one for one in ranking.plans if one.key == str(sent.get("plan_key", ""))), None)
    sound = form.validate()
    if wanted is None:
        problem = "Choose one of the plans. If you had: more is known now, and that one is not listed any more."
        return _page(request, session, scope, choose_form=form, problem=problem, status=422)
    if not sound:
        return _page(request, session, scope, choose_form=form, picked=wanted.key, status=422)
    choose(
        session,
        scope,
        known,
        ranking,
        wanted,
        form.first_look_on.data,
        form.chosen_by.data,
        form.reason.data,
    )
    return go(request, "plan", "#chosen", failure_id=failure_id)


def _terms(session: Session, scope: Scope, form: PlanTermsForm, sent: FormData) -> PlanTerms:
    mine = {row.id for row in regions_of(session, scope.part.id)}
    ticked = {int(key) for key in sent.getlist("at_break") if isinstance(key, str) and key.isascii() and key.isdigit()}
    return PlanTerms(
        failure_id=scope.failure_id,
        regions_at_break=sorted(key for key in ticked if key in mine),
        wanted=form.wanted_percent.data / 100,
        bends={"yes": True, "no": False}.get(form.bends.data),
        **{name: form[name].data for name in KEPT_TERMS},
    )


def _filled(terms: PlanTerms) -> PlanTermsForm:
    bends = {True: "yes", False: "no", None: ""}[terms.bends]
    kept = {name: getattr(terms, name) for name in KEPT_TERMS}
    return PlanTermsForm(data=kept | {"wanted_percent": 100 * terms.wanted, "bends": bends})


def _page(
    request: Request,
    session: Session,
    scope: Scope,
    form: PlanTermsForm | None = None,
    choose_form: ChooseForm | None = None,
    problem: str = "",
    picked: str = "",
    status: int = 200,
) -> Response:
    known = gather(session, scope)
    ranking = rank_plans(known.situation)
    first_look = date.today() + timedelta(FIRST_LOOK_DAYS)
    context = plan_page(
        request,
        session,
        scope,
        known,
        ranking,
        form=form or _filled(known.terms),
        choose_form=choose_form or ChooseForm(data={"first_look_on": first_look}),
        problem=problem,
        picked=picked,
    )
    return show(request, "nextbuild/plan.html", context, status)
