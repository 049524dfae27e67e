"""The customer's summary: drafted from the record, worded by a person, kept with it, printed from one template."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from fastapi import Request
from sqlmodel import Session, col, select

from analysis.evidence.cautions import CAN_HURT
from server.case import current
from server.gaps.causes import causes_of, told_of
from server.pages import STATIC, day
from server.records import Build, Customer, Failure, Fragment, Inspection, Service, Summary
from server.records.base import now
from server.strength.told import customer_words
from server.summary.draft import Facts, Place, draft
from server.summary.pdf import Pdf, Resource, make_pdf
from server.summary.pictures import Picture, picture_bytes, pictures_of
from server.summary.words import gap_cause_words
from server.verdict.scope import Scope, faces_of, latest_records, read_scope, sequences
from server.verdict.verdicts import person_verdicts, weigh_scope

SECTIONS = (
    ("does", "What the part does"),
    ("came_back", "What came back"),
    ("found", "What we found"),
    ("means", "What it means"),
    ("change", "What we will change"),
    ("care", "Care"),
    ("not_known", "What is not known"),
)
# What stands on every summary, in a customer's words; what is said of a dangerous part is in analysis/cautions.py.
FOR_THE_CUSTOMER = (
    "This summary says what the broken part shows. It does not say that a mended or reprinted part will hold.",
    "It rests on what could be seen, measured and told to us; more could change it.",
)
MOST_PICTURES = 4
MOST_PAGES = 2


def kept_summaries(session: Session, failure_id: int) -> list[Summary]:
    """Every wording kept, the newest first."""
    query = select(Summary).where(Summary.failure_id == failure_id).order_by(col(Summary.id).desc())
    return list(session.exec(query).all())


def keep(session: Session, failure_id: int, wording: dict[str, Any]) -> Summary:
    """Add a wording to the record; the one before stays."""
    before = kept_summaries(session, failure_id)
    if before and before[0].wording == wording:
        return before[0]
    record = Summary(failure_id=failure_id, wording=wording, replaces_id=before[0].id if before else None)
    session.add(record)
    session.commit()
    return record


def draft_wording(session: Session, scope: Scope) -> dict[str, Any]:
    """A wording made from the record as it stands now, with the pictures that fit it best."""
    chosen = [picture.key for picture in _first_choice(pictures_of(session, scope))]
    return {
        "sections": draft(read_facts(session, scope)),
        "pictures": dict.fromkeys(chosen, ""),
        "prepared_by": "",
        "paper": "A4",
    }


def _first_choice(pictures: list[Picture]) -> list[Picture]:
    """One measured face of each place first, then the others; a bare photo only where nothing was measured."""
    measured = [picture for picture in pictures if picture.measurement_id]
    if not measured:
        return pictures[:1]
    first: dict[int | None, Picture] = {}
    for picture in measured:
        first.setdefault(picture.site_id, picture)
    rest = [picture for picture in measured if picture not in first.values()]
    # Places before second faces; a failure with four places shows all four.
    return [*first.values(), *rest][: max(len(first), 2)][:MOST_PICTURES]


def read_facts(session: Session, scope: Scope) -> Facts:
    """Gather what the draft is made from."""
    key = scope.failure_id
    entries = current.failure_entries(session, [key]).get(key, [])
    pieces = session.exec(select(Fragment).where(Fragment.failure_id == key)).all()
    said = current.fragment_entries(session, [piece.id for piece in pieces])
    places = [_place(session, scope.at(site), site.name) for site in scope.sites] if len(scope.sites) > 1 else []
    whole = _place(session, scope, "")
    return Facts(
        part=scope.part,
        entry=entries[-1] if entries else None,
        pieces=[group[-1] for group in said.values() if group],
        places=places or [whole],
        whole=whole,
        changes=current.changes(session, [key]).get(key, []),
        next_checks=_next_checks(session, scope.failure),
    )


def _place(session: Session, scope: Scope, name: str) -> Place:
    person = person_verdicts(session, scope)
    entry = sequences(session, scope).get(scope.site_id or 0)
    records = latest_records(session, faces_of(session, scope))
    said = causes_of(session, [record.id for _, record in records])
    told = {face.name: told_of(record, said.get(record.id or 0, [])).in_order() for face, record in records}
    return Place(
        name=name,
        measured=[(face.name, record.result) for face, record in records],
        load_words="" if scope.site is None and len(scope.sites) > 1 else customer_words(session, scope),
        gap_causes={face: gap_cause_words(rows) for face, rows in told.items()},
        result=weigh_scope(session, scope).result,
        person=person[0].mode if person else "",
        person_reason=person[0].reason if person else "",
        sequence=entry.sequence if entry else "unknown",
        how_known=entry.how_known if entry else "",
        why_followed=entry.why_followed if entry else "",
    )


def _next_checks(session: Session, failure: Failure) -> list[date]:
    query = select(Inspection).join(Service).join(Build)
    open_ones = query.where(
        Build.revision_id == failure.revision_id, col(Inspection.done_on).is_(None), Inspection.due_on >= now().date()
    )
    return [inspection.due_on for inspection in session.exec(open_ones).all()]


@dataclass(frozen=True)
class Sheet:
    """The page to print: its words and the pictures that stand at its addresses."""

    context: dict[str, Any]
    pictures: tuple[Picture, ...]


def read_sheet(request: Request, session: Session, failure_id: int) -> Sheet:
    """The newest wording, or a draft where none was kept, ready to print."""
    scope = read_scope(session, failure_id)
    kept = kept_summaries(session, failure_id)
    wording = kept[0].wording if kept else draft_wording(session, scope)
    offered = {picture.key: picture for picture in pictures_of(session, scope, wording["pictures"])}
    pictures = tuple(offered[key] for key in wording["pictures"] if key in offered)[:MOST_PICTURES]
    context = {
        "title": f"Summary: {scope.part.name}",
        "scope": scope,
        "sections": _sections(wording),
        "facts": _heading(session, scope, wording),
        "shown": [
            {"picture": p, "address": p.address(request), "caption": wording["pictures"][p.key] or p.caption}
            for p in pictures
        ],
        "numbers": [row for picture in pictures if (row := picture.numbers())],
        "can_hurt": scope.part.can_hurt,
        "cautions": [*(CAN_HURT if scope.part.can_hurt else ()), *FOR_THE_CUSTOMER],
        "loose": [piece.words for piece in current.loose_pieces(session, [failure_id]).get(failure_id, [])],
        "made_on": day(kept[0].entered_at if kept else now()),
        "is_draft": not kept,
        "paper": wording.get("paper", "A4"),
        "is_demo": scope.part.is_demo,
    }
    return Sheet(context, pictures)


def _sections(wording: dict[str, Any]) -> list[tuple[str, str, list[str]]]:
    """Key, heading and paragraphs of each section that has text."""
    found = []
    for key, heading in SECTIONS:
        paragraphs = [line.strip() for line in wording["sections"].get(key, "").splitlines() if line.strip()]
        if paragraphs:
            found.append((key, heading, paragraphs))
    return found


def _heading(session: Session, scope: Scope, wording: dict[str, Any]) -> list[tuple[str, str]]:
    customer = session.get(Customer, scope.part.customer_id) if scope.part.customer_id else None
    entries = current.failure_entries(session, [scope.failure_id]).get(scope.failure_id, [])
    rows = [
        ("For", customer.name if customer else ""),
        ("Case", scope.failure.case_label or f"no. {scope.failure.id}"),
        ("Found broken", day(entries[-1].found_on) if entries else ""),
        ("Prepared by", wording.get("prepared_by", "")),
    ]
    return [(name, value) for name, value in rows if value]


def make_summary_pdf(request: Request, session: Session, failure_id: int) -> Pdf:
    """The print page as a PDF of at most two pages where it can be: a long one is set smaller once."""
    sheet = read_sheet(request, session, failure_id)
    resources = {p.address(request): Resource(picture_bytes(request, session, p), "image/jpeg") for p in sheet.pictures}
    for name in ("print.css",):
        resources[str(request.app.url_path_for("static", path=f"css/{name}"))] = Resource(
            (STATIC / "css" / name).read_bytes(), "text/css"
        )
    pdf = _render(request, sheet, resources, dense=False)
    return pdf if pdf.pages <= MOST_PAGES else _render(request, sheet, resources, dense=True)


def _render(request: Request, sheet: Sheet, resources: dict[str, Resource], dense: bool) -> Pdf:
    template = request.app.state.pages.templates.get_template("summary/print.html")
    html = template.render(
        {**sheet.context, "request": request, "url_for": request.url_for, "dense": dense, "is_pdf": True}
    )
    return make_pdf(html, resources, sheet.context["paper"])
