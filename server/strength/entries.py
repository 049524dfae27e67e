"""Loads and weld strengths as entered: which of them count for a place of the break, and what came before them."""

from dataclasses import dataclass
from typing import TypeVar

from sqlmodel import Session, col, select

from server.case.current import not_replaced
from server.forms.ranges import clock_words, range_words
from server.records import LoadCase, WeldStrength
from server.verdict.scope import Scope, faces_of
from server.wording import words

Entry = TypeVar("Entry", LoadCase, WeldStrength)


def own_site(scope: Scope) -> int | None:
    """Return the site under which an entry is kept: the one looked at, or the only one there is."""
    if scope.site:
        return scope.site_id
    return scope.sites[0].id if len(scope.sites) == 1 else None


def _all(session: Session, scope: Scope, kind: type[Entry]) -> list[Entry]:
    """Return every entry for the scope, the oldest first; what was said before sites were told apart counts for all."""
    query = select(kind).where(kind.failure_id == scope.failure_id).order_by(col(kind.id))
    rows = session.exec(query).all()
    if len(scope.sites) < 2:
        return list(rows)
    return [row for row in rows if row.site_id in (None, scope.site_id)]


def all_loads(session: Session, scope: Scope) -> list[LoadCase]:
    """Return the loads of the scope, corrected and withdrawn ones among them."""
    faces = {face.id for face in faces_of(session, scope)}
    return [load for load in _all(session, scope, LoadCase) if load.face_id is None or load.face_id in faces]


def current_loads(session: Session, scope: Scope) -> list[LoadCase]:
    """Return the loads that are reckoned with."""
    return [load for load in not_replaced(all_loads(session, scope)) if not load.is_withdrawn]


def all_welds(session: Session, scope: Scope) -> list[WeldStrength]:
    """Return what was said of the welds, the entry that counts last; a site's own goes before that for all."""
    rows = not_replaced(_all(session, scope, WeldStrength))
    return sorted(rows, key=lambda row: (row.site_id is not None, row.id or 0))


def weld_history(session: Session, scope: Scope) -> list[WeldStrength]:
    """Return every entry on the welds, the oldest first."""
    return _all(session, scope, WeldStrength)


def current_weld(session: Session, scope: Scope) -> WeldStrength | None:
    """Return what counts of the welds, None where nothing was said yet."""
    rows = all_welds(session, scope)
    return rows[-1] if rows else None


@dataclass(frozen=True)
class Before:
    """An entry that a later one replaced, and why."""

    entry: LoadCase
    reason: str


def earlier(load: LoadCase, rows: list[LoadCase]) -> list[Before]:
    """Return what stood before `load`, the newest first."""
    by_key = {row.id: row for row in rows}
    found, reason, before = [], load.correction_reason, by_key.get(load.replaces_id)
    while before:
        found.append(Before(before, reason))
        reason, before = before.correction_reason, by_key.get(before.replaces_id)
    return found


def force_words(load: LoadCase) -> str:
    """Write the force in N, and beside it as it was typed where that was in another unit."""
    said = range_words((load.force_low_n, load.force_high_n)) + " N"
    typed = load.force_typed
    return said if not typed or typed.rstrip().endswith("N") else f"{said} ({typed})"


def direction_words(load: LoadCase) -> str:
    """Say how the load acts."""
    said = words(load.action, "load_action").partition(":")[0]
    if load.action == "aslant":
        said = f"{load.tilt_deg:g}° from straight off"
    return said if load.azimuth_deg is None else f"{said}, towards {clock_words(load.azimuth_deg)} on the photo"


def place_words(load: LoadCase) -> str:
    """Say where the load takes hold."""
    said = []
    if load.reach_high_mm:
        said.append(f"{range_words((load.reach_low_mm, load.reach_high_mm))} mm off the face")
    if load.offset_right_mm:
        said.append(f"{abs(load.offset_right_mm):g} mm to the {'right' if load.offset_right_mm > 0 else 'left'}")
    if load.offset_down_mm:
        said.append(f"{abs(load.offset_down_mm):g} mm {'below' if load.offset_down_mm > 0 else 'above'} the middle")
    return ", ".join(said) or "right at the break, over the middle of the face"


def load_line(load: LoadCase) -> str:
    """Say a load in one line."""
    return f"{load.name}: {force_words(load)}, {direction_words(load)}, {place_words(load)}"


def weld_line(weld: WeldStrength) -> str:
    """Say what was given of the welds in one line."""
    notch = "no notch factor"
    if weld.notch_high > 1:
        notch = f"notch factor {range_words((weld.notch_low, weld.notch_high))}"
    said = [f"{range_words((weld.low_mpa, weld.high_mpa))} MPa", words(weld.origin, "weld_origin"), weld.material]
    said += [f"at {weld.service_c:g} °C" if weld.service_c is not None else "", notch]
    return ", ".join(text for text in said if text)
