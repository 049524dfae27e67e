"""What load and strength together say of the cause: one observation among the others."""

from dataclasses import replace

from sqlmodel import Session

from analysis.evidence.load import seen_from_load
from analysis.evidence.observations import Z90, Seen
from analysis.strength.bearing import Bearing, bearing
from analysis.strength.wording import chance_words
from server.strength.assessing import hold
from server.strength.entries import current_loads, current_weld
from server.verdict.scope import Scope

ROUGH_SD = 0.15  # judgement: a probability that rests on ranges people gave is never known better than this


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
    # Faces are ordered by the number of loads said on them; the first that bears on anything speaks for the place.
    told = next((found for one in held if one.found and (found := bearing(one.found)[0])), None)
    return None if told is None else _seen(scope, told)


def _seen(scope: Scope, told: Bearing) -> Seen:
    low, high = told.bounds
    # Rival loads that say different things make it less known than the ranges alone do.
    interval = told.bounds if high - low > 2 * Z90 * ROUGH_SD else None
    seen = seen_from_load(told.overload, interval, origin=f"strength:{scope.site_id or ''}")
    even = (1.0 - told.trust) / len(seen.shares)
    words = f"{chance_words(told.overload)} that a face with every contact joined would have broken too"
    if told.trust < 1:
        words += "; hardly weighed, for none of the loads given explains the break"
    return replace(seen, shares=tuple(told.trust * share + even for share in seen.shares), value=words)
