"""The log's own cases: breaks whose mode a person stated, with what was seen of each."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlmodel import Session, col, select

from analysis.evidence.catalogue import MODES, Catalogue
from analysis.evidence.learning import Case
from server.records import PersonVerdict, VerdictRecord
from server.verdict.scope import read_scope
from server.verdict.verdicts import gather

LEFT_OUT = {
    "demo": "of the invented demo",
    "undetermined": "left undetermined by the person",
    "mixed": "that broke at several sites and were concluded only as a whole",
    "empty": "of which nothing was seen or measured",
}


@dataclass(frozen=True)
class LogCases:
    """The cases that count, those left out by reason, and how program and person agreed."""

    cases: tuple[Case, ...]
    left_out: Mapping[str, int]
    agreement: tuple[tuple[int, ...], ...]  # rows: program, columns: person; the four modes, then undetermined

    def enough(self, learning: Mapping[str, float]) -> bool:
        """Whether there are as many as the file asks for before the log may speak."""
        of_modes = [sum(case.mode == mode for case in self.cases) for mode in MODES]
        able = sum(count >= learning["least_of_a_mode"] for count in of_modes)
        return len(self.cases) >= learning["least_cases"] and able >= 2


def read_cases(session: Session, book: Catalogue) -> LogCases:
    """Every break on which a person concluded; the newest conclusion holds. A site is a case of its own."""
    newest: dict[tuple[int, int | None], PersonVerdict] = {}
    for entry in session.exec(select(PersonVerdict).order_by(col(PersonVerdict.id))).all():
        newest[entry.failure_id, entry.site_id] = entry
    cases: list[Case] = []
    left_out = dict.fromkeys(LEFT_OUT, 0)
    said: list[tuple[str, str]] = []
    for key, entry in newest.items():
        case, why = _case(session, key, entry.mode, book)
        if case is None:
            left_out[why] += 1
            continue
        cases.append(case)
        program = session.get(VerdictRecord, entry.verdict_id) if entry.verdict_id else None
        if program:
            said.append((program.primary, entry.mode))
    classes = (*MODES, "undetermined")
    agreement = tuple(tuple(said.count((program, person)) for person in classes) for program in classes)
    return LogCases(tuple(cases), left_out, agreement)


def _case(session: Session, key: tuple[int, int | None], mode: str, book: Catalogue) -> tuple[Case | None, str]:
    """The case, or why it doesn't count."""
    failure_id, site_id = key
    scope = read_scope(session, failure_id, str(site_id) if site_id else "")
    if scope.part.is_demo:
        return None, "demo"
    if mode not in MODES:
        return None, "undetermined"
    if site_id is None and len(scope.sites) > 1:
        return None, "mixed"
    seen = tuple(entry for entry in gather(session, scope) if entry.code in book.observations)
    return (Case(mode, seen, key), "") if seen else (None, "empty")
