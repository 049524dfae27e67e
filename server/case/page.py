"""The case page: everything of one failure in working order, and what is still to do."""

from dataclasses import dataclass
from itertools import pairwise

from fastapi import Request
from sqlmodel import Session

from server.access import get_or_404
from server.case.current import Conclusion, harm_words, whole
from server.case.file import CaseFile, read_case
from server.case.pieces import FaceLine, PieceLine, SiteLine, face_lines, piece_lines, site_lines
from server.case.steps import Step, steps_of
from server.history.part import CAUTIONS, next_revision
from server.links import address
from server.naming import build_name, failure_name, revision_name, service_name, upper_first
from server.pages import day, moment, number
from server.records import Build, Failure, FailureEntry, Part, Revision, Service


@dataclass(frozen=True)
class OldEntry:
    """An entry that a later one replaced: when it was made, why it was corrected, what it said."""

    when: str
    reason: str
    facts: list[tuple[str, str]]


@dataclass(frozen=True)
class VerdictLine:
    """What is concluded for one break site, or for the failure as a whole."""

    about: str
    conclusion: Conclusion
    address: str


@dataclass(frozen=True)
class ChangeLine:
    """A change that is asked for, and the revision that carried it out."""

    what: str
    why: str
    done_in: str
    carry_out: str
    correct: str
    old: list[tuple[str, str, str]]


@dataclass(frozen=True)
class CasePage:
    """All that the case page prints."""

    title: str
    trail: list[tuple[str, str]]
    broken: str
    cautions: list[str]
    warnings: list[str]
    steps: list[Step]
    account: list[tuple[str, str]]
    account_old: list[OldEntry]
    overview: list[tuple[str, bool]]  # address of the small picture, and whether it is rendered
    pieces: list[PieceLine]
    sites: list[SiteLine]
    faces: list[FaceLine]
    observed: dict[str, int]
    verdicts: list[VerdictLine]
    verdict: Conclusion
    changes: list[ChangeLine]
    summaries: int
    next: Step | None


def case_page(request: Request, session: Session, failure: Failure) -> CasePage:
    """Return the page of `failure`; the number of queries doesn't grow with its pieces, faces or entries."""
    case = read_case(session, failure)
    revision = get_or_404(session, Revision, failure.revision_id)
    part = get_or_404(session, Part, revision.part_id)
    steps = steps_of(request, case)
    home = address(request, "part", part_id=part.id)
    return CasePage(
        failure_name(failure),
        [("Parts", address(request, "parts")), (part.name, home)],
        _broken(session, failure, revision, part),
        _cautions(part),
        [harm_words(p, case.pieces_said[p.id or 0][-1]) for p in case.pieces if case.harmful(p)],
        steps,
        _account(case.said[-1]),
        _old_accounts(case.said),
        [(address(request, "photo_thumb", photo_id=photo.id), photo.is_rendered) for photo in case.overview],
        piece_lines(request, case),
        site_lines(request, case),
        face_lines(request, case),
        case.answers,
        _verdicts(request, case),
        whole(case.conclusions),
        _changes(request, part, case),
        case.summaries,
        next((step for step in steps if not step.done), None),
    )


def _broken(session: Session, failure: Failure, revision: Revision, part: Part) -> str:
    build = session.get(Build, failure.build_id) if failure.build_id else None
    stay = session.get(Service, failure.service_id) if failure.service_id else None
    named = [revision_name(revision), build_name(build) if build else "", service_name(stay) if stay else ""]
    return " · ".join([part.name, *(name for name in named if name)])


def _cautions(part: Part) -> list[str]:
    if not part.can_hurt:
        return []
    keep = "Take what is left of it out of use, and keep every piece as found."
    return [
        f"Someone can be hurt when this part fails{': ' + part.hurt_how.rstrip('.') if part.hurt_how else ''}. {keep}",
        *CAUTIONS[1:],
    ]


def _account(entry: FailureEntry) -> list[tuple[str, str]]:
    facts = [
        ("Found", f"{day(entry.found_on)}" + (f", {entry.found_place}" if entry.found_place else "")),
        ("Found by", entry.finder),
        ("How it was noticed", entry.noticed_how),
        ("What happened before", entry.happened_before),
        ("Suspected load", entry.load_words),
        ("Its direction", entry.load_direction),
        ("Its size", number(entry.load_n, 0, "N") if entry.load_n is not None else ""),
        ("Condition as found", entry.as_found),
        ("Also lost or damaged", entry.also_lost),
        ("Looked at and found sound", entry.found_sound),
        ("Entered", f"{moment(entry.entered_at)}" + (f" by {entry.entered_by}" if entry.entered_by else "")),
        ("Corrected because", entry.correction_reason),
    ]
    return [(name, text) for name, text in facts if text]


def _old_accounts(said: list[FailureEntry]) -> list[OldEntry]:
    """Return the replaced entries, newest first, each with the reason for which the next one replaced it."""
    pairs = list(pairwise(said))[::-1]
    return [OldEntry(moment(old.entered_at), new.correction_reason, _account(old)) for old, new in pairs]


def _verdicts(request: Request, case: CaseFile) -> list[VerdictLine]:
    names: dict[int | None, str] = {site.id: site.name for site in case.sites}
    base = address(request, "verdict", failure_id=case.failure.id)
    ordered = sorted(case.conclusions.items(), key=lambda pair: (pair[0] is not None, pair[0] or 0))
    return [
        VerdictLine(
            names.get(site, "The failure as a whole") if site else "The failure as a whole",
            conclusion,
            base and (f"{base}?site={site}" if site else base),
        )
        for site, conclusion in ordered
    ]


def _changes(request: Request, part: Part, case: CaseFile) -> list[ChangeLine]:
    by_key = {change.id: change for change in case.all_changes}
    lines = []
    for change in case.changes:
        old, reason, earlier = [], change.correction_reason, by_key.get(change.replaces_id)
        while earlier:
            old.append((moment(earlier.entered_at), reason, earlier.what))
            reason, earlier = earlier.correction_reason, by_key.get(earlier.replaces_id)
        done = case.revisions.get(change.done_in_revision_id)
        lines.append(
            ChangeLine(
                change.what,
                change.why,
                upper_first(revision_name(done)) if done else "",
                "" if done else next_revision(request, part, change),
                address(request, "change_correct", change_id=change.id),
                old,
            )
        )
    return lines
