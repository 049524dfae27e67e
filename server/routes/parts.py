"""Pages of a part: the list, the timeline, the form, what is locked, revisions and their files."""

from urllib.parse import quote

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session, col, func, select
from starlette.datastructures import FormData, UploadFile

from server.access import get_or_404
from server.database import SessionDep
from server.formpage import FormPage, MaybeSent, show_form
from server.forms.parts import LockedFeatureForm, PartForm, RevisionForm
from server.forms.record import offer
from server.history import search
from server.history.compare import comparison
from server.history.part import form_warnings, part_page
from server.history.wanted import Wanted
from server.links import address
from server.naming import revision_name
from server.pages import go, show
from server.records import Attachment, Change, Customer, Failure, LockedFeature, Part, Revision


def parts(request: Request, session: SessionDep) -> Response:
    wanted = Wanted.from_query(request.query_params)
    return show(request, "parts/list.html", {"title": "Parts", "found": search.find(request, session, wanted)})


def part(request: Request, session: SessionDep, part_id: int) -> Response:
    found = get_or_404(session, Part, part_id)
    trail = [("Parts", address(request, "parts"))]
    return show(
        request, "parts/part.html", {"title": found.name, "trail": trail, "page": part_page(request, session, found)}
    )


def compare(request: Request, session: SessionDep, part_id: int, feature: str = "") -> Response:
    found = get_or_404(session, Part, part_id)
    trail = [("Parts", address(request, "parts")), (found.name, address(request, "part", part_id=part_id))]
    page = comparison(request, session, found, feature)
    title = f"{found.name}: one place, each revision"
    return show(request, "parts/compare.html", {"title": title, "trail": trail, "page": page})


def part_new(request: Request, session: SessionDep, sent: MaybeSent) -> Response:
    form = _part_form(session, sent)
    if sent is None or not form.validate():
        return show_form(request, _page(request, None, "New part", "Save the part"), form)
    part = Part(**form.data)
    session.add(part)
    session.commit()
    return go(request, "part", part_id=part.id)


def part_edit(request: Request, session: SessionDep, part_id: int, sent: MaybeSent) -> Response:
    part = get_or_404(session, Part, part_id)
    form = _part_form(session, sent, part)
    if sent is None or not form.validate():
        return show_form(request, _page(request, part, f"Edit {part.name}"), form)
    form.populate_obj(part)
    session.add(part)
    session.commit()
    return go(request, "part", part_id=part.id)


def _part_form(session: Session, sent: FormData | None, part: Part | None = None) -> PartForm:
    form = PartForm(sent, obj=part)
    customers = session.exec(select(Customer).order_by(Customer.name)).all()
    offer(form.customer_id, "none", ((customer.id, customer.name) for customer in customers))
    return form


def locked_new(request: Request, session: SessionDep, part_id: int, sent: MaybeSent) -> Response:
    part = get_or_404(session, Part, part_id)
    form = LockedFeatureForm(sent)
    if sent is None or not form.validate():
        return show_form(request, _page(request, part, f"What is locked or free on {part.name}"), form)
    session.add(LockedFeature(part_id=part_id, **form.said()))
    session.commit()
    return go(request, "part", part_id=part_id)


def locked_edit(request: Request, session: SessionDep, locked_id: int, sent: MaybeSent) -> Response:
    locked = get_or_404(session, LockedFeature, locked_id)
    part = get_or_404(session, Part, locked.part_id)
    form = LockedFeatureForm(sent, obj=locked, standing="free" if locked.is_free else "locked")
    if sent is None or not form.validate():
        return show_form(request, _page(request, part, f"What is locked or free on {part.name}"), form)
    for name, value in form.said().items():
        setattr(locked, name, value)
    session.add(locked)
    session.commit()
    return go(request, "part", part_id=part.id)


