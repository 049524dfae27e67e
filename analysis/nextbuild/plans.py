"""Plans for the next build, ranked: one change or a few together, each with what it promises."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations, zip_longest

import numpy as np
from scipy.special import ndtr

from analysis.nextbuild.candidates import Field, Left, survey
from analysis.nextbuild.effects import ONE, Candidate, Ceilings, Joint, capped, join
from analysis.nextbuild.outlook import Draws, Outlook, draw, look_ahead
from analysis.nextbuild.situation import Situation

MOST_CHANGES = 3  # more than three at once, and nobody can tell afterwards which of them helped
_PER_TERM = 2  # candidates of one term that enter plans of several changes
_WORTH = 0.02  # another change must lower the probability by at least this much to be listed
SHOWN = 8
_BEST = 5  # the best of all; the rest are the best single changes: one is easier to make, and to judge afterwards
ANOTHER_WAY = "Another way of making it, or an original part, is the answer."


@dataclass(frozen=True)
class Plan:
    """One way to build it next. `outlook` is None where load or capacity is not known."""

    changes: tuple[Candidate, ...]
    also: tuple[Candidate, ...]
    joint: Joint
    outlook: Outlook | None
    surer_than_next: float | None = None
    knowledge: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """A name that stays the same while the same changes are meant."""
        return "+".join(sorted(f"{one.kind.code}:{one.detail}".rstrip(":") for one in self.changes))


@dataclass(frozen=True)
class Ranking:
    """The plans, best first, with what was left out and what is said of all of them."""

    plans: tuple[Plan, ...]
    left_out: tuple[Left, ...]
    would_not_help: tuple[str, ...]
    wanted: float
    reaches: bool | None
    words: str


def rank_plans(situation: Situation) -> Ranking:
    """Rank the plans for one part.

    By the probability that the load exceeds the capacity after the changes; equal ones by the larger gain, then by
    the fewer changes. Without a load or a capacity the gain alone decides, and the ranking says so.
    """
    found = survey(situation)
    ceilings = _ceilings(situation)
    drawn = draw(situation.baseline) if situation.baseline else None
    also = tuple(one for one in found.candidates if one.kind.acts_on == "clearance")
    plans = [_plan(changes, also, ceilings, drawn) for changes in _choices(found)]
    plans = _shown(_worthwhile(sorted(plans, key=_order)))
    plans = [_with_neighbour(plan, after, drawn) for plan, after in zip_longest(plans, plans[1:])]
    reaches = None if drawn is None else any(plan.outlook.after <= situation.wanted for plan in plans if plan.outlook)
    return Ranking(
        tuple(plans),
        found.left_out,
        found.would_not_help,
        situation.wanted,
        reaches,
        _words(situation, plans, also, reaches, any(left.is_open for left in found.left_out)),
    )


def plan_for(situation: Situation, codes: Iterable[str]) -> Plan | None:
    """The plan that consists of just these kinds of change, ranked or not; None where one of them isn't possible."""
    found, wanted = survey(situation), set(codes)
    chosen = [one for one in found.candidates if one.kind.code in wanted and one.effect is not None]
    if {one.kind.code for one in chosen} != wanted:
        return None
    drawn = draw(situation.baseline) if situation.baseline else None
    also = tuple(one for one in found.candidates if one.kind.acts_on == "clearance")
    plan = _plan(tuple(chosen), also, _ceilings(situation), drawn)
    return _with_neighbour(plan, None, drawn)


def surety(one: Joint, other: Joint) -> float:
    """Probability that the first plan gains more than the second, both gains being lognormal and independent.

    Changes that both share are the same draw in both and cancel. Wider ranges bring it nearer to one half.
    """
    shared = {term for term in one.terms if other.terms.get(term) == one.terms[term]}
    lead = _log_gain(one, shared) - _log_gain(other, shared)
    spread = math.hypot(_log_sd(one, shared), _log_sd(other, shared))
    if spread == 0:
        return 0.5 if lead == 0 else float(lead > 0)
    return float(ndtr(lead / spread))


def _choices(found: Field) -> Iterable[tuple[Candidate, ...]]:
    """Every change alone, and the best of each term together with those of others."""
    carrying = [one for one in found.candidates if one.kind.acts_on != "clearance" and one.effect is not None]
    by_term: dict[str, list[Candidate]] = {}
    for one in sorted(carrying, key=lambda c: -(c.effect or ONE).median):
        by_term.setdefault(one.kind.acts_on, []).append(one)
    yield from ((one,) for one in carrying)
    best = [one for acting in by_term.values() for one in acting[:_PER_TERM]]
    for size in range(2, MOST_CHANGES + 1):
        for chosen in combinations(best, size):
            terms = {one.kind.acts_on for one in chosen}
            # Turned on the bed, weld and contact no longer count: such a plan would promise nothing more.
            if len(terms) == size and not ("orientation" in terms and terms & {"weld", "contact"}):
                yield chosen


