"""A part's story as the events of a timeline, from the first revision to today."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime

from fastapi import Request

from server.case.current import Conclusion, whole
from server.history.story import Story
from server.links import Link, address, links
from server.naming import build_name, failure_name, printer_name, revision_name, spool_name, upper_first
from server.pages import day, number
from server.records import Attachment, Build, Change, Failure, Inspection, Revision, Service
from server.wording import words


@dataclass(frozen=True)
class FileLine:
    """A file attached to a revision."""

    name: str
    kind: str
    size: str
    sha256: str
    address: str


@dataclass(frozen=True)
class Event:
    """One point of the timeline; `on` is the day of entry where the day itself isn't known."""

    kind: str
    kind_words: str
    on: date
    on_words: str
    title: str
    anchor: str
    address: str = ""
    facts: list[tuple[str, str]] = field(default_factory=list)
    actions: list[Link] = field(default_factory=list)
    files: list[FileLine] = field(default_factory=list)
    upload: str = ""
    thumb: str = ""
    rendered: bool = False
    verdict: Conclusion = field(default_factory=Conclusion)
    mark: str = ""  # good, bad or warn: how the event is marked beside its words
    order: tuple[int, int] = (0, 0)


# Events of one day stand in the order in which they follow from each other.
RANK = {
    "revision": 0,
    "build": 1,
    "fitting": 2,
    "inspection": 3,
    "failure": 4,
    "removal": 5,
    "change": 6,
    "today": 7,
    "due": 8,
}


def events_of(request: Request, story: Story, state_words: str) -> list[Event]:
    """Return the events of a part's `story`, the oldest first; today stands among them with the part's state."""
    events = [
        *(_revision(request, story, revision) for revision in story.revisions),
        *(_build(request, story, build) for build in story.builds),
        *(event for stay in story.services for event in _stay(request, story, stay)),
        *(_inspection(request, look) for look in story.inspections),
        *(event for failure in story.failures for event in _failure(request, story, failure)),
    ]
    if events:
        events.append(
            Event("today", "Today", date.today(), day(date.today()), state_words, "today", order=(RANK["today"], 0))
        )
    return sorted(events, key=lambda event: (event.on, *event.order))


def _dated(on: date | None, entered_at: datetime) -> tuple[date, str]:
    return (on, day(on)) if on else (entered_at.astimezone().date(), f"day not known, entered {day(entered_at)}")


def _filled(*facts: tuple[str, str]) -> list[tuple[str, str]]:
    return [(name, text) for name, text in facts if text]


def _revision(request: Request, story: Story, revision: Revision) -> Event:
    on, on_words = _dated(revision.drawn_on, revision.entered_at)
    earliest = min((b.built_on for b in story.builds if b.revision_id == revision.id and b.built_on), default=on)
    # A revision entered late still comes before what was made after it.
    shown = min(on, earliest) if revision.drawn_on is None else on
    if revision.is_original and revision.drawn_on is None:
        shown, on_words = min([shown, *_first_days(story)]), "the original"
    make = (
        Link("New build", address(request, "build_new", revision_id=revision.id))
        if not revision.is_original
        else Link("", "")
    )
    return Event(
        "revision",
        "Revision",
        shown,
        on_words,
        upper_first(revision_name(revision)),
        f"revision-{revision.id}",
        facts=_filled(("What changed", revision.what_changed), ("Why", revision.why)),
        actions=links(make, Link("Edit", address(request, "revision_edit", revision_id=revision.id))),
        files=[_file(request, file) for file in story.files.get(revision.id or 0, [])],
        upload=address(request, "attachment_create", revision_id=revision.id),
        order=(RANK["revision"], revision.number),
    )


def _first_days(story: Story) -> Iterator[date]:
    yield from (revision.drawn_on for revision in story.revisions if revision.drawn_on)
    yield from (revision.entered_at.astimezone().date() for revision in story.revisions)
    yield from (build.built_on for build in story.builds if build.built_on)
    yield from (story.found_on(failure) for failure in story.failures)


def _file(request: Request, file: Attachment) -> FileLine:
    size = (
        f"{file.size_bytes / 1_000_000:.1f} MB"
        if file.size_bytes >= 100_000
        else f"{max(file.size_bytes / 1000, 0.1):.1f} kB"
    )
    return FileLine(
        file.file_name,
        words(file.kind, "attachment"),
        size,
        file.sha256,
        address(request, "attachment_file", attachment_id=file.id),
    )


def _build(request: Request, story: Story, build: Build) -> Event:
    on, on_words = _dated(build.built_on, build.entered_at)
    revision = next(r for r in story.revisions if r.id == build.revision_id)
    fitted = any(stay.build_id == build.id and stay.removed_on is None for stay in story.services)
    return Event(
        "build",
        "Build",
        on,
        on_words,
        f"Build {build.id} of {revision_name(revision)}",
        f"build-{build.id}",
        facts=_settings(story, build),
        actions=links(
            Link("", "") if fitted else Link("Fit it", address(request, "service_new", build_id=build.id)),
            Link("Edit", address(request, "build_edit", build_id=build.id)),
        ),
        order=(RANK["build"], build.id or 0),
    )


