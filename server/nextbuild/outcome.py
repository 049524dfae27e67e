"""Was it right? What a chosen plan promised against what inspections and failures of its build showed."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session, col, select

from analysis.evidence.words import share_words
from server.case.current import failure_entries
from server.naming import build_name
from server.pages import day
from server.records import Build, ChosenPlan, Failure, Inspection, Service


@dataclass(frozen=True)
class Outcome:
    """One chosen plan and what came of it: open, holds, damaged or failed; in words."""

    chosen: ChosenPlan
    build: str
    promised: str
    state: str
    happened: str
    failure_id: int | None = None


def chosen_plans(session: Session, failure_id: int) -> list[ChosenPlan]:
    """The plans chosen for a failure, the newest first."""
    query = select(ChosenPlan).where(ChosenPlan.failure_id == failure_id).order_by(col(ChosenPlan.id).desc())
    return list(session.exec(query).all())


def outcomes(session: Session, failure_id: int) -> list[Outcome]:
    """Prediction beside outcome for every plan chosen for a failure."""
    return [_outcome(session, chosen) for chosen in chosen_plans(session, failure_id)]


def promised_looks(session: Session, build_id: int) -> list[date]:
    """Days of the first look that were promised with the plan that a build came from; none once it was fitted."""
    if session.exec(select(Service.id).where(Service.build_id == build_id)).first() is not None:
        return []
    chosen = session.exec(select(ChosenPlan).where(ChosenPlan.build_id == build_id)).all()
    return [plan.first_look_on for plan in chosen]


def promised_words(said: dict[str, Any]) -> str:
    """The prediction as it was kept."""
    outlook = said.get("outlook")
    if not outlook:
        low, high = said["gain"]
        return f"No probability could be given; {low:.1f} to {high:.1f} times the capacity was expected."
    return (
        f"{share_words(outlook['after'])} that the load exceeds the capacity again (before: it broke); "
        f"{outlook['capacity_n'][0]:.0f} to {outlook['capacity_n'][1]:.0f} N expected."
    )


def _outcome(session: Session, chosen: ChosenPlan) -> Outcome:
    build = session.get(Build, chosen.build_id)
    name = build_name(build) if build else f"build {chosen.build_id}"
    stays = list(session.exec(select(Service).where(Service.build_id == chosen.build_id)).all())
    failures = list(session.exec(select(Failure).where(Failure.build_id == chosen.build_id)).all())
    promised = promised_words(chosen.said)
    if failures:
        found = failure_entries(session, [one.id for one in failures])
        first = min(failures, key=lambda one: found[one.id or 0][-1].found_on)
        on = found[first.id or 0][-1].found_on
        return Outcome(chosen, name, promised, "failed", f"It broke, found {day(on)}{_after(stays, on)}.", first.id)
    looks = session.exec(
        select(Inspection)
        .where(col(Inspection.service_id).in_([stay.id for stay in stays]), col(Inspection.done_on).is_not(None))
        .order_by(col(Inspection.done_on))
    ).all()
    if not looks:
        waiting = "It is in service and has not been looked at yet." if stays else "It is not in service yet."
        return Outcome(chosen, name, promised, "open", waiting)
    last = looks[-1]
    assert last.done_on is not None
    state = {"sound": "holds", "": "holds"}.get(last.result, "damaged")
    said = {"holds": "no damage was seen", "damaged": "it was found worn or damaged"}[state]
    happened = f"At the last look, {day(last.done_on)}{_after(stays, last.done_on)}, {said}."
    return Outcome(chosen, name, promised, state, happened)


def _after(stays: list[Service], on: date) -> str:
    begun = [stay.fitted_on for stay in stays if stay.fitted_on <= on]
    return f", {(on - min(begun)).days} days after fitting" if begun else ""
