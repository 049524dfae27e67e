"""Pages of a part: the form, what is locked, revisions and their files."""

from typing import Annotated
from urllib.parse import quote

from fastapi import Depends, Request
from fastapi.responses import Response
from sqlmodel import Session, col, func, select
from starlette.datastructures import FormData, UploadFile

from server.access import get_or_404
from server.database import SessionDep
from server.forms.base import read_form
from server.forms.parts import LockedFeatureForm, PartForm, RevisionForm
from server.pages import go, show
from server.records import Attachment, Customer, LockedFeature, Part, Revision

Sent = Annotated[FormData, Depends(read_form)]


def part_new(request: Request, session: SessionDep) -> Response:
    return show(request, "record_form.html", {"title": "New part", "form": _form(session)})


def part_create(request: Request, session: SessionDep, sent: Sent) -> Response:
    form = _form(session, sent)
    if not form.validate():
        return show(request, "record_form.html", {"title": "New part", "form": form}, 422)
    part = Part()
    _fill(part, form)
    session.add(part)
    session.commit()
    return go(request, "part", part_id=part.id)


def part_edit(request: Request, session: SessionDep, part_id: int) -> Response:
    part = get_or_404(session, Part, part_id)
    return show(request, "record_form.html", {"title": f"Edit {part.name}", "form": _form(session, part=part)})


def part_update(request: Request, session: SessionDep, part_id: int, sent: Sent) -> Response:
    part = get_or_404(session, Part, part_id)
    form = _form(session, sent, part)
    if not form.validate():
        return show(request, "record_form.html", {"title": f"Edit {part.name}", "form": form}, 422)
    _fill(part, form)
    session.add(part)
    session.commit()
    return go(request, "part", part_id=part.id)


def _form(session: Session, sent: FormData | None = None, part: Part | None = None) -> PartForm:
    form = PartForm(sent, obj=part)
    customers = session.exec(select(Customer).order_by(Customer.name)).all()
    form.customer_id.choices = [("", "none"), *((str(customer.id), customer.name) for customer in customers)]
    if part and not sent:
        form.customer_id.data = str(part.customer_id or "")
    return form


def _fill(part: Part, form: PartForm) -> None:
    values = dict(form.data)
    values["customer_id"] = int(values["customer_id"]) if values["customer_id"] else None
    for name, value in values.items():
        setattr(part, name, value)


def locked_new(request: Request, session: SessionDep, part_id: int) -> Response:
    part = get_or_404(session, Part, part_id)
    return show(request, "record_form.html", {"title": f"What is locked on {part.name}", "form": LockedFeatureForm()})


def locked_create(request: Request, session: SessionDep, part_id: int, sent: Sent) -> Response:
    part = get_or_404(session, Part, part_id)
    form = LockedFeatureForm(sent)
    if not form.validate():
        return show(request, "record_form.html", {"title": f"What is locked on {part.name}", "form": form}, 422)
    session.add(LockedFeature(part_id=part_id, **form.data))
    session.commit()
    return go(request, "part", part_id=part_id)


def revision_new(request: Request, session: SessionDep, part_id: int) -> Response:
    part = get_or_404(session, Part, part_id)
    return show(request, "record_form.html", {"title": f"New revision of {part.name}", "form": RevisionForm()})


def revision_create(request: Request, session: SessionDep, part_id: int, sent: Sent) -> Response:
    part = get_or_404(session, Part, part_id)
    form = RevisionForm(sent)
    if not form.validate():
        return show(request, "record_form.html", {"title": f"New revision of {part.name}", "form": form}, 422)
    session.add(Revision(part_id=part_id, number=_next_number(session, part_id, form.is_original.data), **form.data))
    session.commit()
    return go(request, "part", part_id=part_id)


def _next_number(session: Session, part_id: int, is_original: bool) -> int:
    highest = session.exec(select(func.max(col(Revision.number))).where(Revision.part_id == part_id)).one()
    if highest is None:
        return 0 if is_original else 1
    return int(highest) + 1


def attachment_create(request: Request, session: SessionDep, revision_id: int, sent: Sent) -> Response:
    revision = get_or_404(session, Revision, revision_id)
    file, limit = sent.get("file"), request.app.state.settings.attachment_max_bytes
    if not isinstance(file, UploadFile) or not file.filename:
        return show(request, "error.html", {"status": 422, "words": "No file was chosen. Go back and choose one."}, 422)
    if (file.size or 0) > limit:
        return show(request, "error.html", {"status": 413, "words": f"{file.filename} is larger than {limit // 1_000_000} MB and was not kept."}, 413)
    data = file.file.read()
    kind = str(sent.get("kind", "model"))
    session.add(
        Attachment(
            revision_id=revision_id, sha256=request.app.state.store.put(data), file_name=file.filename[:200],
            kind=kind if kind in {"model", "slicing"} else "other", size_bytes=len(data),
        )
    )
    session.commit()
    return go(request, "part", part_id=revision.part_id)


def attachment_file(request: Request, session: SessionDep, attachment_id: int) -> Response:
    attachment = get_or_404(session, Attachment, attachment_id)
    data = request.app.state.store.read(attachment.sha256)
    # Always a download of unknown bytes: a browser must never run what somebody attached.
    disposition = f"attachment; filename*=UTF-8''{quote(attachment.file_name)}"
    return Response(data, media_type="application/octet-stream", headers={"Content-Disposition": disposition})
