"""Which weights are in force: the shipped file's, or the log's as counted on the day that a person chose them."""

from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from analysis.evidence.catalogue import MODES, Catalogue, load_catalogue
from analysis.evidence.learning import learned
from server.records import WeightChoice

FILE = "the file's weights"


@dataclass(frozen=True)
class Weights:
    """A catalogue to weigh with, what it is called, and what a kept verdict holds of it."""

    book: Catalogue
    name: str
    told: dict[str, Any]


def choices(session: Session) -> list[WeightChoice]:
    """Every choice that was made, the newest first."""
    return list(session.exec(select(WeightChoice).order_by(col(WeightChoice.id).desc())).all())


def weights_in_force(session: Session) -> Weights:
    """What the newest choice says; without one the file's."""
    newest = session.exec(select(WeightChoice).order_by(col(WeightChoice.id).desc())).first()
    if newest is None or newest.source != "log":
        return Weights(load_catalogue(), FILE, {"source": "file"})
    book = learned(load_catalogue(), fitting(newest.counts, load_catalogue()), newest.strength_cases)
    told = {
        "source": "log",
        "choice_id": newest.id,
        "cases": len(newest.cases),
        "strength_cases": newest.strength_cases,
    }
    return Weights(book, named(newest), told)


def named(choice: WeightChoice) -> str:
    """What a choice is called beside a verdict."""
    if choice.source != "log":
        return FILE
    return f"the log's weights of {choice.entered_at:%Y-%m-%d} ({len(choice.cases)} cases)"


def fitting(counts: dict[str, Any], book: Catalogue) -> dict[str, dict[str, list[float]]]:
    """The counts of observations that the list still has, in as many ranges as they then had."""
    return {
        code: rows
        for code, rows in counts.items()
        if code in book.observations
        and all(len(rows.get(mode, ())) == len(book.observations[code].bins) for mode in MODES)
    }


def choose(session: Session, choice: WeightChoice) -> WeightChoice:
    """Add the choice to the record; the one before stays, and kept verdicts keep theirs."""
    before = choices(session)
    choice.replaces_id = before[0].id if before else None
    session.add(choice)
    session.commit()
    return choice
