"""The part's page: its timeline from the first revision to today, what is to be done next, what has to be warned of."""

from dataclasses import dataclass, field

from fastapi import Request
from sqlmodel import Session, col, select

from server.case.current import LoosePiece, loose_pieces
from server.history.events import Event, events_of
from server.history.lineage import Lineage, lineage_of
from server.history.state import part_state
from server.history.story import Story, read_story
from server.links import Link, address, links
from server.naming import upper_first
from server.records import Change, ChosenPlan, Customer, LockedFeature, Part
from server.wording import words

CAUTIONS = (
    "Its failure can hurt someone. This logbook never calls a part safe, whatever it measured or weighed.",
    "Before one like it is fitted, or fitted again, have it judged by a licensed professional "
    "under the rules that apply where it is used.",
)


@dataclass(frozen=True)
class RegionLine:
    """A region of the part: whether it is locked, why or how far it may grow, and where that is edited."""

    what: str
    is_free: bool
    beside: str
    edit: str


@dataclass(frozen=True)
class PartPage:
    """All that the page of a part prints."""

    part: Part
    facts: list[tuple[str, str]]
    state: str
    state_words: str
    next_steps: list[Link]
    more_steps: list[Link]
    advice: str
    cautions: list[str]
    loose: list[LoosePiece]
    regions: list[RegionLine]
    lock_more: str
    edit: str
    events: list[Event] = field(default_factory=list)
    lineage: Lineage | None = None


def part_page(request: Request, session: Session, part: Part) -> PartPage:
    """Return the page of `part`; the number of queries doesn't grow with its history."""
    story = read_story(session, part)
    state = session.exec(select(part_state()).select_from(Part).where(Part.id == part.id)).one()
    advice, main, more = _next_steps(request, part, story, state)
    loose = loose_pieces(session, [failure.id for failure in story.failures])
    locked = session.exec(
        select(LockedFeature).where(LockedFeature.part_id == part.id).order_by(col(LockedFeature.id))
    ).all()
    customer = session.get(Customer, part.customer_id) if part.customer_id else None
    return PartPage(
        part,
        _facts(part, customer),
        state,
        words(state, "part_state"),
        main,
        more,
        advice,
        _cautions(part),
        [piece for pieces in loose.values() for piece in pieces],
        [_region(request, row) for row in sorted(locked, key=lambda row: row.is_free)],
        address(request, "locked_new", part_id=part.id),
        address(request, "part_edit", part_id=part.id),
        events_of(request, story, words(state, "part_state")),
        lineage_of(story, _planned(session, story)),
    )


def _planned(session: Session, story: Story) -> set[int]:
    """Return the builds that were chosen from a plan."""
    chosen = select(ChosenPlan.build_id).where(col(ChosenPlan.build_id).in_([build.id for build in story.builds]))
    return set(session.exec(chosen).all())


def _facts(part: Part, customer: Customer | None) -> list[tuple[str, str]]:
    facts = [
        ("What it does", part.function),
        ("Fitted", part.fitted_where),
        ("Access", words(part.access, "access") if part.access else ""),
        ("Customer", customer.name if customer else ""),
        ("Internal note", part.note),
    ]
    return [(name, text) for name, text in facts if text]


def _region(request: Request, row: LockedFeature) -> RegionLine:
    room = "room not measured" if row.room_mm is None else f"{row.room_mm:g} mm of room"
    free = [words(row.kind, "room"), room] if row.kind != "dimension" else []
    beside = "; ".join([*free, *([row.reason] if row.reason else [])]) if row.is_free else row.reason
    return RegionLine(row.what, row.is_free, beside, address(request, "locked_edit", locked_id=row.id))


def form_warnings(part: Part | None) -> list[str]:
    """Return what stands above every form of a part whose failure can hurt someone."""
    if part is None or not part.can_hurt:
        return []
    return [f"{part.name}: its failure can hurt someone{': ' + part.hurt_how.rstrip('.') if part.hurt_how else ''}."]


def _cautions(part: Part) -> list[str]:
    if not part.can_hurt:
        return []
    how = [f"How it could hurt: {part.hurt_how}"] if part.hurt_how else []
    return [CAUTIONS[0], *how, *CAUTIONS[1:]]


def _next_steps(request: Request, part: Part, story: Story, state: str) -> tuple[str, list[Link], list[Link]]:
    """Return a sentence on where the part stands, what is most likely next, and what else can be done."""
    newest = max((r for r in story.revisions if not r.is_original), key=lambda r: r.number, default=None)
    build = max(story.builds, key=lambda b: b.id or 0, default=None)
    revise = Link("New revision", address(request, "revision_new", part_id=part.id))
    make = (
        Link(f"New build of revision {newest.number}", address(request, "build_new", revision_id=newest.id))
        if newest
        else Link("", "")
    )
    fit = Link(f"Fit build {build.id}", address(request, "service_new", build_id=build.id)) if build else Link("", "")
    broke = Link("Log a failure", address(request, "failure_new", part_id=part.id))
    if state == "in_service":
        stay = next(s for s in reversed(story.services) if s.removed_on is None)
        look = Link("Plan or log an inspection", address(request, "inspection_new", service_id=stay.id))
        took_off = Link("Log its removal", address(request, "service_edit", service_id=stay.id))
        hurry = Link("It broke: log it now", f"{address(request, 'quick')}?part={part.id}")
        return "It is in use.", links(look, hurry, broke), links(took_off, revise, make)
    if state == "failed":
        return _after_failure(request, part, story, revise, make, broke)
    if state == "built":
        return "It is built and waits to be fitted.", links(fit), links(make, revise, broke)
    if state == "removed":
        return "It was taken off.", links(make, fit), links(revise, broke)
    if newest:
        return "The design is there; nothing is built yet.", links(make), links(revise, broke)
    advice = "Nothing is drawn yet. Begin with the original it replaces, if there was one, or with the first revision."
    return advice, links(Link("New revision", revise.address), broke), []


def _after_failure(
    request: Request, part: Part, story: Story, revise: Link, make: Link, broke: Link
) -> tuple[str, list[Link], list[Link]]:
    newest = max(story.failures, key=lambda f: (story.found_on(f), f.id or 0))
    case = Link("Go on with the failure", address(request, "failure", failure_id=newest.id))
    open_change = _open_change(story)
    if open_change:
        carry = Link("Make the next revision", next_revision(request, part, open_change))
        return (
            f"It failed, and a change is asked for: {upper_first(open_change.what)}",
            links(carry, case),
            links(revise, make, broke),
        )
    return "It failed.", links(case, make), links(revise, broke)


def _open_change(story: Story) -> Change | None:
    asked = [change for group in story.changes.values() for change in group if change.done_in_revision_id is None]
    return max(asked, key=lambda change: change.id or 0, default=None)


def next_revision(request: Request, part: Part, change: Change) -> str:
    """Return the address of a new revision that carries out `change`."""
    return f"{address(request, 'revision_new', part_id=part.id)}?change={change.id}"
