"""A chosen plan becomes the next build: its settings, its reasons, and the day of the first look."""

from dataclasses import asdict
from datetime import date
from typing import Any

from sqlmodel import Session, col, func, select

from analysis.nextbuild.effects import Candidate
from analysis.nextbuild.plans import Plan, Ranking
from server import __version__
from server.nextbuild.gathering import Known
from server.records import Build, Change, ChosenPlan, Revision
from server.verdict.scope import Scope

# What is taken over from the broken build; dates, notes and keys are the new build's own.
_KEPT = (
    "printer_id", "spool_id", "nozzle_mm", "line_width_mm", "layer_height_mm", "wall_count", "infill_percent",
    "nozzle_c", "bed_c", "chamber_c", "fan_percent", "orientation",
)  # fmt: skip
_WIDER, _THINNER, _HOTTER_C, _FAN = 1.3, 0.75, 10.0, 0.5


def plan_json(plan: Plan) -> dict[str, Any]:
    """A plan with all that was said of it, as it is kept and sent."""
    outlook = plan.outlook
    return {
        "key": plan.key,
        "changes": [_change_json(one) for one in plan.changes],
        "also": [_change_json(one) for one in plan.also],
        "gain": plan.joint.factor.to_json(),
        "notes": list(plan.joint.notes),
        "outlook": None if outlook is None else asdict(outlook),
        "surer_than_next": plan.surer_than_next,
        "knowledge": list(plan.knowledge),
    }


def _change_json(one: Candidate) -> dict[str, Any]:
    kind = one.kind
    return {
        "code": kind.code,
        "words": one.words,
        "do": kind.do,
        "effect": one.effect.to_json() if one.effect else None,
        "reason": kind.reason,
        "time": kind.time,
        "risk": kind.risk,
        "source": kind.source,
        "status": kind.status,
    }


def choose(
    session: Session, scope: Scope, known: Known, ranking: Ranking, plan: Plan, first_look: date, by: str, reason: str
) -> ChosenPlan:
    """Add the changes, the revision where the model changes, the planned build, and the choice itself."""
    changes = [
        Change(failure_id=scope.failure_id, what=f"{one.words}. {one.kind.do}", why=one.kind.reason)
        for one in (*plan.changes, *plan.also)
    ]
    revision = _revision(session, scope, plan, reason)
    for change in changes:
        change.done_in_revision_id = revision.id
        session.add(change)
    build = _build(known.build, revision, plan)
    session.add(build)
    session.flush()
    chosen = ChosenPlan(
        failure_id=scope.failure_id,
        build_id=build.id or 0,
        plan_key=plan.key,
        said=plan_json(plan) | {"wanted": ranking.wanted, "ranking": ranking.words, "load": known.standing.load_name},
        reason=reason,
        chosen_by=by,
        first_look_on=first_look,
        program_version=__version__,
    )
    session.add(chosen)
    session.commit()
    return chosen


def changes_model(plan: Plan) -> bool:
    """Whether the drawing changes, or only how it is printed."""
    return any(one.kind.room or one.kind.cuts or one.kind.code == "split_turned" for one in (*plan.changes, *plan.also))


def _revision(session: Session, scope: Scope, plan: Plan, reason: str) -> Revision:
    if not changes_model(plan):
        return scope.revision
    highest = session.exec(select(func.max(col(Revision.number))).where(Revision.part_id == scope.part.id)).one()
    revision = Revision(
        part_id=scope.part.id or 0,
        number=int(highest or 0) + 1,
        what_changed="; ".join(one.words for one in (*plan.changes, *plan.also)),
        why=reason,
    )
    session.add(revision)
    session.flush()
    return revision


def _build(broken: Build | None, revision: Revision, plan: Plan) -> Build:
    settings = {name: getattr(broken, name) for name in _KEPT} if broken else {}
    for one in plan.changes:
        settings |= _settings(one.kind.code, settings)
    if any(one.kind.code == "material" for one in plan.changes):
        settings["spool_id"] = None  # which spool it will be is chosen when it is built
    told = "\n".join(f"{one.words}: {one.kind.do}" for one in (*plan.changes, *plan.also))
    return Build(revision_id=revision.id or 0, **settings, note=f"Planned.\n{told}")


def _settings(code: str, now: dict[str, Any]) -> dict[str, Any]:
    """The settings that a change alters, as far as they were known."""
    width, height, heat, fan, walls = (
        now.get(name) for name in ("line_width_mm", "layer_height_mm", "nozzle_c", "fan_percent", "wall_count")
    )
    if code == "wider_roads" and now.get("nozzle_mm"):
        return {"line_width_mm": round(max(width or 0.0, _WIDER * now["nozzle_mm"]), 2)}
    if code == "thinner_layers" and height:
        return {"layer_height_mm": round(_THINNER * height, 3)}
    if code == "hotter_nozzle" and heat:
        return {"nozzle_c": heat + _HOTTER_C}
    if code == "less_fan" and fan:
        return {"fan_percent": round(_FAN * fan)}
    if code == "more_walls" and walls:
        return {"wall_count": walls + 2}
    return {"orientation": ""} if code in ("orientation", "split_turned") else {}
