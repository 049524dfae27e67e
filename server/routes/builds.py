"""Pages of a build, its stays in service and the inspections."""

from datetime import date, timedelta

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session, col, select
from starlette.datastructures import FormData

from server.access import get_or_404
from server.case.current import failure_entries
from server.database import SessionDep
from server.formpage import FormPage, MaybeSent, show_form
from server.forms.builds import BuildForm, InspectionForm, ServiceForm
from server.forms.record import offer
from server.history.part import form_warnings
from server.links import address
from server.naming import build_name, printer_name, revision_name, service_name, spool_name
from server.nextbuild.outcome import promised_looks
from server.pages import go
from server.records import Build, Failure, Inspection, Part, Printer, Revision, Service, Spool

FIRST_LOOK_DAYS = 30  # judgement: proposed in the form, the person sets the day


def build_new(request: Request, session: SessionDep, revision_id: int, sent: MaybeSent) -> Response:
    revision = get_or_404(session, Revision, revision_id)
    part = get_or_404(session, Part, revision.part_id)
    last = _last_build(session, part)
    form = _build_form(session, sent, revision, None if sent else last)
    if sent is None:
        form.built_on.data = date.today()
        form.note.data = ""
    if sent is None or not form.validate():
        intro = "Filled in from the part's last build; change what differs." if last else ""
        title = f"New build of {part.name}, {revision_name(revision)}"
        return show_form(request, _page(request, part, title, "Save the build", intro), form)
    session.add(Build(revision_id=revision_id, **form.data))
    session.commit()
    return go(request, "part", part_id=part.id)


def build_edit(request: Request, session: SessionDep, build_id: int, sent: MaybeSent) -> Response:
    build = get_or_404(session, Build, build_id)
    revision = get_or_404(session, Revision, build.revision_id)
    part = get_or_404(session, Part, revision.part_id)
    form = _build_form(session, sent, revision, build)
    stays = session.exec(select(Service).where(Service.build_id == build_id)).all()
    form.first_fitted_on = min((stay.fitted_on for stay in stays), default=None)
    if sent is None or not form.validate():
        return show_form(request, _page(request, part, f"Edit {build_name(build)}"), form)
    form.populate_obj(build)
    session.add(build)
    session.commit()
    return go(request, "part", part_id=part.id)


def _build_form(session: Session, sent: FormData | None, revision: Revision, build: Build | None) -> BuildForm:
    form = BuildForm(sent, obj=build)
    printers = session.exec(select(Printer).order_by(Printer.name)).all()
    spools = session.exec(select(Spool).order_by(Spool.material, col(Spool.id).desc())).all()
    offer(form.printer_id, "not known", ((printer.id, printer_name(printer)) for printer in printers))
    offer(form.spool_id, "not known", ((spool.id, spool_name(spool)) for spool in spools))
    form.drawn_on = revision.drawn_on
    return form


def _last_build(session: Session, part: Part) -> Build | None:
    mine = select(Build).join(Revision, col(Build.revision_id) == col(Revision.id)).where(Revision.part_id == part.id)
    return session.exec(mine.order_by(col(Build.id).desc()).limit(1)).first()


def service_new(request: Request, session: SessionDep, build_id: int, sent: MaybeSent) -> Response:
    build, part = _build_and_part(session, build_id)
    form = ServiceForm(sent)
    form.built_on = build.built_on
    if sent is None or not form.validate():
        if sent is None:
            form.fitted_on.data = date.today()
        return show_form(request, _page(request, part, f"Fit {build_name(build)}", "Save the fitting"), form)
    promised = promised_looks(session, build_id)
    stay = Service(build_id=build_id, **form.data)
    session.add(stay)
    session.flush()
    for look_on in promised:
        session.add(Inspection(service_id=stay.id or 0, due_on=max(look_on, stay.fitted_on)))
    session.commit()
    return go(request, "part", part_id=part.id)


def service_edit(request: Request, session: SessionDep, service_id: int, sent: MaybeSent) -> Response:
    service = get_or_404(session, Service, service_id)
    build, part = _build_and_part(session, service.build_id)
    form = ServiceForm(sent, obj=service)
    form.built_on, form.first_event_on = build.built_on, _first_event(session, service)
    if sent is None or not form.validate():
        return show_form(request, _page(request, part, f"Edit the fitting of {build_name(build)}"), form)
    form.populate_obj(service)
    session.add(service)
    session.commit()
    return go(request, "part", part_id=part.id)


def _first_event(session: Session, service: Service) -> date | None:
    """Return the earliest day of an inspection or failure of this stay."""
    looks = session.exec(select(Inspection).where(Inspection.service_id == service.id)).all()
    failures = session.exec(select(Failure).where(Failure.service_id == service.id)).all()
    found = [said[-1].found_on for said in failure_entries(session, [one.id for one in failures]).values()]
    days = [look.due_on for look in looks] + [look.done_on for look in looks if look.done_on] + found
    return min(days, default=None)


def inspection_new(request: Request, session: SessionDep, service_id: int, sent: MaybeSent) -> Response:
    service = get_or_404(session, Service, service_id)
    build, part = _build_and_part(session, service.build_id)
    form = InspectionForm(sent)
    form.fitted_on = service.fitted_on
    if sent is None or not form.validate():
        if sent is None:
            form.due_on.data = max(service.fitted_on, date.today()) + timedelta(days=FIRST_LOOK_DAYS)
        intro = f"{build_name(build)}, {service_name(service)}. Leave “done” empty to plan it."
        return show_form(
            request, _page(request, part, f"Inspection of {part.name}", "Save the inspection", intro), form
        )
    session.add(Inspection(service_id=service_id, **form.data))
    session.commit()
    return go(request, "part", part_id=part.id)


def inspection_edit(request: Request, session: SessionDep, inspection_id: int, sent: MaybeSent) -> Response:
    inspection = get_or_404(session, Inspection, inspection_id)
    service = get_or_404(session, Service, inspection.service_id)
    build, part = _build_and_part(session, service.build_id)
    form = InspectionForm(sent, obj=inspection)
    form.fitted_on = service.fitted_on
    if sent is None or not form.validate():
        intro = f"{build_name(build)}, {service_name(service)}"
        return show_form(request, _page(request, part, f"Inspection of {part.name}", intro=intro), form)
    form.populate_obj(inspection)
    session.add(inspection)
    session.commit()
    return go(request, "part", part_id=part.id)


def _build_and_part(session: Session, build_id: int) -> tuple[Build, Part]:
    build = get_or_404(session, Build, build_id)
    revision = get_or_404(session, Revision, build.revision_id)
    return build, get_or_404(session, Part, revision.part_id)


def _page(request: Request, part: Part, title: str, submit: str = "Save", intro: str = "") -> FormPage:
    back = address(request, "part", part_id=part.id)
    return FormPage(
        title,
        back,
        (("Parts", address(request, "parts")), (part.name, back)),
        intro,
        warnings=form_warnings(part),
        submit=submit,
    )
