"""From an accepted form to an entry, and from an entry back to a form that is to correct it."""

from typing import Any

from sqlmodel import Session

from server.forms.loads import LoadForm, WeldForm
from server.records import LoadCase, WeldStrength
from server.strength.entries import own_site
from server.strength.presets import preset, source_words
from server.verdict.scope import Scope

NO_NOTCH = (1.0, 1.0)


def keep_load(session: Session, scope: Scope, form: LoadForm, before: LoadCase | None = None) -> LoadCase:
    """Add the load; the entry that it corrects stays and is named by it."""
    low, high = form.reach.data or (0.0, 0.0)
    azimuth = form.azimuth.data if form.lies_in_face() else None
    record = LoadCase(
        failure_id=scope.failure_id,
        site_id=before.site_id if before else own_site(scope),
        face_id=form.face_id.data,
        replaces_id=before.id if before else None,
        name=form.name.data,
        action=form.action.data,
        tilt_deg=form.tilt_deg() or 0.0,
        azimuth_deg=azimuth,
        azimuth_typed=form.azimuth.typed() if azimuth is not None else "",
        reach_low_mm=low,
        reach_high_mm=high,
        offset_right_mm=form.offset_right_mm.data or 0.0,
        offset_down_mm=form.offset_down_mm.data or 0.0,
        how_known=form.how_known.data,
        entered_by=form.entered_by.data,
        is_withdrawn=bool("is_withdrawn" in form and form["is_withdrawn"].data),
        correction_reason=form["correction_reason"].data if "correction_reason" in form else "",
        **_force(form),
    )
    session.add(record)
    session.commit()
    return record


def _force(form: LoadForm) -> dict[str, Any]:
    """Return the force as typed, else as the table has it; its source is named only where it is the table's own."""
    known = preset(form.preset.data) if form.preset.data else None
    if form.force.data:
        low, high = form.force.data
        same = known is not None and (low, high) == (known.force_n.low, known.force_n.high)
        typed = form.force.typed()
    elif known:
        low, high, same, typed = known.force_n.low, known.force_n.high, True, ""
    else:
        raise ValueError("a form without a force was accepted")
    return {
        "force_low_n": low,
        "force_high_n": high,
        "force_typed": typed,
        "preset": known.code if known and same else "",
        "source": source_words(known) if known and same else "",
    }


def keep_weld(session: Session, scope: Scope, form: WeldForm, before: WeldStrength | None) -> WeldStrength:
    """Add what is said of the welds; the entry before stays and is named by it."""
    low, high = form.strength.data
    notch_low, notch_high = form.notch.data or NO_NOTCH
    site = before.site_id if before else own_site(scope)
    # On a site of several, what was said for all stays as it is; this site gets its own.
    own = before if before and (len(scope.sites) < 2 or before.site_id == scope.site_id) else None
    record = WeldStrength(
        failure_id=scope.failure_id,
        site_id=site if own else own_site(scope),
        replaces_id=own.id if own else None,
        low_mpa=low,
        high_mpa=high,
        typed=form.strength.typed(),
        notch_low=notch_low,
        notch_high=notch_high,
        correction_reason=form["correction_reason"].data if "correction_reason" in form else "",
        **{name: form[name].data for name in ("origin", "material", "service_c", "how_known", "entered_by")},
    )
    session.add(record)
    session.commit()
    return record


def as_form(load: LoadCase) -> dict[str, Any]:
    """Return what the form that corrects the load is filled in with."""
    names = (
        "name", "preset", "action", "face_id", "offset_right_mm", "offset_down_mm", "how_known", "is_withdrawn",
    )  # fmt: skip
    held: dict[str, Any] = {name: getattr(load, name) for name in names}
    held["force"] = (load.force_low_n, load.force_high_n)
    held["reach"] = (load.reach_low_mm, load.reach_high_mm) if load.reach_high_mm else None
    held["azimuth"] = load.azimuth_deg
    held["tilt"] = load.tilt_deg if load.action == "aslant" else None
    return held


def as_weld_form(weld: WeldStrength) -> dict[str, Any]:
    """Return what the form that corrects the weld's strength is filled in with."""
    held: dict[str, Any] = {name: getattr(weld, name) for name in ("origin", "material", "service_c", "how_known")}
    held["strength"] = (weld.low_mpa, weld.high_mpa)
    held["notch"] = (weld.notch_low, weld.notch_high) if weld.notch_high > 1 else None
    return held
