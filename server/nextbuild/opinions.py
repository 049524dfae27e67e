"""What colleagues answered, tallied beside the program's ranking."""

from collections import Counter
from dataclasses import dataclass

from sqlmodel import Session, col, select

from analysis.nextbuild.plans import Plan, Ranking
from server.records import Opinion, OpinionLink


@dataclass(frozen=True)
class Tally:
    """Votes for one plan; `place` is its place in the program's ranking, None where it is no longer in it."""

    plan_key: str
    words: str
    votes: int
    place: int | None


def plan_words(plan: Plan) -> str:
    """A plan in a line."""
    return " + ".join(one.words for one in plan.changes)


def opinions_of(session: Session, failure_id: int) -> list[Opinion]:
    """Every opinion on a case, the newest first."""
    query = select(Opinion).where(Opinion.failure_id == failure_id).order_by(col(Opinion.id).desc())
    return list(session.exec(query).all())


def tally(opinions: list[Opinion], ranking: Ranking) -> list[Tally]:
    """Votes by plan, the most first; a person who answered twice counts by the newest answer."""
    newest: dict[tuple[int, str], Opinion] = {}
    for one in sorted(opinions, key=lambda one: one.id or 0):
        newest[one.link_id, one.who.casefold()] = one
    votes = Counter(one.plan_key for one in newest.values() if one.plan_key)
    words = {one.plan_key: one.plan_words for one in newest.values()}
    places = {plan.key: place for place, plan in enumerate(ranking.plans, start=1)}
    return [Tally(key, words[key], count, places.get(key)) for key, count in votes.most_common()]


def add_opinion(
    session: Session, link: OpinionLink, who: str, ranking: Ranking, plan_key: str, proposal: str, comment: str
) -> Opinion:
    """Keep one answer, with the plan in the words that the page showed."""
    words = {plan.key: plan_words(plan) for plan in ranking.plans}
    opinion = Opinion(
        link_id=link.id or 0,
        failure_id=link.failure_id,
        who=who,
        plan_key=plan_key if plan_key in words else "",
        plan_words=words.get(plan_key, ""),
        proposal=proposal,
        comment=comment,
    )
    session.add(opinion)
    session.commit()
    return opinion
