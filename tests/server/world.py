"""One record of each kind that belong together, and every form of the record with what a person could send by it."""

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, SQLModel, select

from server.forms import builds, failures, materials, parts, pieces, shelf
from server.records import Customer, Treatment
from tests.server import builders

YESTERDAY = str(date.today() - timedelta(days=1))


@dataclass(frozen=True)
class FormCase:
    """A form: its address with keys left open, its class, and what fills it in acceptably."""

    name: str
    path: str
    form: Any
    sent: dict[str, str] = field(default_factory=dict)
    shown_on: str = ""  # where its text is read afterwards; "" where no page prints it


PART, CASE, SHELF = "/parts/{part}", "/failures/{failure}", "/shelf"
SPOOL = "/shelf/spools/{spool}"
BARS = {
    "geometry": "own",
    "orientation": "upright",
    "bars": "820 N, 10.1 x 4 mm",
    "tested_on": YESTERDAY,
    "tested_by": "O.",
}
FOUND = {"broken_one": "service-{service}", "found_on": YESTERDAY}

FORMS = [
    FormCase("part_create", "/parts/new", parts.PartForm, {"name": "Lever"}),
    FormCase("part_update", "/parts/{part}/edit", parts.PartForm, {"name": "Lever"}, PART),
    FormCase(
        "locked_create", "/parts/{part}/locked/new", parts.LockedFeatureForm, {"what": "bore", "reason": "pin"}, PART
    ),
    FormCase(
        "locked_update", "/locked/{locked}/edit", parts.LockedFeatureForm, {"what": "bore", "reason": "pin"}, PART
    ),
    FormCase("revision_create", "/parts/{part}/revisions/new", parts.RevisionForm, {"why": "it broke"}, PART),
    FormCase("revision_update", "/revisions/{revision}/edit", parts.RevisionForm, {"why": "it broke"}, PART),
    FormCase("build_create", "/revisions/{revision}/builds/new", builds.BuildForm, {"built_on": YESTERDAY}, PART),
    FormCase("build_update", "/builds/{build}/edit", builds.BuildForm, {"built_on": "2026-01-10"}, PART),
    FormCase("service_create", "/builds/{build}/services/new", builds.ServiceForm, {"fitted_on": YESTERDAY}, PART),
    FormCase("service_update", "/services/{service}/edit", builds.ServiceForm, {"fitted_on": "2026-01-15"}, PART),
    FormCase(
        "inspection_create", "/services/{service}/inspections/new", builds.InspectionForm, {"due_on": YESTERDAY}, PART
    ),
    FormCase("inspection_update", "/inspections/{inspection}/edit", builds.InspectionForm, {"due_on": YESTERDAY}, PART),
    FormCase("printer_create", "/shelf/printers/new", shelf.PrinterForm, {"name": "tall one"}, SHELF),
    FormCase("printer_update", "/shelf/printers/{printer}/edit", shelf.PrinterForm, {"name": "tall one"}, SHELF),
    FormCase("spool_create", "/shelf/spools/new", shelf.SpoolForm, {"material": "ABS"}, SHELF),
    FormCase("spool_update", "/shelf/spools/{spool}/edit", shelf.SpoolForm, {"material": "ABS"}, SHELF),
    FormCase("customer_create", "/shelf/customers/new", shelf.CustomerForm, {"name": "A. Miller"}, SHELF),
    FormCase("customer_update", "/shelf/customers/{customer}/edit", shelf.CustomerForm, {"name": "A. Miller"}, SHELF),
    FormCase("own_material_create", "/materials/own/new", materials.OwnMaterialForm, {"name": "a", "source": "b"}),
    FormCase(
        "own_material_update",
        "/materials/own/{own}/edit",
        materials.OwnMaterialForm,
        {"name": "a", "source": "b"},
        "/materials/own-{own}",
    ),
    FormCase("supply_update", "/materials/petg/supply", materials.SupplyForm, {}, "/materials/petg"),
    FormCase("coupon_create", "/shelf/spools/{spool}/bars/new", materials.CouponForm, BARS, SPOOL),
    FormCase(
        "coupon_correct_save",
        "/bars/{test}/correct",
        materials.CouponCorrectionForm,
        {**BARS, "correction_reason": "misread"},
        SPOOL,
    ),
    FormCase("place_create", "/parts/{part}/place/new", materials.PlaceForm, {"entered_by": "O."}, PART + "/place"),
    FormCase("failure_create", "/parts/{part}/failures/new", failures.FailureForm, FOUND, PART),
    FormCase(
        "failure_correct_save",
        "/failures/{failure}/correct",
        failures.FailureCorrectionForm,
        {**FOUND, "correction_reason": "misread"},
        CASE,
    ),
    FormCase("change_create", "/failures/{failure}/changes/new", failures.ChangeForm, {"what": "thicker"}, CASE),
    FormCase(
        "change_correct_save",
        "/changes/{change}/correct",
        failures.ChangeCorrectionForm,
        {"what": "thicker", "correction_reason": "misread"},
        CASE,
    ),
    FormCase(
        "fragment_create",
        "/failures/{failure}/fragments/new",
        pieces.FragmentForm,
        {"item_label": "7", "status": "missing"},
        CASE,
    ),
    FormCase(
        "fragment_correct_save",
        "/fragments/{fragment}/correct",
        pieces.FragmentCorrectionForm,
        {"item_label": "1", "status": "recovered", "correction_reason": "misread"},
        CASE,
    ),
    FormCase("site_create", "/failures/{failure}/sites/new", pieces.SiteForm, {"name": "boss"}, CASE),
    FormCase(
        "site_correct_save",
        "/sites/{site}/correct",
        pieces.SiteCorrectionForm,
        {"name": "boss", "correction_reason": "misread"},
        CASE,
    ),
    FormCase(
        "face_create",
        "/failures/{failure}/faces/new",
        pieces.FaceForm,
        {"name": "2b", "fragment_id": "{fragment}"},
        CASE,
    ),
    FormCase("face_update", "/faces/{face}/edit", pieces.FaceForm, {"name": "2b", "fragment_id": "{fragment}"}, CASE),
    FormCase(
        "treatment_create", "/fragments/{fragment}/treatments/new", pieces.TreatmentForm, {"done_on": YESTERDAY}, CASE
    ),
    FormCase(
        "treatment_correct_save",
        "/treatments/{treatment}/correct",
        pieces.TreatmentCorrectionForm,
        {"done_on": YESTERDAY, "correction_reason": "misread"},
        CASE,
    ),
]


