"""What load and strength together say of the cause: one observation among the others."""

from dataclasses import replace

from sqlmodel import Session

from analysis.evidence.load import seen_from_load
from analysis.evidence.observations import Z90, Seen
from analysis.strength.wording import chance_words
from server.strength.assessing import Held, hold
from server.strength.entries import current_loads, current_weld
from server.verdict.scope import Scope

ROUGH_SD = 0.15  # judgement: a probability that rests on ranges people gave is never known better than this
HARDLY = 0.01  # judgement: a break less likely than this under every load says that load or strength are off


def load_seen(session: Session, scope: Scope) -> Seen | None:
    """Return the observation for the scope; None where no load, no strength or no measured face is known.

    The number is the probability that the load would have broken a face with every contact joined too, given that it
    broke this one. Raises RuntimeError on a session that doesn't know where the originals lie (`info["store"]`): left
    out without a word, a verdict would depend on who asks.
    """
    if not current_loads(session, scope) or current_weld(session, scope) is None:
        return None
    store = session.info.get("store")
    if store is None:
        raise RuntimeError("a session that weighs evidence needs the store of originals as info['store']")
    _, held = hold(session, scope, store)
    told = next((one for one in held if one.found and one.found.whole_too is not None), None)
    return None if told is None else _seen(scope, told)


def _seen(scope: Scope, told: Held) -> Seen:
    found = told.found
    assert found is not None
    assert found.whole_too is not None
    bounds = found.whole_too_bounds
    # Rival loads that say different things make it less known than the ranges alone do.
    interval = bounds if bounds and bounds[1] - bounds[0] > 2 * Z90 * ROUGH_SD else None
    seen = seen_from_load(found.whole_too, interval, origin=f"strength:{scope.site_id or ''}")
    likeliest = max(case.broke or 0.0 for case in found.cases)
    trust = min(1.0, likeliest / HARDLY)
    even = (1.0 - trust) / len(seen.shares)
    words = f"{chance_words(found.whole_too)} that a face with every contact joined would have broken too"
    if trust < 1:
        words += "; hardly weighed, for none of the loads given explains the break"
    return replace(seen, shares=tuple(trust * share + even for share in seen.shares), value=words)
