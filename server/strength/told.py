"""Load and strength in a customer's words, for the summary."""

from sqlmodel import Session

from analysis.strength.assessment import CaseResult
from analysis.strength.ranges import Range
from server.forms.ranges import range_words
from server.strength.assessing import Held, hold
from server.strength.entries import current_loads, current_weld
from server.verdict.scope import Scope

ROUGH = (
    "These figures are rough: neither the load nor the joint is known well. They say nothing of whether the next part "
    "will hold."
)
# Judgement, as in the rest of the summary.
ODDS = ((0.9, "very likely more"), (0.6, "probably more"), (0.4, "as likely more as less"), (0.1, "probably less"))
ALIKE = 0.9  # of a whole face's capacity, from here on the ranges can't tell the two apart; judgement


def customer_words(session: Session, scope: Scope) -> str:
    """Say what the load that explains the break best came to; "" where none can be held against the face.

    Names of loads and how they are known stay inside: they are the bench's notes.
    """
    if not current_loads(session, scope) or current_weld(session, scope) is None:
        return ""
    _, held = hold(session, scope, session.info["store"])
    best = best_case(held)
    if best is None or best.as_built_n is None or best.exceeds_built is None:
        return ""
    said = [
        f"Reckoned from the broken face, the load thought of ({newton(best.load.force_n)}) was "
        f"{odds(best.exceeds_built)} than it could bear as it was ({newton(best.as_built_n)})."
    ]
    if (best.knock_down or 0.0) >= ALIKE:
        said.append("It was joined so well that joining the rest would have made little difference.")
    elif best.as_designed_n is not None and best.exceeds_designed is not None:
        whole = newton(best.as_designed_n)
        said.append(
            f"With every layer joined it could have borne {whole}, and that load would have been "
            f"{odds(best.exceeds_designed)} than that."
        )
    return " ".join([*said, ROUGH])


def best_case(held: list[Held]) -> CaseResult | None:
    """Return the load by which the break is best explained."""
    cases = [case for one in held if one.found for case in one.found.cases if case.as_built_n is not None]
    return max(cases, key=lambda case: case.explains or 0.0, default=None)


def newton(span: Range) -> str:
    """Write a range with as many figures as it deserves."""
    return f"roughly {range_words((float(f'{span.low:.2g}'), float(f'{span.high:.2g}')))} N"


def odds(p: float) -> str:
    """Say a probability that one thing is more than another."""
    return next((words for least, words in ODDS if p >= least), "very likely less")
