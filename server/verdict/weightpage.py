"""The page of the weights: the file's and the log's side by side, with the counts behind them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from analysis.evidence.catalogue import MODES, Catalogue, Observation, load_catalogue
from analysis.evidence.learning import compare, count_cases, learned
from analysis.evidence.scores import cohen_kappa
from server.records import WeightChoice
from server.verdict.logcases import LEFT_OUT, LogCases, read_cases
from server.verdict.priors import read_prior
from server.verdict.weightsets import choices, named, weights_in_force

MOST_COMPARED = 400  # cases; more would keep the page waiting


@dataclass(frozen=True)
class Cell:
    """One probability: the file's, what the log counted, both together, and the weights that follow, dB."""

    mode: str
    file: float
    seen: float
    of: float
    both: float
    file_db: float
    both_db: float


@dataclass(frozen=True)
class Row:
    """One outcome of one observation over the four modes."""

    words: str
    outcome: str
    cells: tuple[Cell, ...]


def weights_page(session: Session) -> dict[str, Any]:
    """Everything the template prints but the form."""
    book = load_catalogue()
    log = read_cases(session, book)
    made = choices(session)
    strength = book.learning["strength_cases"]
    enough = log.enough(book.learning)
    return {
        "title": "Weights: the file’s and the log’s",
        "in_force": weights_in_force(session),
        "log": log,
        "of_modes": [(mode, sum(case.mode == mode for case in log.cases)) for mode in MODES],
        "left_out": [(count, LEFT_OUT[why]) for why, count in log.left_out.items() if count],
        "learning": book.learning,
        "is_enough": enough,
        "comparison": compare(log.cases[-MOST_COMPARED:], read_prior(session).shares, book, strength)
        if enough
        else None,
        "kappa": cohen_kappa(log.agreement),
        "rows": rows(log, book, strength),
        "made": [(choice, named(choice)) for choice in made],
    }


def rows(log: LogCases, book: Catalogue, strength: float) -> list[Row]:
    """Every outcome that the log has counted, in the order of the file; of yes and no only yes."""
    counts = count_cases(log.cases, book)
    both = learned(book, counts, strength)
    found = []
    for code, entry in book.observations.items():
        if not any(sum(row) for row in counts[code].values()):
            continue
        shown = entry.bins[:1] if entry.kind == "answer" else entry.bins
        found += [_row(entry, both.observations[code], counts[code], outcome) for outcome in shown]
    return found


def _row(entry: Observation, moved: Observation, counts: Mapping[str, Sequence[float]], outcome: str) -> Row:
    place = entry.bins.index(outcome)
    file_db, both_db = entry.weights_db(outcome), moved.weights_db(outcome)
    cells = tuple(
        Cell(
            mode,
            entry.likelihood[mode][place],
            counts[mode][place],
            sum(counts[mode]),
            moved.likelihood[mode][place],
            file_db[mode],
            both_db[mode],
        )
        for mode in MODES
    )
    return Row(entry.words, outcome, cells)


def log_choice(session: Session, chosen_by: str, reason: str) -> WeightChoice | None:
    """The choice of the log's weights as counted now; None where the log has too few cases."""
    book = load_catalogue()
    log = read_cases(session, book)
    if not log.enough(book.learning):
        return None
    return WeightChoice(
        source="log",
        counts=count_cases(log.cases, book),
        cases=[list(case.key) for case in log.cases],
        strength_cases=book.learning["strength_cases"],
        reason=reason,
        chosen_by=chosen_by,
    )
