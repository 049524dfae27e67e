"""Jobs and what came of them: progress, the picture with its layers, strips, the result as JSON."""

from typing import Any

from fastapi import Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.datastructures import URLPath

from server.access import get_or_404
from server.database import SessionDep
from server.errors import not_found
from server.measuring import jobs, overlays
from server.measuring.marks import marks_of
from server.measuring.measured import measurement_page
from server.measuring.patterns import looks_of
from server.measuring.surroundings import surroundings
from server.pages import go, show
from server.photos.face_page import trail_of
from server.records import Job, Measurement, Photo
from server.wording import words

# One address answers with a page or with JSON, and says something else each time.
FRESH = {"Cache-Control": "no-store", "Vary": "Accept"}
KEEP = {"Cache-Control": "private, max-age=86400"}


def job(request: Request, session: SessionDep, job_id: int) -> Response:
    record = get_or_404(session, Job, job_id)
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse(_news(request, record), headers=FRESH)
    if record.state == "done":
        return RedirectResponse(str(_outcome(request, record)), 303)
    photo = get_or_404(session, Photo, record.photo_id)
    face, joins = surroundings(session, photo).face, jobs.is_joining(record)
    context: dict[str, Any] = {
        "title": "Making one picture of several photos" if joins else f"Measuring {photo.file_name}",
        "joins": joins,
        "trail": trail_of(session, face),
        "job": record,
        "photo": photo,
        "face": face,
        "is_over": record.state in jobs.ENDED,
        "news": _news(request, record),
    }
    page = show(request, "measurements/job.html", context)
    page.headers.update(FRESH)
    return page


def _news(request: Request, job: Job) -> dict[str, Any]:
    # `go` is where a page that watches the job has to move on to, once there is something to be seen there.
    address = _outcome(request, job) if job.state == "done" else None
    return {
        "id": job.id,
        "state": job.state,
        "words": words(job.state, "job") if job.state != "running" else (job.stage or "starting"),
        "share_done": job.share_done,
        "attempt": job.attempt,
        "error": job.error or None,
        "measurement_id": job.measurement_id,
        "go": str(address) if address else None,
    }


def _outcome(request: Request, job: Job) -> URLPath:
    """Return where what the job made is shown."""
    if jobs.is_joining(job):
        return request.app.url_path_for("joined", joining_id=job.given[jobs.JOINING])  # type: ignore[no-any-return]
    return request.app.url_path_for("measurement", measurement_id=job.measurement_id)  # type: ignore[no-any-return]


def job_cancel(request: Request, session: SessionDep, job_id: int) -> Response:
    record = get_or_404(session, Job, job_id)
    jobs.cancel(session, record)
    return go(request, "job", job_id=job_id)


def measurement(request: Request, session: SessionDep, measurement_id: int) -> Response:
    record = get_or_404(session, Measurement, measurement_id)
    photo = get_or_404(session, Photo, record.photo_id)
    context = measurement_page(session, record, photo) | {"marking": marks_of(session, record)}
    return show(request, "measurements/measurement.html", context)


def measurement_json(request: Request, session: SessionDep, measurement_id: int) -> Response:
    record = get_or_404(session, Measurement, measurement_id)
    disposition = f'attachment; filename="measurement-{record.id}.json"'
    return JSONResponse(record.result, headers={"Content-Disposition": disposition})


def layer(request: Request, session: SessionDep, measurement_id: int, name: str, side: int = 1600) -> Response:
    record = get_or_404(session, Measurement, measurement_id)
    if name not in looks_of(record.result.get("surface")):
        raise not_found("layer")
    photo, state = get_or_404(session, Photo, record.photo_id), request.app.state
    data = overlays.layer(state.settings, state.store, record, photo, name, side)
    return Response(data, media_type="image/png", headers=KEEP)


def strip(
    request: Request, session: SessionDep, measurement_id: int, number: int, kind: str = "photo", width: str = "wide"
) -> Response:
    record = get_or_404(session, Measurement, measurement_id)
    if not 0 <= number < len(record.strips) or width not in overlays.STRIP_WIDTHS_PX:
        raise not_found("wall strip")
    state = request.app.state
    data = overlays.strip(state.settings, state.store, record, number, classes=kind == "classes", width=width)
    return Response(data, media_type="image/png", headers=KEEP)


def overlay(request: Request, session: SessionDep, measurement_id: int) -> Response:
    record = get_or_404(session, Measurement, measurement_id)
    photo = get_or_404(session, Photo, record.photo_id)
    state = request.app.state
    data = overlays.flat(state.settings, state.store, record, photo)
    return Response(data, media_type="image/jpeg", headers=KEEP)
