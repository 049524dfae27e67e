"""The count by hand: begin, judge point by point, finish, look, correct."""

from fastapi import Request
from fastapi.responses import JSONResponse, Response
from sqlmodel import Session

from analysis.measures.pointcount import PointCountRefused
from server.access import get_or_404
from server.counting import counts as counting
from server.counting.page import draft_page, first_field, running, start_page
from server.counting.result import result_page
from server.database import SessionDep
from server.errors import not_found
from server.forms.counts import CountFinishForm, CountMoreForm, CountStartForm
from server.pages import go, show
from server.records import Photo, PointCount, PointCountDraft
from server.sent import Sent

FRESH = {"Cache-Control": "no-store"}  # a page that is gone back to must not show old judgements


def point_count(request: Request, session: SessionDep, photo_id: int, field: int | None = None) -> Response:
    photo = get_or_404(session, Photo, photo_id)
    draft = counting.open_draft(session, photo)
    if draft:
        chosen = field - 1 if field and 0 < field <= draft.field_count else first_field(draft)
        form = CountFinishForm(data={"who": draft.who, "note": draft.note})
        page = show(request, "counts/count.html", draft_page(session, photo, draft, chosen, form))
        page.headers.update(FRESH)
        return page
    usual = CountStartForm(data={"points_per_field": 25, "field_count": 6})
    return show(request, "counts/start.html", start_page(session, photo, usual))


def point_count_start(request: Request, session: SessionDep, photo_id: int, sent: Sent) -> Response:
    photo = get_or_404(session, Photo, photo_id)
    if counting.open_draft(session, photo):
        return go(request, "point_count", photo_id=photo_id)
    form, ground = CountStartForm(sent), counting.ground_of(session, photo)
    if form.validate() and ground:
        try:
            wanted = (form.points_per_field.data, form.field_count.data, form.layout.data)
            counting.start(session, photo, ground, *wanted)
            return go(request, "point_count", photo_id=photo_id)
        except PointCountRefused as error:
            form.points_per_field.errors = [f"{error}."]
    return show(request, "counts/start.html", start_page(session, photo, form), 422)


def count_marks(request: Request, session: SessionDep, draft_id: int, sent: Sent) -> Response:
    draft = _draft(session, draft_id)
    as_json = "application/json" in request.headers.get("accept", "")
    try:
        counting.keep_marks(session, draft, counting.sent_marks(sent, len(draft.codes)))
    except counting.CountRefused as error:
        if as_json:
            return JSONResponse({"detail": str(error)}, 422)
        return show(request, "error.html", {"status": 422, "words": str(error)}, 422)
    if as_json:
        return JSONResponse(running(draft), headers=FRESH)
    return go(request, "point_count", photo_id=draft.photo_id)


def count_finish(request: Request, session: SessionDep, draft_id: int, sent: Sent) -> Response:
    draft = _draft(session, draft_id)
    photo, form = get_or_404(session, Photo, draft.photo_id), CountFinishForm(sent)
    problem = ""
    if form.validate():
        try:
            count = counting.finish(session, draft, form.who.data, form.note.data)
            return go(request, "count", count_id=count.id)
        except counting.CountRefused as error:
            problem = str(error)
    context = draft_page(session, photo, draft, first_field(draft), form) | {"problem": problem}
    return show(request, "counts/count.html", context, 422)


def count_drop(request: Request, session: SessionDep, draft_id: int) -> Response:
    draft = _draft(session, draft_id)
    photo_id = draft.photo_id
    counting.give_up(session, draft)
    return go(request, "point_count", photo_id=photo_id)


def count(request: Request, session: SessionDep, count_id: int) -> Response:
    return _result(request, session, _count(session, count_id), CountMoreForm(data={"more": 4}))


def count_more(request: Request, session: SessionDep, count_id: int, sent: Sent) -> Response:
    record, form = _count(session, count_id), CountMoreForm(sent)
    photo = get_or_404(session, Photo, record.photo_id)
    if counting.open_draft(session, photo):
        return go(request, "point_count", photo_id=photo.id)
    if form.validate():
        try:
            counting.add_fields(session, record, form.more.data)
            return go(request, "point_count", photo_id=photo.id)
        except counting.CountRefused as error:
            form.more.errors = [str(error)]
    return _result(request, session, record, form, 422)


def _result(request: Request, session: Session, record: PointCount, form: CountMoreForm, status: int = 200) -> Response:
    photo = get_or_404(session, Photo, record.photo_id)
    context = result_page(session, request.app.state.store, photo, record) | {"form": form}
    return show(request, "counts/result.html", context, status)


def count_correct(request: Request, session: SessionDep, count_id: int) -> Response:
    record = _count(session, count_id)
    photo = get_or_404(session, Photo, record.photo_id)
    if counting.open_draft(session, photo) is None:
        counting.correct(session, record)
    return go(request, "point_count", photo_id=photo.id)


def _draft(session: Session, key: int) -> PointCountDraft:
    record = session.get(PointCountDraft, key) if 0 < key < 2**63 else None
    if record is None:
        raise not_found("count under way: it was finished or given up")
    return record


def _count(session: Session, key: int) -> PointCount:
    record = session.get(PointCount, key) if 0 < key < 2**63 else None
    if record is None:
        raise not_found("count")
    return record
