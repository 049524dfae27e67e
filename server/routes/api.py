"""The published interface under /api: photos in, measurings ordered, results out. Mistakes get 4xx and words."""

from collections.abc import Callable
from typing import Annotated, Any, TypeVar

from fastapi import File, Form, HTTPException, Request, UploadFile
from sqlmodel import Session, col, select

from analysis.imaging.photo import PhotoRefused
from analysis.imaging.scale import ScaleRefused, check_scale, scale_from_um_per_px
from analysis.measures.facecount import CODES
from analysis.outlines.outline import OutlineRefused, check_outline
from analysis.welds.marks import MarkRefused, as_lists, check_marks
from server.access import get_or_404
from server.api_models import (
    CountOut,
    FailureOut,
    JobOut,
    MeasureIn,
    MeasurementOut,
    Mistake,
    PartDetail,
    PartOut,
    PhotoOut,
    PlansOut,
    PointOut,
    RefusedOut,
    StrengthOut,
    UploadOut,
)
from server.counting.counts import counts_of
from server.database import SessionDep
from server.measuring.surroundings import Order, place_order, surroundings
from server.nextbuild.api import plans_out
from server.photos import preparing
from server.photos.face_page import treatments_of
from server.photos.keeping import Belongs, accept_photos, current_outline, current_scale, keep_photo, plain_name
from server.records import (
    Face,
    Failure,
    FailureEntry,
    Fragment,
    Job,
    Measurement,
    Part,
    Photo,
    PointCount,
    Revision,
    ScaleRecord,
    VerdictRecord,
)
from server.strength.api import strength_out
from server.verdict.scope import read_scope

Handler = TypeVar("Handler", bound=Callable[..., Any])


def answers(status: int, **mistakes: str) -> Callable[[Handler], Handler]:
    """Say with which status a handler answers, and with which ones it refuses: `answers(202, e422="words")`."""

    def mark(handler: Handler) -> Handler:
        refusals = {int(code[1:]): {"model": Mistake, "description": words} for code, words in mistakes.items()}
        handler.route_options = {"status_code": status, "responses": refusals}  # type: ignore[attr-defined]
        return handler

    return mark


@answers(200, e404="No such face")
def list_photos(session: SessionDep, face_id: int) -> list[PhotoOut]:
    """The photos of a face in the order in which they came; `sha256` tells whether one is there already."""
    face = get_or_404(session, Face, face_id)
    return [_photo(one) for one in session.exec(select(Photo).where(Photo.face_id == face.id).order_by(col(Photo.id)))]


@answers(200, e404="No such face", e422="No file was sent, none could be kept, or no such cleaning step of its piece")
def add_photos(
    request: Request,
    session: SessionDep,
    face_id: int,
    photos: list[UploadFile],
    treatment_id: Annotated[
        int | None, Form(description="The cleaning step they are taken after; none: as found")
    ] = None,
) -> UploadOut:
    """Add photos to a face. Each is judged by itself; those that can't be used are named, the others kept."""
    face = get_or_404(session, Face, face_id)
    state = request.app.state
    outcome = accept_photos(session, state.store, state.settings, photos, _belongs(session, face, treatment_id))
    if not outcome.kept and not outcome.doubled:
        words = "; ".join(f"{one.name}: {one.words}" for one in outcome.refused) or "No photo was sent."
        raise HTTPException(422, words)
    return UploadOut(
        kept=[_photo(photo) for photo in outcome.kept],
        already_there=[_photo(photo) for photo in outcome.doubled],
        refused=[RefusedOut(file_name=one.name, detail=one.words) for one in outcome.refused],
    )


def _belongs(session: Session, face: Face, treatment_id: int | None) -> Belongs:
    if treatment_id is None:
        return Belongs(face_id=face.id)
    if treatment_id not in {step.id for step in treatments_of(session, face)}:
        raise HTTPException(422, f"No cleaning step {treatment_id} that counts is logged for the piece of this face.")
    return Belongs(face_id=face.id, treatment_id=treatment_id, stage="after_treatment")


def _photo(photo: Photo) -> PhotoOut:
    return PhotoOut.model_validate(photo, from_attributes=True)


@answers(202, e404="No such photo", e422="The scale, the outline or a parameter can't be used")
def order_measurement(session: SessionDep, photo_id: int, wish: MeasureIn) -> JobOut:
    """Order a measuring; ask /api/jobs/{id} until it is done."""
    photo = get_or_404(session, Photo, photo_id)
    return _job(_order(session, photo, wish))