def _plan(changes: tuple[Candidate, ...], also: tuple[Candidate, ...], ceilings: Ceilings, drawn: Draws | None) -> Plan:
    joint = join(changes, ceilings)
    return Plan(changes, also, joint, look_ahead(drawn, joint) if drawn else None)


def _order(plan: Plan) -> tuple[float, float, int, str]:
    after = round(plan.outlook.after, 2) if plan.outlook else 0.0
    return after, -round(_log_gain(plan.joint, set()), 6), len(plan.changes), plan.key


def _shown(plans: list[Plan]) -> list[Plan]:
    """The best plans and the best single changes, in their order."""
    best = plans[:_BEST]
    singles = [plan for plan in plans[_BEST:] if len(plan.changes) == 1]
    return sorted([*best, *singles[: SHOWN - len(best)]], key=_order)


def _worthwhile(plans: Sequence[Plan]) -> list[Plan]:
    """Drop a plan of which a part alone does nearly as well."""

    def nearly(part: Plan, whole: Plan) -> bool:
        if part.outlook and whole.outlook:
            return part.outlook.after <= whole.outlook.after + _WORTH
        return _log_gain(part.joint, set()) >= _log_gain(whole.joint, set()) - _WORTH

    def is_part(part: Plan, whole: Plan) -> bool:
        return len(part.changes) < len(whole.changes) and set(part.changes) <= set(whole.changes)

    return [whole for whole in plans if not any(is_part(part, whole) and nearly(part, whole) for part in plans)]


def _with_neighbour(plan: Plan, after: Plan | None, drawn: Draws | None) -> Plan:
    sure = surety(plan.joint, after.joint) if after else None
    return Plan(plan.changes, plan.also, plan.joint, plan.outlook, sure, _knowledge(plan, drawn))


def _knowledge(plan: Plan, drawn: Draws | None) -> tuple[str, ...]:
    """What is least known of this plan, the widest first: shares of the variance of capacity over load."""
    widths = {f"how much it gains by “{one.words}”": (one.effect or ONE).log_sd ** 2 for one in plan.changes}
    if drawn is not None:
        widths["the load: measure or bound it"] = float(np.log(drawn.load_n).var())
        widths["the strength of the weld: test a few upright bars"] = float(np.log(drawn.capacity_n).var())
    total = sum(widths.values())
    if total == 0:
        return ()
    ordered = sorted(widths.items(), key=lambda item: -item[1])
    return tuple(f"{name} ({width / total:.0%} of what is not known)" for name, width in ordered[:2] if width > 0)


def _ceilings(situation: Situation) -> Ceilings:
    share = situation.build.bonded_share
    ratio = situation.build.in_plane_ratio
    contact = None if share is None or share[0] + share[1] <= 0 else 2 / (share[0] + share[1])
    return Ceilings(contact=contact, weld=None if ratio is None else max(1.0, ratio.median))


def _log_gain(joint: Joint, without: set[str]) -> float:
    return sum(
        math.log(min(factor.median, capped(term, joint.ceilings)))
        for term, factor in joint.terms.items()
        if term not in without
    )


def _log_sd(joint: Joint, without: set[str]) -> float:
    return math.sqrt(sum(factor.log_sd**2 for term, factor in joint.terms.items() if term not in without))


def _words(
    situation: Situation, plans: Sequence[Plan], also: Sequence[Candidate], reaches: bool | None, more_open: bool
) -> str:
    if not plans and also:
        return "What rubbed has to be relieved; nothing else is to be changed for it, and no load model applies."
    hope = " Some changes could still come in if more were known: see below." if more_open else ""
    if not plans:
        return f"No change that is possible here treats what broke this part. {ANOTHER_WAY}{hope}"
    if reaches is None:
        return f"{situation.no_baseline} The plans are ranked by what they gain alone.".strip()
    if reaches:
        return f"Ranked by the probability that the load exceeds the capacity; {situation.wanted:.0%} is accepted."
    return (
        f"No plan brings the probability that the load exceeds the capacity down to {situation.wanted:.1%}. "
        f"{ANOTHER_WAY} The plans below only lessen the risk.{hope}"
    )
