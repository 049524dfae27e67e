"""Records for tests: each builder makes what it needs around it, so a test names only what matters to it."""

import io
from datetime import date
from typing import Any, TypeVar

from PIL import Image
from sqlmodel import Session, SQLModel

from server.records import (
    BreakSite,
    Build,
    Change,
    CouponTest,
    Face,
    Failure,
    FailureEntry,
    Fragment,
    FragmentEntry,
    Inspection,
    LockedFeature,
    OwnMaterial,
    Part,
    PersonVerdict,
    Photo,
    Printer,
    Revision,
    Service,
    SiteEntry,
    Spool,
    VerdictRecord,
)

Row = TypeVar("Row", bound=SQLModel)


def keep(session: Session, record: Row) -> Row:
    """Store `record` and return it with its key."""
    session.add(record)
    session.commit()
    session.refresh(record)
    return record


def make_part(session: Session, **overrides: Any) -> Part:
    return keep(session, Part(**{"name": "Hinge arm", **overrides}))


def make_locked(session: Session, part: Part | None = None, **overrides: Any) -> LockedFeature:
    part = part or make_part(session)
    return keep(session, LockedFeature(**{"part_id": part.id, "what": "bore 8 mm", "reason": "the pin", **overrides}))


def make_revision(session: Session, part: Part | None = None, **overrides: Any) -> Revision:
    part = part or make_part(session)
    return keep(session, Revision(**{"part_id": part.id, "number": 1, **overrides}))


def make_spool(session: Session, **overrides: Any) -> Spool:
    return keep(session, Spool(**{"material": "PETG", **overrides}))


def make_own_material(session: Session, **overrides: Any) -> OwnMaterial:
    return keep(
        session, OwnMaterial(**{"name": "grey one", "figures": {}, "ratings": {}, "source": "label", **overrides})
    )


def make_test(session: Session, spool: Spool | None = None, forces_n: tuple[float, ...] = (), **overrides: Any) -> Any:
    """Make a test of upright bars of 10 by 4 mm; `forces_n` at break, 800 N and near where nothing is said."""
    spool = spool or make_spool(session)
    forces = forces_n or (790.0, 800.0, 820.0)
    values = {
        "spool_id": spool.id,
        "geometry": "iso527_1a",
        "orientation": "upright",
        "tested_on": date(2026, 1, 5),
        "bars": [{"force_n": force, "width_mm": 10.0, "thickness_mm": 4.0, "note": ""} for force in forces],
        "typed": "\n".join(f"{force:g} N, 10 x 4 mm" for force in forces),
        "tested_by": "O. Farrow",
    }
    return keep(session, CouponTest(**{**values, **overrides}))


def make_printer(session: Session, **overrides: Any) -> Printer:
    return keep(session, Printer(**{"name": "tall one", **overrides}))


def make_build(session: Session, revision: Revision | None = None, **overrides: Any) -> Build:
    revision = revision or make_revision(session)
    values = {"built_on": date(2026, 1, 10), "line_width_mm": 0.45, "layer_height_mm": 0.2, "wall_count": 3}
    return keep(session, Build(**{"revision_id": revision.id, **values, **overrides}))


def make_service(session: Session, build: Build | None = None, **overrides: Any) -> Service:
    build = build or make_build(session)
    return keep(session, Service(**{"build_id": build.id, "fitted_on": date(2026, 1, 15), **overrides}))


def make_inspection(session: Session, service: Service | None = None, **overrides: Any) -> Inspection:
    service = service or make_service(session)
    return keep(session, Inspection(**{"service_id": service.id, "due_on": date(2026, 2, 15), **overrides}))


ACCOUNT = set(FailureEntry.model_fields)


def make_failure(session: Session, part: Part | None = None, **overrides: Any) -> Failure:
    """Make a failure with its first entry; fields of either may be given. `service` or `build` name what broke."""
    service, build, revision = (
        overrides.pop("service", None),
        overrides.pop("build", None),
        overrides.pop("revision", None),
    )
    if service and not build:
        build = session.get(Build, service.build_id)
    revision_id = build.revision_id if build else (revision or make_revision(session, part)).id
    said = {name: overrides.pop(name) for name in list(overrides) if name in ACCOUNT}
    ids = {
        "revision_id": revision_id,
        "build_id": build.id if build else None,
        "service_id": service.id if service else None,
    }
    failure = keep(session, Failure(**{**ids, **overrides}))
    keep(session, FailureEntry(**{"failure_id": failure.id, "found_on": date(2026, 3, 1), **said}))
    return failure


def make_fragment(session: Session, failure: Failure | None = None, **overrides: Any) -> Fragment:
    failure = failure or make_failure(session)
    label = overrides.pop("item_label", "1")
    piece = keep(session, Fragment(failure_id=failure.id, item_label=label))
    keep(session, FragmentEntry(**{"fragment_id": piece.id, "status": "recovered", **overrides}))
    return piece


def make_site(session: Session, failure: Failure | None = None, **overrides: Any) -> BreakSite:
    failure = failure or make_failure(session)
    site = keep(session, BreakSite(failure_id=failure.id, name=overrides.pop("name", "root of the arm")))
    keep(session, SiteEntry(**{"site_id": site.id, **overrides}))
    return site


def make_face(session: Session, fragment: Fragment | None = None, **overrides: Any) -> Face:
    fragment = fragment or make_fragment(session)
    return keep(session, Face(**{"fragment_id": fragment.id, "name": "1a", **overrides}))


def photo_bytes(width: int = 64, height: int = 48, colour: tuple[int, int, int] = (120, 110, 100)) -> bytes:
    """Return a plain JPEG."""
    buffer = io.BytesIO()
    Image.new("RGB", (width, height), colour).save(buffer, "JPEG")
    return buffer.getvalue()


def make_photo(session: Session, face: Face | None = None, app: Any = None, **overrides: Any) -> Photo:
    """Make a photo record; with `app` its bytes are kept in the application's store as well (`data` gives them)."""
    data = overrides.pop("data", None) or photo_bytes()
    ids = {} if "failure_id" in overrides else {"face_id": (face or make_face(session)).id}
    sha256 = app.state.store.put(data) if app else "0" * 64
    values = {
        "sha256": sha256,
        "file_name": "face.jpg",
        "media_type": "image/jpeg",
        "size_bytes": len(data),
        "width_px": 64,
        "height_px": 48,
    }
    return keep(session, Photo(**{**values, **ids, **overrides}))


def make_change(session: Session, failure: Failure | None = None, **overrides: Any) -> Change:
    failure = failure or make_failure(session)
    return keep(session, Change(**{"failure_id": failure.id, "what": "four walls instead of two", **overrides}))


def make_verdict(session: Session, failure: Failure | None = None, **overrides: Any) -> VerdictRecord:
    failure = failure or make_failure(session)
    return keep(session, VerdictRecord(**{"failure_id": failure.id, "primary": "overload", **overrides}))


def make_person_verdict(session: Session, failure: Failure | None = None, **overrides: Any) -> PersonVerdict:
    failure = failure or make_failure(session)
    return keep(session, PersonVerdict(**{"failure_id": failure.id, "mode": "overload", **overrides}))
