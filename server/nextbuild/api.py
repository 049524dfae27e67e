"""The plans of a case as the published interface gives them."""

from sqlmodel import Session

from analysis.nextbuild.plans import rank_plans
from server.api_models import PlansOut
from server.nextbuild.choosing import plan_json
from server.nextbuild.gathering import gather
from server.nextbuild.opinions import opinions_of, tally
from server.nextbuild.outcome import outcomes
from server.verdict.scope import Scope


def plans_out(session: Session, scope: Scope) -> PlansOut:
    """Rank the plans of a case and say what was chosen, what came of it, and how colleagues voted."""
    known = gather(session, scope)
    ranking = rank_plans(known.situation)
    return PlansOut(
        failure_id=scope.failure_id,
        primary=known.situation.primary,
        load=known.standing.load_name,
        wanted=ranking.wanted,
        reaches=ranking.reaches,
        words=ranking.words,
        plans=[plan_json(plan) for plan in ranking.plans],
        left_out=[{"change": left.words, "why": left.why} for left in ranking.left_out],
        chosen=[
            {
                "build_id": one.chosen.build_id,
                "plan": one.chosen.plan_key,
                "promised": one.promised,
                "outcome": one.state,
                "happened": one.happened,
                "first_look_on": one.chosen.first_look_on.isoformat(),
            }
            for one in outcomes(session, scope.failure_id)
        ],
        opinions=[
            {"plan": row.plan_key, "words": row.words, "votes": row.votes, "place": row.place}
            for row in tally(opinions_of(session, scope.failure_id), ranking)
        ],
    )
