"""Marks on a measured photo: shown with the layers, set by tap, key or text, and measured with as a new entry."""

from typing import Any

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session

from analysis.welds.marks import MarkRefused
from server.access import get_or_404
from server.database import SessionDep
from server.errors import not_found
from server.forms.marks import MarksForm
from server.measuring import marks as marking
from server.measuring.measured import measurement_page
from server.measuring.surroundings import open_job
from server.pages import go, show
from server.records import Measurement, Photo
from server.sent import Sent


def marks(request: Request, session: SessionDep, measurement_id: int) -> Response:
    record, photo = _measured(session, measurement_id)
    form = MarksForm()
    kept = record.given.get("marks") or []
    form.marks.data = marking.write_marks(kept, marking.usual_radius_px(record))
    return _page(request, session, record, photo, form)


def marks_measure(request: Request, session: SessionDep, measurement_id: int, sent: Sent) -> Response:
    record, photo = _measured(session, measurement_id)
    form = MarksForm(sent)
    good = form.validate()
    try:
        set_by_person = marking.read_marks(form.marks.data, photo, marking.usual_radius_px(record)) if good else ()
        if good and not set_by_person:
            raise MarkRefused("Set at least one mark; without any the measurement would come out the same.")
    except MarkRefused as error:
        form.marks.errors, good = [str(error)], False
    if good and open_job(session, photo):
        form.marks.errors, good = ["This photo is being measured now. Wait until that is done, then try again."], False
    if not good:
        return _page(request, session, record, photo, form, 422)
    return go(request, "job", job_id=marking.order_with(session, record, set_by_person).id)


def _measured(session: Session, measurement_id: int) -> tuple[Measurement, Photo]:
    record = get_or_404(session, Measurement, measurement_id)
    if record.result.get("surface") == "outer":
        raise not_found("fracture face")
    return record, get_or_404(session, Photo, record.photo_id)


def _page(
    request: Request, session: Session, record: Measurement, photo: Photo, form: MarksForm, status: int = 200
) -> Response:
    context: dict[str, Any] = measurement_page(session, record, photo)
    context |= marking.marks_page(record, photo, form.marks.data or "")
    context |= {"title": "Say what you see", "form": form}
    return show(request, "measurements/marks.html", context, status)
