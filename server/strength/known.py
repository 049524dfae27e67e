"""What is known of the welds before anybody gives a figure: the spool of the build, its own test bars or the table."""

from typing import Any

from sqlmodel import Session

from analysis.materials.finding import find_material
from analysis.materials.strength import interlayer_mpa
from server.forms.loads import WeldForm
from server.materials.torn import Strength, interlayer_of_spool
from server.naming import spool_name
from server.records import Build, Service, Spool
from server.verdict.scope import Scope

ORIGINS = {"coupon": "coupon", "table": "table", "own": "table"}


def spool_of(session: Session, scope: Scope) -> Spool | None:
    """Return the spool that the broken build was printed from."""
    build = session.get(Build, scope.failure.build_id) if scope.failure.build_id else None
    return session.get(Spool, build.spool_id) if build and build.spool_id else None


def offered(session: Session, scope: Scope) -> dict[str, Any]:
    """Return what the form is filled in with where nothing was said yet: a start that a person looks over."""
    spool = spool_of(session, scope)
    if spool is None:
        return {}
    service = session.get(Service, scope.failure.service_id) if scope.failure.service_id else None
    warm = service.highest_c if service else None
    held = {"material": spool.material, "service_c": warm}
    known = interlayer_of_spool(session, spool, warm)
    return held | (filled(known) if known.span_mpa else {"how_known": f"{spool_name(spool)}: {known.why}"})


def filled(known: Strength) -> dict[str, Any]:
    """Return a known strength as the form's fields hold it."""
    if known.span_mpa is None:
        return {}
    low, high = (float(f"{value:.3g}") for value in known.span_mpa)
    return {"strength": (low, high), "origin": ORIGINS.get(known.origin, "judgement"), "how_known": known.why}


def look_up(session: Session, scope: Scope, form: WeldForm) -> Strength:
    """Return the strength for the material and temperature that the form names."""
    spool, warm = spool_of(session, scope), form.service_c.data
    if spool and form.material.data.casefold() in ("", spool.material.casefold()):
        return interlayer_of_spool(session, spool, warm)
    code, why = find_material(form.material.data)
    if code is None:
        return Strength(None, why)
    span, why = interlayer_mpa(code, warm)
    return Strength(span, why, "table")
