"""What the broken face could carry along the stated load, in the planner's terms; or why that isn't known."""

from dataclasses import dataclass

from sqlmodel import Session

from analysis.nextbuild.outlook import Baseline
from server.verdict.scope import Scope

NO_LOAD = "No load was stated for this break, or none can be held against its face."


@dataclass(frozen=True)
class Standing:
    """Capacity and load of the broken face in N, or None and the reason; `load_name` says which load."""

    baseline: Baseline | None
    load_name: str = ""
    why_not: str = ""


def standing_of(session: Session, scope: Scope) -> Standing:
    """The face and the load that the break is best explained by."""
    return Standing(None, why_not=NO_LOAD)