def _order(session: Session, photo: Photo, wish: MeasureIn) -> Job:
    mate, mate_scale = _mate(session, wish)
    marks = _marks(photo, wish)
    shapes = _shapes(photo, wish)
    scale = _scale(session, photo, wish)
    outline = preparing.keep_outline(session, photo, shapes) if shapes else current_outline(session, photo.id)
    around = surroundings(session, photo)
    names = ("line_width_mm", "layer_height_mm", "wall_count", "contact_band_mm", "road_spacing_mm")
    parameters = {name: getattr(wish, name) for name in names}
    parameters["surface"] = around.face.surface if around.face else "fracture"
    parameters["colour"] = around.spool.colour or None if around.spool else None
    parameters["marks"] = marks or None
    return place_order(session, Order(photo, scale, outline, parameters, mate, mate_scale))


def _marks(photo: Photo, wish: MeasureIn) -> list[list[Any]]:
    given = [(one.x_px, one.y_px, one.radius_px, one.says) for one in wish.marks]
    try:
        return as_lists(check_marks(given, photo.width_px, photo.height_px))
    except MarkRefused as error:
        raise HTTPException(422, str(error)) from error


def _scale(session: Session, photo: Photo, wish: MeasureIn) -> ScaleRecord:
    kept = current_scale(session, photo.id)
    try:
        if wish.um_per_px is not None:
            scale = scale_from_um_per_px(wish.um_per_px, wish.scale_relative_sd)
        elif kept:
            scale = scale_from_um_per_px(kept.um_per_px, kept.relative_sd)
        else:
            raise HTTPException(422, "This photo has no scale yet. Send um_per_px.")
        check_scale(scale, photo.width_px, photo.height_px, wish.line_width_mm)
        if not 0.01 <= wish.layer_height_mm <= 5:
            raise HTTPException(422, f"A layer height of {wish.layer_height_mm:g} mm can't be: 0.01 to 5 mm is.")
    except ScaleRefused as error:
        raise HTTPException(422, str(error)) from error
    if wish.um_per_px is None and kept:
        return kept
    given = {"um_per_px": scale.um_per_px, "relative_sd_percent": round(scale.relative_sd * 100, 6)}
    return preparing.keep_scale(session, photo, scale, "um_per_px", given)


def _shapes(photo: Photo, wish: MeasureIn) -> dict[str, Any] | None:
    if wish.outline_px is None:
        if wish.holes_px or wish.unknown_zones_px:
            raise HTTPException(422, "Holes and zones need the outline they lie in: send outline_px too.")
        return None
    size = (photo.width_px, photo.height_px)
    try:
        outline = check_outline(wish.outline_px, wish.holes_px, *size)
        zones = [check_outline(zone, (), *size).outer_px.tolist() for zone in wish.unknown_zones_px]
    except OutlineRefused as error:
        raise HTTPException(422, str(error)) from error
    holes = [hole.tolist() for hole in outline.holes_px]
    return {"outer_px": outline.outer_px.tolist(), "holes_px": holes, "unknown_px": zones}


def _mate(session: Session, wish: MeasureIn) -> tuple[Photo | None, ScaleRecord | None]:
    if wish.mate_photo_id is None:
        return None, None
    mate = get_or_404(session, Photo, wish.mate_photo_id)
    scale = current_scale(session, mate.id)
    if scale is None:
        raise HTTPException(422, "The photo of the mating face has no scale yet. Order its own measuring first.")
    return mate, scale


@answers(202, e422="The photo, the scale or a parameter can't be used")
def measure_photo(
    request: Request,
    session: SessionDep,
    photo: Annotated[UploadFile, File(description="JPEG, PNG, WebP, TIFF or HEIC")],
    um_per_px: Annotated[float, Form()],
    line_width_mm: Annotated[float, Form()],
    layer_height_mm: Annotated[float, Form()],
    wall_count: Annotated[int | None, Form(ge=0, le=50)] = None,
) -> JobOut:
    """Measure a photo that belongs to no face of the record; the outline is looked for."""
    state = request.app.state
    name = plain_name(photo.filename or "")
    if (photo.size or 0) > state.settings.photo_max_bytes:
        raise HTTPException(413, f"{name} is larger than {state.settings.photo_max_bytes // 1_000_000} MB.")
    given = {"um_per_px": um_per_px, "line_width_mm": line_width_mm, "layer_height_mm": layer_height_mm}
    wish = MeasureIn.model_validate({**given, "wall_count": wall_count})
    try:
        kept, _ = keep_photo(session, state.store, state.settings, photo.file.read(), name, Belongs())
    except PhotoRefused as error:
        raise HTTPException(422, f"{name}: {error}") from error
    try:
        return _job(_order(session, kept, wish))
    except HTTPException:
        # Its bytes may belong to another photo as well, so only the row goes.
        session.delete(kept)
        session.commit()
        raise


@answers(200, e404="No such job")
def read_job(session: SessionDep, job_id: int) -> JobOut:
    """How far a measuring is; `measurement_id` is there once it is done."""
    return _job(get_or_404(session, Job, job_id))


