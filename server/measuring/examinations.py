"""The one door to the measuring: load what a job names, examine, keep the measurement. Runs in the worker process."""

import io
import json
import logging
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from sqlalchemy import Engine
from sqlmodel import Session

from analysis.examine import Examination, ExamineRequest, examine
from server import __version__
from server.measuring import jobs
from server.photos.keeping import limits_of_kept
from server.records import Job, Measurement, OutlineRecord, Photo, ScaleRecord
from server.settings import Settings
from server.store import MissingOriginal, Store

log = logging.getLogger(__name__)
FAILED_WORDS = (
    "The measuring stopped at a mistake in the program ({kind}). The photo and its outline are kept. "
    "Please report this with the number of the job."
)


def run_job(engine: Engine, store: Store, settings: Settings, job: Job) -> None:
    """Measure what the job names and end it; a refusal becomes its reason in words. Never raises."""
    lease = settings.job_lease_seconds

    def measure() -> None:
        with Session(engine, expire_on_commit=False) as session:
            request = request_for(session, store, settings, job)
        found = examine(request, progress=lambda stage, share: jobs.beat(engine, job, lease, stage, share))
        jobs.finish(engine, job, measurement_of(store, job, found))

    carry_out(engine, job, measure)


def carry_out(engine: Engine, job: Job, work: Callable[[], None]) -> None:
    """Do the work of a job; whatever goes wrong ends the job with its reason in words. Never raises."""
    try:
        work()
    except jobs.JobGone:
        log.info("Job %s was cancelled or taken over.", job.id)
    except (ValueError, MissingOriginal) as error:
        # What the person can mend is a ValueError of ours with words for them; numpy's own ones are not.
        ours = type(error).__module__.startswith(("analysis", "server"))
        _fail(engine, job, str(error) if ours else _mistake(error))
    except MemoryError:
        _fail(engine, job, jobs.LOST_WORDS)
    except Exception as error:
        _fail(engine, job, _mistake(error))


def _mistake(error: Exception) -> str:
    log.exception("Measuring failed")
    return FAILED_WORDS.format(kind=type(error).__name__)


def _fail(engine: Engine, job: Job, words: str) -> None:
    try:
        jobs.fail(engine, job, words)
    except jobs.JobGone:
        log.info("Job %s failed after it was cancelled.", job.id)


def request_for(session: Session, store: Store, settings: Settings, job: Job) -> ExamineRequest:
    """Return what the job names, with the photos' places in the store."""
    given = job.given
    photo, scale = _get(session, Photo, job.photo_id), _get(session, ScaleRecord, given["scale_id"])
    outline = session.get(OutlineRecord, given["outline_id"]) if given.get("outline_id") else None
    mate = session.get(Photo, given["mate_photo_id"]) if given.get("mate_photo_id") else None
    mate_scale = session.get(ScaleRecord, given["mate_scale_id"]) if given.get("mate_scale_id") else None
    parameters: dict[str, Any] = {name: given.get(name) for name in PARAMETERS if given.get(name) is not None}
    return ExamineRequest(
        photo=_original(store, photo),
        um_per_px=scale.um_per_px,
        scale_relative_sd=scale.relative_sd,
        outline={"outline_px": outline.outer_px, "holes_px": outline.holes_px} if outline else None,
        unknown_zones_px=tuple(outline.unknown_px) if outline else (),
        mate=_original(store, mate) if mate else None,
        mate_um_per_px=mate_scale.um_per_px if mate_scale else None,
        marks=given.get("marks") or (),
        limits=limits_of_kept(settings, photo),
        **parameters,
    )


PARAMETERS = (
    "line_width_mm", "layer_height_mm", "wall_count", "contact_band_mm", "road_spacing_mm", "surface", "colour",
)  # fmt: skip


def _get(session: Session, kind: type[Any], key: int) -> Any:
    record = session.get(kind, key)
    if record is None:
        raise LookupError(f"{kind.__name__} {key} is gone")
    return record


def _original(store: Store, photo: Photo) -> bytes:
    return store.read(photo.sha256)


def measurement_of(store: Store, job: Job, found: Examination) -> Measurement:
    """Return the record of what was found; its label map and wall strips go into the store as PNG."""
    strips = [
        {
            "outline": strip.outline,
            "index": strip.index,
            "length_mm": strip.length_mm,
            "labels_sha256": store.put(png(strip.labels)),
            "picture_sha256": store.put(png(strip.picture)),
        }
        for strip in found.wall_strips
    ]
    return Measurement(
        photo_id=job.photo_id,
        scale_id=job.given["scale_id"],
        outline_id=job.given.get("outline_id"),
        given=job.given,
        result=json.loads(json.dumps(found.result, allow_nan=False)),
        labels_sha256=store.put(png(found.labels)),
        strips=strips,
        px_per_pixel=found.px_per_pixel,
        origin_px=[float(value) for value in found.origin_px],
        program_version=__version__,
    )


def png(array: NDArray[np.uint8]) -> bytes:
    """Return a lossless PNG of a label map or of a picture."""
    file = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(array)).save(file, "PNG")
    return file.getvalue()