def revision_new(request: Request, session: SessionDep, part_id: int, sent: MaybeSent) -> Response:
    part = get_or_404(session, Part, part_id)
    change = _asked_for(request, session, part_id)
    form = RevisionForm(sent)
    if sent is None and change:
        form.what_changed.data, form.why.data = change.what, change.why
    if sent is None or not form.validate():
        intro = (
            "Filled in from the change that the failure asks for. Saving marks that change as done in this revision."
            if change
            else ""
        )
        return show_form(
            request, _page(request, part, f"New revision of {part.name}", "Save the revision", intro), form
        )
    revision = Revision(part_id=part_id, number=_next_number(session, part_id, form.is_original.data), **form.data)
    session.add(revision)
    session.flush()
    if change:
        change.done_in_revision_id = revision.id
        session.add(change)
    session.commit()
    return go(request, "part", part_id=part_id)


def _asked_for(request: Request, session: Session, part_id: int) -> Change | None:
    """Return the open change of this part that the address names, so that the new revision carries it out."""
    key = request.query_params.get("change", "")
    change = session.get(Change, int(key)) if key.isascii() and key.isdigit() and len(key) < 16 else None
    failure = session.get(Failure, change.failure_id) if change else None
    broken = session.get(Revision, failure.revision_id) if failure else None
    mine = broken is not None and broken.part_id == part_id
    return change if change and mine and change.done_in_revision_id is None else None


def revision_edit(request: Request, session: SessionDep, revision_id: int, sent: MaybeSent) -> Response:
    revision = get_or_404(session, Revision, revision_id)
    part = get_or_404(session, Part, revision.part_id)
    form = RevisionForm(sent, obj=revision)
    del form.is_original  # the number was given by it
    if sent is None or not form.validate():
        return show_form(request, _page(request, part, f"Edit {revision_name(revision)} of {part.name}"), form)
    form.populate_obj(revision)
    session.add(revision)
    session.commit()
    return go(request, "part", part_id=part.id)


def _next_number(session: Session, part_id: int, is_original: bool) -> int:
    highest = session.exec(select(func.max(col(Revision.number))).where(Revision.part_id == part_id)).one()
    if highest is None:
        return 0 if is_original else 1
    return int(highest) + 1


def attachment_create(request: Request, session: SessionDep, revision_id: int, sent: MaybeSent) -> Response:
    revision = get_or_404(session, Revision, revision_id)
    file, limit = sent.get("file") if sent else None, request.app.state.settings.attachment_max_bytes
    if not isinstance(file, UploadFile) or not file.filename:
        return show(request, "error.html", {"status": 422, "words": "No file was chosen. Go back and choose one."}, 422)
    if (file.size or 0) > limit:
        words = f"{file.filename} is larger than {limit // 1_000_000} MB and was not kept."
        return show(request, "error.html", {"status": 413, "words": words}, 413)
    if not file.size:
        return show(request, "error.html", {"status": 422, "words": f"{file.filename} is empty and was not kept."}, 422)
    kind = str(sent.get("kind", "")) if sent else ""
    session.add(
        Attachment(
            revision_id=revision_id,
            sha256=request.app.state.store.put(file.file.read()),
            file_name=file.filename[:200],
            kind=kind if kind in {"model", "slicing"} else "other",
            size_bytes=file.size,
        )
    )
    session.commit()
    return go(request, "part", part_id=revision.part_id, anchor=f"#revision-{revision.id}")


def attachment_file(request: Request, session: SessionDep, attachment_id: int) -> Response:
    attachment = get_or_404(session, Attachment, attachment_id)
    data = request.app.state.store.read(attachment.sha256)
    # Always a download of unknown bytes: a browser must never run what somebody attached.
    disposition = f"attachment; filename*=UTF-8''{quote(attachment.file_name, safe='')}"
    return Response(data, media_type="application/octet-stream", headers={"Content-Disposition": disposition})


def _page(request: Request, part: Part | None, title: str, submit: str = "Save", intro: str = "") -> FormPage:
    parts_address = address(request, "parts")
    back = address(request, "part", part_id=part.id) if part else parts_address
    trail = [("Parts", parts_address), *([(part.name, back)] if part else [])]
    return FormPage(title, back, trail, intro, warnings=form_warnings(part), submit=submit)