def _job(job: Job) -> JobOut:
    out = JobOut.model_validate(job, from_attributes=True)
    out.error = job.error or None
    return out


@answers(200, e404="No such measurement")
def read_measurement(session: SessionDep, measurement_id: int) -> MeasurementOut:
    """The result of a measuring; the same object that the command prints."""
    return MeasurementOut.model_validate(get_or_404(session, Measurement, measurement_id).result)


@answers(200, e404="No such photo")
def list_counts(session: SessionDep, photo_id: int) -> list[CountOut]:
    """The finished counts by hand of a photo, newest first; one that `replaces_id` names no longer counts."""
    made = counts_of(session, get_or_404(session, Photo, photo_id))
    return [CountOut.model_validate({**one.model_dump(), "points": _points(one)}) for one in made]


def _points(count: PointCount) -> list[PointOut]:
    rows = zip(count.places_px, count.field_of, count.codes, strict=True)
    return [PointOut(x_px=x, y_px=y, field=field + 1, code=CODES.get(code)) for (x, y), field, code in rows]


@answers(200)
def list_parts(session: SessionDep) -> list[PartOut]:
    """All parts by name."""
    parts = session.exec(select(Part).order_by(col(Part.name), col(Part.id)))
    return [PartOut.model_validate(part, from_attributes=True) for part in parts]


@answers(200, e404="No such part")
def read_part(session: SessionDep, part_id: int) -> PartDetail:
    """A part with its revisions and failures."""
    part = get_or_404(session, Part, part_id)
    revisions = session.exec(select(Revision).where(Revision.part_id == part_id).order_by(col(Revision.number))).all()
    failures = session.exec(select(Failure.id).where(col(Failure.revision_id).in_([one.id for one in revisions])))
    out = PartOut.model_validate(part, from_attributes=True)
    shown = [one.model_dump(mode="json", exclude={"part_id"}) for one in revisions]
    return PartDetail(**out.model_dump(), revisions=shown, failure_ids=[key for key in failures if key])


@answers(200, e404="No such failure")
def read_failure(session: SessionDep, failure_id: int) -> FailureOut:
    """A failure with its faces and what was measured and concluded."""
    failure = get_or_404(session, Failure, failure_id)
    revision = get_or_404(session, Revision, failure.revision_id)
    newest = select(FailureEntry).where(FailureEntry.failure_id == failure_id).order_by(col(FailureEntry.id).desc())
    entry = session.exec(newest).first()
    return FailureOut(
        id=failure_id,
        part_id=revision.part_id,
        revision_id=failure.revision_id,
        case_label=failure.case_label,
        found_on=entry.found_on.isoformat() if entry else None,
        faces=_faces(session, failure_id),
        verdicts=_verdicts(session, failure_id),
    )


@answers(200, e404="No such failure")
def read_plans(session: SessionDep, failure_id: int) -> PlansOut:
    """The ranked plans for the next build, what was chosen and what came of it, and colleagues' votes."""
    return plans_out(session, read_scope(session, failure_id))


@answers(200, e404="No such failure, or no such break site of it")
def read_strength(request: Request, session: SessionDep, failure_id: int, site: str = "") -> StrengthOut:
    """The loads that may have broken it, held against its faces; `site` names one of several break sites."""
    return strength_out(session, read_scope(session, failure_id, site), request.app.state.store)


def _faces(session: Session, failure_id: int) -> list[dict[str, Any]]:
    pieces = select(Fragment.id).where(Fragment.failure_id == failure_id)
    faces = session.exec(select(Face).where(col(Face.fragment_id).in_(pieces)).order_by(col(Face.id))).all()
    photos = session.exec(select(Photo).where(col(Photo.face_id).in_([face.id for face in faces]))).all()
    made = select(Measurement.photo_id, Measurement.id).where(
        col(Measurement.photo_id).in_([photo.id for photo in photos])
    )
    by_photo: dict[int, list[int | None]] = {}
    for photo_id, key in session.exec(made.order_by(col(Measurement.id))):
        by_photo.setdefault(photo_id, []).append(key)
    return [
        {
            **face.model_dump(mode="json"),
            "photos": [
                {**_photo(photo).model_dump(), "measurement_ids": by_photo.get(photo.id or 0, [])}
                for photo in photos
                if photo.face_id == face.id
            ],
        }
        for face in faces
    ]


def _verdicts(session: Session, failure_id: int) -> list[dict[str, Any]]:
    made = select(VerdictRecord).where(VerdictRecord.failure_id == failure_id).order_by(col(VerdictRecord.id))
    newest = {record.site_id: record for record in session.exec(made)}
    return [{"site_id": site, "primary": record.primary, **record.result} for site, record in newest.items()]