def _settings(story: Story, build: Build) -> list[tuple[str, str]]:
    printer, spool = story.printers.get(build.printer_id), story.spools.get(build.spool_id)
    roads = _joined(
        ("nozzle", build.nozzle_mm, "mm"),
        ("line", build.line_width_mm, "mm"),
        ("layer", build.layer_height_mm, "mm"),
        ("walls", build.wall_count, ""),
        ("infill", build.infill_percent, "%"),
    )
    heat = _joined(
        ("nozzle", build.nozzle_c, "°C"),
        ("bed", build.bed_c, "°C"),
        ("chamber", build.chamber_c, "°C"),
        ("fan", build.fan_percent, "%"),
    )
    return _filled(
        ("Material", spool_name(spool) if spool else "not known"),
        ("Printer", printer_name(printer) if printer else "not known"),
        ("Roads and layers", roads),
        ("Heat", heat),
        ("Orientation", build.orientation),
        ("After-treatment", build.after_treatment),
        ("Note", build.note),
    )


def _joined(*values: tuple[str, float | None, str]) -> str:
    return " · ".join(f"{name} {value:g} {unit}".rstrip() for name, value, unit in values if value is not None)


def _stay(request: Request, story: Story, stay: Service) -> Iterator[Event]:
    build = next(b for b in story.builds if b.id == stay.build_id)
    works = stay.fit_check == "works"
    edit = Link("Edit", address(request, "service_edit", service_id=stay.id))
    look = (
        Link("Inspection", address(request, "inspection_new", service_id=stay.id))
        if not stay.removed_on
        else Link("", "")
    )
    took_off = Link("Log its removal", edit.address) if not stay.removed_on else Link("", "")
    yield Event(
        "fitting",
        "Fitting",
        stay.fitted_on,
        day(stay.fitted_on),
        f"Build {build.id} fitted",
        f"service-{stay.id}",
        facts=_filled(
            ("Fit check", f"{words(stay.fit_check, 'fit_check')}" + (f": {stay.fit_note}" if stay.fit_note else "")),
            ("Highest temperature", number(stay.highest_c, 0, "°C") if stay.highest_c is not None else ""),
            ("Chemicals", stay.chemicals),
            ("Loads", stay.loads),
        ),
        actions=links(look, took_off, edit),
        mark="good" if works else "warn" if stay.fit_check else "",
        order=(RANK["fitting"], stay.id or 0),
    )
    if stay.removed_on:
        yield Event(
            "removal",
            "Removal",
            stay.removed_on,
            day(stay.removed_on),
            f"{upper_first(build_name(build))} removed",
            f"removal-{stay.id}",
            actions=links(edit),
            order=(RANK["removal"], stay.id or 0),
        )


def _inspection(request: Request, look: Inspection) -> Event:
    change = Link(
        "Edit" if look.done_on else "Log what was seen", address(request, "inspection_edit", inspection_id=look.id)
    )
    overdue = not look.done_on and look.due_on <= date.today()
    marks = {"sound": "good", "worn": "warn", "damaged": "bad", "failed": "bad"}
    return Event(
        "inspection" if look.done_on else "due",
        "Inspection",
        look.done_on or look.due_on,
        day(look.done_on or look.due_on),
        f"Inspection: {words(look.result, 'inspection')}"
        if look.done_on
        else "Inspection due" + (" – open" if overdue else ""),
        f"inspection-{look.id}",
        facts=_filled(("Due", day(look.due_on) if look.done_on else ""), ("Seen", look.note)),
        actions=links(change),
        mark=marks.get(look.result, "warn" if overdue else ""),
        order=(RANK["inspection" if look.done_on else "due"], look.id or 0),
    )


def _failure(request: Request, story: Story, failure: Failure) -> Iterator[Event]:
    said = story.entries[failure.id or 0][-1]
    picture = story.pictures.get(failure.id or 0)
    page = address(request, "failure", failure_id=failure.id)
    revision = next(r for r in story.revisions if r.id == failure.revision_id)
    broken = f"build {failure.build_id} of {revision_name(revision)}" if failure.build_id else revision_name(revision)
    verdict = whole(story.conclusions.get(failure.id or 0))
    yield Event(
        "failure",
        "Failure",
        said.found_on,
        day(said.found_on),
        f"{failure_name(failure)}: {broken} broke",
        f"failure-{failure.id}",
        address=page,
        facts=_filled(
            ("How it was noticed", said.noticed_how),
            ("Suspected load", said.load_words),
            ("Before it", said.happened_before),
        ),
        actions=links(Link("Go on with it" if not verdict.code else "Open", page)),
        thumb=address(request, "photo_thumb", photo_id=picture.id) if picture else "",
        rendered=bool(picture and picture.is_rendered),
        verdict=verdict,
        mark="bad",
        order=(RANK["failure"], failure.id or 0),
    )
    for change in story.changes.get(failure.id or 0, []):
        yield _change(request, story, failure, change)


def _change(request: Request, story: Story, failure: Failure, change: Change) -> Event:
    done = next((r for r in story.revisions if r.id == change.done_in_revision_id), None)
    carry = f"{address(request, 'revision_new', part_id=story.part.id)}?change={change.id}"
    on = max(change.entered_at.astimezone().date(), story.found_on(failure))
    if done and done.drawn_on:
        # Asked for before it was drawn, whenever it was typed in.
        on = max(min(on, done.drawn_on), story.found_on(failure))
    return Event(
        "change",
        "Change for the next build",
        on,
        day(on),
        change.what,
        f"change-{change.id}",
        facts=_filled(
            ("Why", change.why),
            ("After", failure_name(failure)),
            ("Done in", revision_name(done) if done else "no revision yet"),
        ),
        actions=[] if done else [Link("Make the next revision", carry)],
        mark="" if done else "warn",
        order=(RANK["change"], change.id or 0),
    )
