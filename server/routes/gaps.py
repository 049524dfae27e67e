"""One gap: look closer, say its cause."""

from fastapi import Request
from fastapi.responses import Response

from analysis.measures.gapcause import point_to
from server.access import get_or_404
from server.database import SessionDep
from server.errors import not_found
from server.formpage import MaybeSent
from server.forms.gaps import GapCauseForm
from server.gaps import causes
from server.gaps.found import gaps_of
from server.gaps.page import gap_page
from server.pages import go, show
from server.records import Measurement, Photo

UNSETTLED = "The answers don't settle it: {why} Choose a cause, or can't tell."


def gap_cause(request: Request, session: SessionDep, measurement_id: int, number: int, sent: MaybeSent) -> Response:
    record = get_or_404(session, Measurement, measurement_id)
    photo = get_or_404(session, Photo, record.photo_id)
    gap = next((one for one in gaps_of(record)[0] if one.number == number), None)
    if gap is None:
        raise not_found("gap in this measurement")
    said = causes.entries_on(causes.causes_of(session, [record.id])[measurement_id], gap)
    known = {**said[-1].answers, "cause": said[-1].cause, "note": said[-1].note} if said else {}
    form = GapCauseForm(sent, **known)
    if sent is not None and form.validate():
        pointer = point_to(form.answers(), gap.hint)
        cause = form.cause.data or pointer.cause
        if cause:
            causes.keep(session, record, gap, cause, form.answers(), form.who.data, form.note.data)
            return go(request, "measurement", measurement_id=measurement_id, anchor=f"#gap-{number}")
        form.cause.errors = [UNSETTLED.format(why=pointer.why)]
    status = 200 if sent is None else 422
    return show(request, "gaps/gap.html", gap_page(session, record, photo, gap, form), status)
