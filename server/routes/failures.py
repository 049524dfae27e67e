"""The case: the account of a failure, its correction, the change that follows from it."""

from typing import Any, TypeVar

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session, col, select
from starlette.datastructures import FormData

from server.access import get_or_404
from server.case.breakable import Breakable, breakables, code_of, set_broken
from server.case.current import failure_entries
from server.case.page import case_page
from server.database import SessionDep
from server.formpage import FormPage, MaybeSent, show_form
from server.forms.failures import ChangeCorrectionForm, ChangeForm, FailureCorrectionForm, FailureForm
from server.history import search
from server.history.part import form_warnings
from server.history.wanted import Wanted
from server.links import address
from server.naming import failure_name
from server.pages import go, show
from server.records import Change, Failure, FailureEntry, Part, Revision

AnyFailureForm = TypeVar("AnyFailureForm", bound=FailureForm)
COMPLETED = "Completed after the first entry."
KEPT_WITH_FAILURE = {"broken_one", "case_label"}
AS_FOUND_FIRST = (
    "Before anything is touched: photograph it where it lies.",
    "Don't press the pieces together: that rubs off what the faces show.",
)


def failure_start(request: Request, session: SessionDep) -> Response:
    wanted = Wanted.from_query(request.query_params)
    context = {"title": "Log a failure: which part?", "found": search.find(request, session, wanted)}
    return show(request, "failures/start.html", context)


def failure(request: Request, session: SessionDep, failure_id: int) -> Response:
    page = case_page(request, session, get_or_404(session, Failure, failure_id))
    return show(request, "failures/case.html", {"title": page.title, "trail": page.trail, "page": page})


def failure_new(request: Request, session: SessionDep, part_id: int, sent: MaybeSent) -> Response:
    part = get_or_404(session, Part, part_id)
    options = breakables(session, part)
    form = _form(FailureForm, options, sent)
    if sent is None or not form.validate():
        page = _page(
            request, part, "Log a failure", f"What broke: {part.name}", hints=AS_FOUND_FIRST, submit="Save the failure"
        )
        return show_form(request, page, form)
    record = Failure(case_label=form.case_label.data)
    _set_broken(session, part, record, form, options)
    session.add(record)
    session.flush()
    session.add(FailureEntry(failure_id=record.id or 0, **_said(form)))
    session.commit()
    return go(request, "failure", failure_id=record.id)


def failure_correct(request: Request, session: SessionDep, failure_id: int, sent: MaybeSent) -> Response:
    record = get_or_404(session, Failure, failure_id)
    part = _part(session, record)
    entry = failure_entries(session, [failure_id])[failure_id][-1]
    options = breakables(session, part)
    form = _form(FailureCorrectionForm, options, sent, entry)
    if sent is None:
        form.broken_one.data, form.case_label.data = code_of(record), record.case_label
        form.correction_reason.data = form.entered_by.data = ""
        if not entry.as_found and not entry.replaces_id:
            form.correction_reason.data = COMPLETED
    if sent is None or not form.validate():
        title = f"Correct the account of {failure_name(record)}"
        return show_form(
            request, _page(request, part, title, failure=record, submit="Save the corrected account"), form
        )
    said = _said(form)
    said["correction_reason"] += _renamed(record, form, options)
    _set_broken(session, part, record, form, options)
    record.case_label = form.case_label.data
    session.add(record)
    session.add(FailureEntry(failure_id=failure_id, replaces_id=entry.id, **said))
    session.commit()
    return go(request, "failure", failure_id=failure_id)


def _form(
    kind: type[AnyFailureForm], options: list[Breakable], sent: FormData | None, entry: FailureEntry | None = None
) -> AnyFailureForm:
    form = kind(sent, obj=entry)
    form.broken_one.choices = {option.code: option.words for option in options}
    form.begun_on = {option.code: (option.since, option.since_words) for option in options if option.since}
    return form


def _said(form: FailureForm) -> dict[str, Any]:
    return {name: value for name, value in form.data.items() if name not in KEPT_WITH_FAILURE}


def _set_broken(session: Session, part: Part, record: Failure, form: FailureForm, options: list[Breakable]) -> None:
    set_broken(session, part, record, next(option for option in options if option.code == form.broken_one.data))


def _renamed(record: Failure, form: FailureForm, options: list[Breakable]) -> str:
    """Return what the correction changes in the failure itself, so that the old statement isn't lost."""
    words = {option.code: option.words for option in options}
    told = ""
    if form.broken_one.data != code_of(record):
        told += f" (Which one broke was: {words.get(code_of(record), code_of(record))}.)"
    if form.case_label.data != record.case_label:
        told += f" (The case label was: {record.case_label or 'none'}.)"
    return told


def change_new(request: Request, session: SessionDep, failure_id: int, sent: MaybeSent) -> Response:
    record = get_or_404(session, Failure, failure_id)
    form = ChangeForm(sent)
    if sent is None or not form.validate():
        page = _page(
            request, _part(session, record), "Change for the next build", failure=record, submit="Save the change"
        )
        return show_form(request, page, form)
    session.add(Change(failure_id=failure_id, **form.data))
    session.commit()
    return go(request, "failure", failure_id=failure_id, anchor="#change")


def change_correct(request: Request, session: SessionDep, change_id: int, sent: MaybeSent) -> Response:
    change = get_or_404(session, Change, change_id)
    record = get_or_404(session, Failure, change.failure_id)
    form = ChangeCorrectionForm(sent, obj=change)
    replaced = session.exec(select(Change.id).where(col(Change.replaces_id) == change_id)).first()
    if sent is None:
        form.correction_reason.data = ""
    if sent is None or replaced or not form.validate():
        warnings = ["This change has been corrected already; correct the newest one."] if replaced else []
        page = _page(request, _part(session, record), "Correct the change", failure=record, warnings=warnings)
        return show_form(request, page, form)
    session.add(
        Change(
            failure_id=record.id or 0,
            replaces_id=change_id,
            done_in_revision_id=change.done_in_revision_id,
            **form.data,
        )
    )
    session.commit()
    return go(request, "failure", failure_id=record.id, anchor="#change")


def _part(session: Session, record: Failure) -> Part:
    return get_or_404(session, Part, get_or_404(session, Revision, record.revision_id).part_id)


def _page(
    request: Request, part: Part, title: str, intro: str = "", failure: Failure | None = None, **more: Any
) -> FormPage:
    home = address(request, "part", part_id=part.id)
    back = address(request, "failure", failure_id=failure.id) if failure else home
    trail = [("Parts", address(request, "parts")), (part.name, home)]
    more["warnings"] = [*form_warnings(part), *more.get("warnings", ())]
    return FormPage(title, back, [*trail, (failure_name(failure), back)] if failure else trail, intro, **more)
