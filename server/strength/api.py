"""Load and strength of a place as the published interface gives them."""

from typing import Any

from sqlmodel import Session

from analysis.evidence.cautions import CAN_HURT
from analysis.strength.knockdown import knock_down
from analysis.strength.uncertainty import sections_json
from analysis.strength.wording import UPPER_BOUND
from server.api_models import StrengthOut
from server.records import LoadCase, WeldStrength
from server.store import Store
from server.strength.assessing import Held, hold
from server.strength.entries import current_loads, current_weld
from server.verdict.scope import Scope

NEVER = "It never says that a part is safe: a load that is hardly known is held against a weld that is hardly known."
EACH = "It broke at several places; ask for one of them with ?site=."


def strength_out(session: Session, scope: Scope, store: Store) -> StrengthOut:
    """Return everything known of load and strength at the scope; what can't be had is null with its reason."""
    several = scope.site is None and len(scope.sites) > 1
    weld = current_weld(session, scope)
    reasons = {"faces": EACH} if several else {}
    found, held = (None, []) if several else hold(session, scope, store)
    for one in found.missing if found else ():
        reasons[f"face {one.face.id}"] = one.why
    if weld is None:
        reasons["weld"] = "No strength of the weld is given yet, so no force in N can be told."
    return StrengthOut(
        failure_id=scope.failure_id,
        site_id=scope.site_id,
        loads=[_load(load) for load in current_loads(session, scope)],
        weld=_weld(weld) if weld else None,
        faces=[_face(one) for one in held],
        chosen_because=(found.chosen_because if found else "") or None,
        cautions=[*(CAN_HURT if scope.part.can_hurt else ()), NEVER, UPPER_BOUND],
        reasons=reasons,
    )


def _load(load: LoadCase) -> dict[str, Any]:
    return load.model_dump(mode="json", exclude={"is_withdrawn", "failure_id"})


def _weld(weld: WeldStrength) -> dict[str, Any]:
    return weld.model_dump(mode="json", exclude={"failure_id"})


def _face(held: Held) -> dict[str, Any]:
    fall, why = (None, held.why) if held.face is None else knock_down(held.face)
    told = held.found.to_json() if held.found else {"cases": [], "whole_too": None, "sentences": [], "reasons": {}}
    return {
        "face_id": held.ground.face.id,
        "measurement_id": held.ground.measurement.id,
        "load_ids": [load.id for load in held.loads],
        **told,
        "sections": None if held.face is None else sections_json(held.face),
        "knock_down": None if fall is None else fall.to_json(),
        "reasons": told["reasons"] | ({"knock_down": why} if why else {}),
    }