def make_world(session: Session, **part: Any) -> dict[str, int]:
    """Make one record of each kind, all of one part, and return their keys."""
    customer = builders.keep(session, Customer(name="Old customer"))
    made: dict[str, Any] = {
        "customer": customer,
        "part": builders.make_part(session, **{"customer_id": customer.id, **part}),
    }
    made["locked"] = builders.make_locked(session, made["part"])
    made["revision"] = builders.make_revision(session, made["part"])
    made["printer"], made["spool"] = builders.make_printer(session), builders.make_spool(session)
    made["own"] = builders.make_own_material(session)
    made["test"] = builders.make_test(session, made["spool"])
    made["build"] = builders.make_build(
        session, made["revision"], spool_id=made["spool"].id, printer_id=made["printer"].id
    )
    made["service"] = builders.make_service(session, made["build"])
    made["inspection"] = builders.make_inspection(session, made["service"])
    made["failure"] = builders.make_failure(session, service=made["service"])
    made["fragment"] = builders.make_fragment(session, made["failure"])
    made["site"] = builders.make_site(session, made["failure"])
    made["face"] = builders.make_face(session, made["fragment"], site_id=made["site"].id)
    made["change"] = builders.make_change(session, made["failure"])
    step = Treatment(fragment_id=made["fragment"].id, method="dry_brush", done_on=date(2026, 3, 2))
    made["treatment"] = builders.keep(session, step)
    return {name: record.id for name, record in made.items()}


def row_counts(session: Session) -> dict[str, int]:
    """Return how many rows each table holds."""
    tables = SQLModel.metadata.sorted_tables
    return {table.name: session.exec(select(func.count()).select_from(table)).one() for table in tables}


def filled(case: FormCase, keys: dict[str, int]) -> tuple[str, dict[str, str]]:
    """Return the form's address and what fills it in, with the keys of a world in their places."""
    return case.path.format(**keys), {name: value.format(**keys) for name, value in case.sent.items()}


def named_like(form: Any, *types: str) -> list[str]:
    """Return the names of the form's fields of these WTForms types."""
    return [one.name for one in form() if one.type in types]
