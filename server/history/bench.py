"""What waits on the bench: inspections due, unfinished entries, failures without a verdict, opinions asked for.

Missing pieces, measurings under way and recent parts besides.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from fastapi import Request
from sqlalchemy.orm import aliased
from sqlmodel import Session, and_, col, exists, func, select

from server.case.current import failure_entries, loose_pieces
from server.history.awaited import Waiting, has_pictured_face, is_judged, opinions_awaited, unfinished_entries
from server.history.search import PartRow, part_rows
from server.history.state import part_state
from server.links import address
from server.measuring.jobs import is_joining
from server.naming import failure_name
from server.pages import day
from server.records import (
    Build,
    ChosenPlan,
    Failure,
    Fragment,
    FragmentEntry,
    Inspection,
    Job,
    Part,
    Photo,
    Revision,
    Service,
)
from server.wording import words

AHEAD_DAYS, SHOWN, RECENT = 14, 12, 6


@dataclass(frozen=True)
class BenchPage:
    """All that the bench prints; every list is cut to what fits a glance and says how many more there are."""

    empty: bool
    warnings: list[Waiting]
    inspections: list[Waiting]
    unfinished: list[Waiting]
    unfinished_more: bool
    opinions: list[Waiting]
    unjudged: list[Waiting]
    unjudged_more: int
    jobs: list[Waiting]
    recent: list[PartRow]


def bench_page(request: Request, session: Session) -> BenchPage:
    """Return the bench as it is today."""
    newest = session.exec(select(Part, part_state()).order_by(col(Part.id).desc()).limit(RECENT)).all()
    unjudged, more = _unjudged(request, session)
    unfinished, unfinished_more = unfinished_entries(request, session)
    return BenchPage(
        not newest,
        _missing(request, session),
        _inspections(request, session),
        unfinished,
        unfinished_more,
        opinions_awaited(request, session),
        unjudged,
        more,
        _jobs(request, session),
        part_rows(request, session, [(part, state) for part, state in newest]),
    )


def _missing(request: Request, session: Session) -> list[Waiting]:
    """Return the missing pieces that can do harm, asked from their entries: few of very many pieces are such."""
    later = aliased(FragmentEntry)
    now_harmful = (
        select(Failure.id, Part.name)
        .join(Fragment, col(Fragment.failure_id) == col(Failure.id))
        .join(FragmentEntry, col(FragmentEntry.fragment_id) == col(Fragment.id))
        .join(Revision, col(Failure.revision_id) == col(Revision.id))
        .join(Part, col(Revision.part_id) == col(Part.id))
        .where(
            col(FragmentEntry.can_harm).is_(True),
            FragmentEntry.status != "recovered",
            ~exists(
                select(later.id).where(
                    later.fragment_id == FragmentEntry.fragment_id, col(later.id) > col(FragmentEntry.id)
                )
            ),
        )
        .order_by(col(Failure.id))
    )
    named = {key or 0: name for key, name in session.exec(now_harmful).all()}
    return [
        Waiting(piece.words, address(request, "failure", failure_id=failure_id) + "#pieces", named[failure_id])
        for failure_id, pieces in loose_pieces(session, named).items()
        for piece in pieces
    ]


def _inspections(request: Request, session: Session) -> list[Waiting]:
    today = date.today()
    due = (
        select(Inspection, Part.name)
        .join(Service, col(Inspection.service_id) == col(Service.id))
        .join(Build, col(Service.build_id) == col(Build.id))
        .join(Revision, col(Build.revision_id) == col(Revision.id))
        .join(Part, col(Revision.part_id) == col(Part.id))
        .where(
            col(Inspection.done_on).is_(None),
            col(Service.removed_on).is_(None),
            ~exists(select(Failure.id).where(Failure.service_id == Service.id)),
            Inspection.due_on <= today + timedelta(AHEAD_DAYS),
        )
        .order_by(col(Inspection.due_on), col(Inspection.id))
    )
    fitted = [
        Waiting(
            name,
            address(request, "inspection_edit", inspection_id=look.id),
            f"due {day(look.due_on)}" + (f", {(today - look.due_on).days} days ago" if look.due_on < today else ""),
            look.due_on < today,
        )
        for look, name in session.exec(due).all()
    ]
    return fitted + _first_looks(request, session, today)


def _first_looks(request: Request, session: Session, today: date) -> list[Waiting]:
    """The first look that was promised with a chosen plan, while its build is not fitted yet."""
    planned = (
        select(ChosenPlan, Part.name, Part.id)
        .join(Build, col(ChosenPlan.build_id) == col(Build.id))
        .join(Revision, col(Build.revision_id) == col(Revision.id))
        .join(Part, col(Revision.part_id) == col(Part.id))
        .where(~exists(select(Service.id).where(Service.build_id == ChosenPlan.build_id)))
        .order_by(col(ChosenPlan.first_look_on))
    )
    return [
        Waiting(
            f"{name}: planned build {plan.build_id}",
            address(request, "plan", failure_id=plan.failure_id) + "#chosen",
            f"first look {day(plan.first_look_on)}, not fitted yet",
            plan.first_look_on < today,
        )
        for plan, name, _ in session.exec(planned).all()
    ]


def _unjudged(request: Request, session: Session) -> tuple[list[Waiting], int]:
    waits = and_(~is_judged(), has_pictured_face())
    total = session.exec(select(func.count()).select_from(Failure).where(waits)).one()
    query = (
        select(Failure, Part.name)
        .join(Revision, col(Failure.revision_id) == col(Revision.id))
        .join(Part, col(Revision.part_id) == col(Part.id))
        .where(waits)
        .order_by(col(Failure.id).desc())
        .limit(SHOWN)
    )
    found = session.exec(query).all()
    said = failure_entries(session, [failure.id for failure, _ in found])
    lines = [
        Waiting(
            f"{name}: {failure_name(failure)}",
            address(request, "failure", failure_id=failure.id),
            f"found {day(said[failure.id or 0][-1].found_on)}",
        )
        for failure, name in found
    ]
    return lines, total - len(lines)


def _jobs(request: Request, session: Session) -> list[Waiting]:
    running = (
        select(Job, Photo.file_name)
        .join(Photo, col(Job.photo_id) == col(Photo.id))
        .where(col(Job.state).in_(["waiting", "running"]))
        .order_by(col(Job.id))
        .limit(SHOWN)
    )
    return [
        Waiting(
            "one picture of several photos" if is_joining(job) else name,
            address(request, "job", job_id=job.id),
            words(job.state, "job") + (f", {job.share_done:.0%}" if job.state == "running" else ""),
        )
        for job, name in session.exec(running).all()
    ]
