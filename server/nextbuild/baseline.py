"""What the broken face could carry along the stated load, in the planner's terms; or why that isn't known."""

from dataclasses import dataclass

from sqlmodel import Session

from analysis.nextbuild.outlook import Baseline
from analysis.strength.assessment import CaseResult
from server.strength.assessing import Held, hold
from server.strength.entries import current_loads, current_weld
from server.verdict.scope import Scope, sequences

NO_LOAD = "No load was stated for this break, so no probability is given."
NO_WELD = "No strength of the weld was stated, so no probability is given."
NO_CAPACITY = "No stated load can be held against a measured face, so no probability is given."


@dataclass(frozen=True)
class Standing:
    """Capacity and load of the broken face in N, or None and the reason; `load_name` says which load."""

    baseline: Baseline | None
    load_name: str = ""
    why_not: str = ""


def standing_of(session: Session, scope: Scope) -> Standing:
    """The face and the load that the break is best explained by; of several sites the one that let go first."""
    place = _first_site(session, scope)
    if not current_loads(session, place):
        return Standing(None, why_not=NO_LOAD)
    if current_weld(session, place) is None:
        return Standing(None, why_not=NO_WELD)
    _, held = hold(session, place, session.info["store"])
    cases = [case for one in held for case in _told(one)]
    if not cases:
        return Standing(None, why_not=NO_CAPACITY)
    best = max(cases, key=lambda case: case.explains or 0.0)
    assert best.as_built_n is not None
    return Standing(Baseline(best.as_built_n, best.load.force_n), best.load.name)


def _told(held: Held) -> list[CaseResult]:
    return [case for case in held.found.cases if case.as_built_n is not None] if held.found else []


def _first_site(session: Session, scope: Scope) -> Scope:
    held = sequences(session, scope)
    first = next((one for one in scope.sites if (entry := held.get(one.id or 0)) and entry.sequence == "first"), None)
    return scope.at(first) if scope.site is None and first else scope
