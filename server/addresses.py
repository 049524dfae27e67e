"""Every address of the server, grouped by page: read once and you know the house."""

from collections.abc import Callable
from typing import Any

from fastapi import FastAPI

from server.routes import (
    api,
    bench,
    builds,
    counts,
    faces,
    failures,
    gaps,
    halves,
    help,
    marks,
    measurements,
    observations,
    overview,
    parts,
    photos,
    pieces,
    prior,
    shelf,
    strength,
    summaries,
    verdicts,
)

Row = tuple[str, str, Callable[..., Any], str]

ROWS: list[Row] = [
    # the bench, the list of parts, help
    ("GET", "/", bench.bench, "bench"),
    ("GET", "/parts", parts.parts, "parts"),
    ("GET", "/help", help.help_page, "help"),
    # the part
    ("GET", "/parts/new", parts.part_new, "part_new"),
    ("POST", "/parts/new", parts.part_new, "part_create"),
    ("GET", "/parts/{part_id}", parts.part, "part"),
    ("GET", "/parts/{part_id}/edit", parts.part_edit, "part_edit"),
    ("POST", "/parts/{part_id}/edit", parts.part_edit, "part_update"),
    ("GET", "/parts/{part_id}/locked/new", parts.locked_new, "locked_new"),
    ("POST", "/parts/{part_id}/locked/new", parts.locked_new, "locked_create"),
    ("GET", "/locked/{locked_id}/edit", parts.locked_edit, "locked_edit"),
    ("POST", "/locked/{locked_id}/edit", parts.locked_edit, "locked_update"),
    ("GET", "/parts/{part_id}/revisions/new", parts.revision_new, "revision_new"),
    ("POST", "/parts/{part_id}/revisions/new", parts.revision_new, "revision_create"),
    ("GET", "/revisions/{revision_id}/edit", parts.revision_edit, "revision_edit"),
    ("POST", "/revisions/{revision_id}/edit", parts.revision_edit, "revision_update"),
    ("POST", "/revisions/{revision_id}/files", parts.attachment_create, "attachment_create"),
    ("GET", "/files/{attachment_id}", parts.attachment_file, "attachment_file"),
    # builds and their service
    ("GET", "/revisions/{revision_id}/builds/new", builds.build_new, "build_new"),
    ("POST", "/revisions/{revision_id}/builds/new", builds.build_new, "build_create"),
    ("GET", "/builds/{build_id}/edit", builds.build_edit, "build_edit"),
    ("POST", "/builds/{build_id}/edit", builds.build_edit, "build_update"),
    ("GET", "/builds/{build_id}/services/new", builds.service_new, "service_new"),
    ("POST", "/builds/{build_id}/services/new", builds.service_new, "service_create"),
    ("GET", "/services/{service_id}/edit", builds.service_edit, "service_edit"),
    ("POST", "/services/{service_id}/edit", builds.service_edit, "service_update"),
    ("GET", "/services/{service_id}/inspections/new", builds.inspection_new, "inspection_new"),
    ("POST", "/services/{service_id}/inspections/new", builds.inspection_new, "inspection_create"),
    ("GET", "/inspections/{inspection_id}/edit", builds.inspection_edit, "inspection_edit"),
    ("POST", "/inspections/{inspection_id}/edit", builds.inspection_edit, "inspection_update"),
    # the shelf
    ("GET", "/shelf", shelf.shelf, "shelf"),
    ("GET", "/shelf/printers/new", shelf.printer_new, "printer_new"),
    ("POST", "/shelf/printers/new", shelf.printer_new, "printer_create"),
    ("GET", "/shelf/printers/{printer_id}/edit", shelf.printer_edit, "printer_edit"),
    ("POST", "/shelf/printers/{printer_id}/edit", shelf.printer_edit, "printer_update"),
    ("GET", "/shelf/spools/new", shelf.spool_new, "spool_new"),
    ("POST", "/shelf/spools/new", shelf.spool_new, "spool_create"),
    ("GET", "/shelf/spools/{spool_id}/edit", shelf.spool_edit, "spool_edit"),
    ("POST", "/shelf/spools/{spool_id}/edit", shelf.spool_edit, "spool_update"),
    ("GET", "/shelf/customers/new", shelf.customer_new, "customer_new"),
    ("POST", "/shelf/customers/new", shelf.customer_new, "customer_create"),
    ("GET", "/shelf/customers/{customer_id}/edit", shelf.customer_edit, "customer_edit"),
    ("POST", "/shelf/customers/{customer_id}/edit", shelf.customer_edit, "customer_update"),
    # the case
    ("GET", "/failures/new", failures.failure_start, "failure_start"),
    ("GET", "/parts/{part_id}/failures/new", failures.failure_new, "failure_new"),
    ("POST", "/parts/{part_id}/failures/new", failures.failure_new, "failure_create"),
    ("GET", "/failures/{failure_id}", failures.failure, "failure"),
    ("GET", "/failures/{failure_id}/photos", overview.overview, "overview"),
    ("POST", "/failures/{failure_id}/photos", overview.overview_upload, "overview_upload"),
    ("GET", "/failures/{failure_id}/correct", failures.failure_correct, "failure_correct"),
    ("POST", "/failures/{failure_id}/correct", failures.failure_correct, "failure_correct_save"),
    ("GET", "/failures/{failure_id}/changes/new", failures.change_new, "change_new"),
    ("POST", "/failures/{failure_id}/changes/new", failures.change_new, "change_create"),
    ("GET", "/changes/{change_id}/correct", failures.change_correct, "change_correct"),
    ("POST", "/changes/{change_id}/correct", failures.change_correct, "change_correct_save"),
    ("GET", "/failures/{failure_id}/fragments/new", pieces.fragment_new, "fragment_new"),
    ("POST", "/failures/{failure_id}/fragments/new", pieces.fragment_new, "fragment_create"),
    ("GET", "/fragments/{fragment_id}/correct", pieces.fragment_correct, "fragment_correct"),
    ("POST", "/fragments/{fragment_id}/correct", pieces.fragment_correct, "fragment_correct_save"),
    ("GET", "/failures/{failure_id}/sites/new", pieces.site_new, "site_new"),
    ("POST", "/failures/{failure_id}/sites/new", pieces.site_new, "site_create"),
    ("GET", "/sites/{site_id}/correct", pieces.site_correct, "site_correct"),
    ("POST", "/sites/{site_id}/correct", pieces.site_correct, "site_correct_save"),
    ("GET", "/failures/{failure_id}/faces/new", pieces.face_new, "face_new"),
    ("POST", "/failures/{failure_id}/faces/new", pieces.face_new, "face_create"),
    ("GET", "/faces/{face_id}/edit", pieces.face_edit, "face_edit"),
    ("POST", "/faces/{face_id}/edit", pieces.face_edit, "face_update"),
    ("GET", "/fragments/{fragment_id}/treatments/new", pieces.treatment_new, "treatment_new"),
    ("POST", "/fragments/{fragment_id}/treatments/new", pieces.treatment_new, "treatment_create"),
    ("GET", "/treatments/{treatment_id}/correct", pieces.treatment_correct, "treatment_correct"),
    ("POST", "/treatments/{treatment_id}/correct", pieces.treatment_correct, "treatment_correct_save"),
    # photos of a face: adding, preparing, measuring
    ("GET", "/faces/{face_id}", faces.face, "face"),
    ("POST", "/faces/{face_id}/photos", faces.photo_upload, "photo_upload"),
    ("GET", "/photos/{photo_id}/thumb.jpg", photos.photo_thumb, "photo_thumb"),
    ("GET", "/photos/{photo_id}/view.jpg", photos.photo_view, "photo_view"),
    ("GET", "/photos/{photo_id}/original", photos.photo_original, "photo_original"),
    ("GET", "/photos/{photo_id}/prepare", photos.prepare, "prepare"),
    ("POST", "/photos/{photo_id}/scale", photos.scale_save, "scale_save"),
    ("POST", "/photos/{photo_id}/outline", photos.outline_save, "outline_save"),
    ("POST", "/photos/{photo_id}/outline/find", photos.outline_find, "outline_find"),
    ("POST", "/photos/{photo_id}/measure", photos.measure, "measure"),
    # a measuring and what came of it
    ("GET", "/jobs/{job_id}", measurements.job, "job"),
    ("POST", "/jobs/{job_id}/cancel", measurements.job_cancel, "job_cancel"),
    ("GET", "/measurements/{measurement_id}", measurements.measurement, "measurement"),
    ("GET", "/measurements/{measurement_id}/result.json", measurements.measurement_json, "measurement_json"),
    ("GET", "/measurements/{measurement_id}/layers/{name}.png", measurements.layer, "layer"),
    ("GET", "/measurements/{measurement_id}/strips/{number}.png", measurements.strip, "strip"),
    ("GET", "/measurements/{measurement_id}/overlay.jpg", measurements.overlay, "overlay"),
    # marks of a person, and measuring again with them
    ("GET", "/measurements/{measurement_id}/marks", marks.marks, "marks"),
    ("POST", "/measurements/{measurement_id}/marks", marks.marks_measure, "marks_measure"),
    # the mating half laid on it
    ("GET", "/measurements/{measurement_id}/mate", halves.halves, "halves"),
    ("GET", "/measurements/{measurement_id}/mate/{which}.jpg", halves.half, "half"),
    # one gap of it, and the cause that people say
    ("GET", "/measurements/{measurement_id}/gaps/{number}", gaps.gap_cause, "gap_cause"),
    ("POST", "/measurements/{measurement_id}/gaps/{number}", gaps.gap_cause, "gap_cause_keep"),
    # the count by hand: under way, then finished
    ("GET", "/photos/{photo_id}/count", counts.point_count, "point_count"),
    ("POST", "/photos/{photo_id}/count", counts.point_count_start, "point_count_start"),
    ("POST", "/counts/drafts/{draft_id}/marks", counts.count_marks, "count_marks"),
    ("POST", "/counts/drafts/{draft_id}/finish", counts.count_finish, "count_finish"),
    ("POST", "/counts/drafts/{draft_id}/drop", counts.count_drop, "count_drop"),
    ("GET", "/counts/{count_id}", counts.count, "count"),
    ("POST", "/counts/{count_id}/more", counts.count_more, "count_more"),
    ("POST", "/counts/{count_id}/correct", counts.count_correct, "count_correct"),
    # the published interface
    ("POST", "/api/faces/{face_id}/photos", api.add_photos, "api_add_photos"),
    ("POST", "/api/photos/{photo_id}/measurements", api.order_measurement, "api_order_measurement"),
    ("POST", "/api/measure", api.measure_photo, "api_measure_photo"),
    ("GET", "/api/photos/{photo_id}/counts", api.list_counts, "api_list_counts"),
    ("GET", "/api/jobs/{job_id}", api.read_job, "api_read_job"),
    ("GET", "/api/measurements/{measurement_id}", api.read_measurement, "api_read_measurement"),
    ("GET", "/api/parts", api.list_parts, "api_list_parts"),
    ("GET", "/api/parts/{part_id}", api.read_part, "api_read_part"),
    ("GET", "/api/failures/{failure_id}", api.read_failure, "api_read_failure"),
    # what was seen, the verdict, the summary
    ("GET", "/failures/{failure_id}/observations", observations.observations, "observations"),
    ("POST", "/failures/{failure_id}/observations", observations.observations_keep, "observations_keep"),
    ("GET", "/failures/{failure_id}/verdict", verdicts.verdict, "verdict"),
    ("POST", "/failures/{failure_id}/verdict", verdicts.verdict_keep, "verdict_keep"),
    ("POST", "/failures/{failure_id}/verdict/person", verdicts.verdict_person, "verdict_person"),
    # loads, what the welds bear, and one held against the other
    ("GET", "/failures/{failure_id}/strength", strength.strength, "strength"),
    ("GET", "/failures/{failure_id}/loads/new", strength.load_new, "load_new"),
    ("POST", "/failures/{failure_id}/loads/new", strength.load_new, "load_create"),
    ("GET", "/loads/{load_id}/correct", strength.load_correct, "load_correct"),
    ("POST", "/loads/{load_id}/correct", strength.load_correct, "load_correct_save"),
    ("GET", "/failures/{failure_id}/weld", strength.weld, "weld"),
    ("POST", "/failures/{failure_id}/weld", strength.weld, "weld_keep"),
    # the prior, the summary
    ("GET", "/settings/prior", prior.prior, "prior"),
    ("POST", "/settings/prior", prior.prior_keep, "prior_keep"),
    ("GET", "/failures/{failure_id}/summary", summaries.summary, "summary"),
    ("POST", "/failures/{failure_id}/summary", summaries.summary_keep, "summary_keep"),
    ("GET", "/failures/{failure_id}/summary/print", summaries.summary_print, "summary_print"),
    ("GET", "/failures/{failure_id}/summary.pdf", summaries.summary_pdf, "summary_pdf"),
]


def add_addresses(app: FastAPI) -> None:
    """Give each row its address. Only what stands under /api is part of the published interface."""
    for method, path, handler, name in ROWS:
        if path.startswith("/api/"):
            app.add_api_route(path, handler, methods=[method], name=name, **getattr(handler, "route_options", {}))
        else:
            app.add_api_route(path, handler, methods=[method], name=name, include_in_schema=False, response_model=None)
