"""Both halves of a break in one frame, and their pictures."""

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session

from server.access import get_or_404
from server.database import SessionDep
from server.errors import not_found
from server.measuring.halves import Pair, half_picture, halves_page, pair_of
from server.pages import show
from server.records import Measurement, Photo

KEEP = {"Cache-Control": "private, max-age=86400"}


def halves(request: Request, session: SessionDep, measurement_id: int) -> Response:
    return show(request, "measurements/halves.html", halves_page(session, _pair(session, measurement_id)))


def half(request: Request, session: SessionDep, measurement_id: int, which: str, side: int = 1600) -> Response:
    if which not in {"here", "there"}:
        raise not_found("half")
    state = request.app.state
    data = half_picture(state.settings, state.store, _pair(session, measurement_id), which, side)
    return Response(data, media_type="image/jpeg", headers=KEEP)


def _pair(session: Session, measurement_id: int) -> Pair:
    record = get_or_404(session, Measurement, measurement_id)
    pair = pair_of(session, record, get_or_404(session, Photo, record.photo_id))
    if pair is None:
        raise not_found("mating half laid on this face")
    return pair
