"""What the plan's page shows."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import Request
from sqlmodel import Session

from analysis.evidence.cautions import cautions
from analysis.nextbuild.cost import Cost, part_cost
from analysis.nextbuild.plans import Plan, Ranking
from analysis.nextbuild.situation import MaterialOption
from server.links import address
from server.nextbuild.gathering import Known
from server.nextbuild.opinions import opinions_of, plan_words, tally
from server.nextbuild.outcome import outcomes
from server.records import LockedFeature
from server.verdict.scope import Scope, trail

# First look after fitting: judgement, proposed in the form; the person sets the day.
FIRST_LOOK_DAYS = 30


@dataclass(frozen=True)
class PlanLine:
    """One plan for reading."""

    place: int
    plan: Plan
    words: str
    reaches: bool | None
    cost: Cost
    cost_words: str
    days_words: str
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class RegionTick:
    """A region with whether the break runs through it."""

    row: LockedFeature
    at_break: bool


def plan_lines(known: Known, ranking: Ranking) -> list[PlanLine]:
    """The ranked plans with cost and days."""
    return [_line(place, plan, known) for place, plan in enumerate(ranking.plans, start=1)]


def _line(place: int, plan: Plan, known: Known) -> PlanLine:
    terms = known.terms
    option = _material(plan, known)
    price = option.price_per_kg if option else _present_price(known)
    cost = part_cost(terms.mass_g, price, terms.printing_h, terms.printer_per_h, terms.bench_h, terms.bench_per_h)
    reaches = None if plan.outlook is None else plan.outlook.after <= known.situation.wanted
    return PlanLine(
        place,
        plan,
        plan_words(plan),
        reaches,
        cost,
        _cost_words(cost),
        _days_words(option.days if option else 0.0, known),
        tuple(f"{one.words}: {one.kind.risk}" for one in (*plan.changes, *plan.also)),
    )


def _material(plan: Plan, known: Known) -> MaterialOption | None:
    chosen = next((one.detail for one in plan.changes if one.kind.code == "material"), None)
    return next((option for option in known.situation.materials if option.name == chosen), None) if chosen else None


def _present_price(known: Known) -> float | None:
    return next((option.price_per_kg for option in known.situation.materials if option.is_present), None)


def _cost_words(cost: Cost) -> str:
    parts = [("material", cost.material), ("printer", cost.printer), ("bench", cost.bench)]
    told = [f"{name} {value:.2f}" for name, value in parts if value is not None]
    if not told:
        return "not known: state the mass and the times"
    return f"{cost.known:.2f} ({', '.join(told)})" + ("" if cost.is_whole else ", and what is not known")


def _days_words(days: float | None, known: Known) -> str:
    if days == 0:
        return "at hand"
    if days is None:
        return "days to get it not known"
    left = known.situation.days_left
    spare = "" if left is None else f", {left - days:g} to spare"
    return f"about {days:g} days to get it{spare}"


def plan_page(
    request: Request, session: Session, scope: Scope, known: Known, ranking: Ranking, **forms: Any
) -> dict[str, Any]:
    """Everything the template prints."""
    opinions = opinions_of(session, scope.failure_id)
    return {
        "title": f"Next build of {scope.part.name}",
        "trail": trail(request, scope),
        "scope": scope,
        "known": known,
        "ranking": ranking,
        "lines": plan_lines(known, ranking),
        "left_out": [left for left in ranking.left_out if not left.is_open],
        "open": [left for left in ranking.left_out if left.is_open],
        "regions": [RegionTick(row, row.id in known.terms.regions_at_break) for row in known.regions],
        "past": known.terms.needed_on is not None and known.terms.needed_on < date.today(),
        "outcomes": outcomes(session, scope.failure_id),
        "opinions": opinions,
        "tally": tally(opinions, ranking),
        "cautions": cautions(scope.part.can_hurt),
        "can_hurt": scope.part.can_hurt,
        "here": address(request, "plan", failure_id=scope.failure_id),
        "choose_address": address(request, "plan_choose", failure_id=scope.failure_id),
        "verdict_address": address(request, "verdict", failure_id=scope.failure_id),
        "load_address": address(request, "strength", failure_id=scope.failure_id),
        "place_address": address(request, "place", part_id=scope.part.id),
        "region_address": address(request, "locked_new", part_id=scope.part.id),
        "links_address": address(request, "opinion_links", failure_id=scope.failure_id),
        **forms,
    }
