"""The pieces, break sites and faces of a case as its page prints them."""

from dataclasses import dataclass, field
from itertools import pairwise

from fastapi import Request

from server.case.file import CaseFile
from server.gaps.causes import case_words, told_of
from server.links import Link, address, links
from server.pages import day, moment
from server.records import Face, Fragment, FragmentEntry, Measurement, SiteEntry, Treatment
from server.wording import words


@dataclass(frozen=True)
class TreatmentLine:
    """One logged step, and the entries it replaced."""

    words: str
    by: str
    correct: str
    old: list[str]


@dataclass(frozen=True)
class PieceLine:
    """A piece as it is known now, and what was said of it before; the code on its bag leads to `anchor`."""

    anchor: str
    label: str
    status: str
    status_words: str
    facts: list[tuple[str, str]]
    harmful: bool
    treatments: list[TreatmentLine]
    old: list[tuple[str, str, str]]
    actions: list[Link]


@dataclass(frozen=True)
class SiteLine:
    """A break site as it is known now, and what was said of it before."""

    name: str
    sequence: str
    sequence_words: str
    facts: list[tuple[str, str]]
    old: list[tuple[str, str, str]]
    actions: list[Link]


@dataclass(frozen=True)
class FaceLine:
    """A face with its first photo, how far it is, and its newest measurement in one line."""

    name: str
    surface_words: str
    where: str
    mate: str
    address: str
    edit: str
    thumb: str
    rendered: bool
    photos: int
    measured: str
    measurement: str
    gaps: str
    todo: str
    warnings: list[str] = field(default_factory=list)


def piece_lines(request: Request, case: CaseFile) -> list[PieceLine]:
    """Return the pieces in order of entry."""
    return [_piece(request, case, piece) for piece in case.pieces]


def _piece(request: Request, case: CaseFile, piece: Fragment) -> PieceLine:
    said = case.pieces_said[piece.id or 0]
    now, recovered = said[-1], said[-1].status == "recovered"
    face = (
        Link("Log a face", f"{address(request, 'face_new', failure_id=case.failure.id)}?piece={piece.id}")
        if recovered
        else Link("", "")
    )
    clean = (
        Link("Log cleaning or handling", address(request, "treatment_new", fragment_id=piece.id))
        if recovered
        else Link("", "")
    )
    return PieceLine(
        f"piece-{piece.id}",
        piece.item_label,
        now.status,
        words(now.status, "fragment"),
        _piece_facts(now),
        case.harmful(piece),
        _treatments(request, case.treatments.get(piece.id or 0, [])),
        [(moment(a.entered_at), b.correction_reason, _piece_words(a)) for a, b in pairwise(said)][::-1],
        links(face, clean, Link("Correct", address(request, "fragment_correct", fragment_id=piece.id))),
    )


def _piece_facts(now: FragmentEntry) -> list[tuple[str, str]]:
    collected = " · ".join(text for text in (now.collector, day(now.collected_on) if now.collected_on else "") if text)
    facts = [
        ("Description", now.description),
        ("Condition", now.condition),
        ("Found", now.where_found),
        ("Collected", collected),
        ("Where it may be", now.where_may_be if now.status != "recovered" else ""),
        ("Could jam or hurt", now.harm_how if now.can_harm else ""),
        ("Corrected because", now.correction_reason),
    ]
    return [(name, text) for name, text in facts if text]


def _piece_words(entry: FragmentEntry) -> str:
    facts = [text for _, text in _piece_facts(entry)]
    return "; ".join([words(entry.status, "fragment"), *facts])


def _treatments(request: Request, rows: list[Treatment]) -> list[TreatmentLine]:
    by_key = {row.id: row for row in rows}
    replaced = {row.replaces_id for row in rows}
    lines = []
    for row in sorted((row for row in rows if row.id not in replaced), key=lambda r: (r.done_on, r.id or 0)):
        old, reason, earlier = [], row.correction_reason, by_key.get(row.replaces_id)
        while earlier:
            old.append(f"{_treatment_words(earlier)} – corrected because: {reason}")
            reason, earlier = earlier.correction_reason, by_key.get(earlier.replaces_id)
        lines.append(
            TreatmentLine(
                _treatment_words(row), row.done_by, address(request, "treatment_correct", treatment_id=row.id), old
            )
        )
    return lines


def _treatment_words(row: Treatment) -> str:
    return f"{day(row.done_on)}: {words(row.method, 'treatment')}" + (f", {row.detail}" if row.detail else "")


def site_lines(request: Request, case: CaseFile) -> list[SiteLine]:
    """Return the break sites, the one that let go first before the others."""
    order = {"first": 0, "unknown": 1, "later": 2}
    lines = []
    for site in sorted(case.sites, key=lambda s: (order.get(case.sites_said[s.id or 0][-1].sequence, 1), s.id or 0)):
        said = case.sites_said[site.id or 0]
        now = said[-1]
        face = f"{address(request, 'face_new', failure_id=case.failure.id)}?site={site.id}"
        lines.append(
            SiteLine(
                site.name,
                now.sequence,
                words(now.sequence, "sequence"),
                _site_facts(now),
                [(moment(a.entered_at), b.correction_reason, _site_words(a)) for a, b in pairwise(said)][::-1],
                links(Link("Log a face", face), Link("Correct", address(request, "site_correct", site_id=site.id))),
            )
        )
    return lines


def _site_facts(now: SiteEntry) -> list[tuple[str, str]]:
    facts = [
        ("How one knows", now.how_known),
        ("Why it followed", now.why_followed),
        ("Load here", now.load_words),
        ("Corrected because", now.correction_reason),
    ]
    return [(name, text) for name, text in facts if text]


def _site_words(entry: SiteEntry) -> str:
    return "; ".join([words(entry.sequence, "sequence"), *(text for _, text in _site_facts(entry))])


def face_lines(request: Request, case: CaseFile) -> list[FaceLine]:
    """Return the faces in order of entry."""
    return [_face(request, case, face) for face in case.faces]


def _face(request: Request, case: CaseFile, face: Face) -> FaceLine:
    piece = next(p for p in case.pieces if p.id == face.fragment_id)
    site = next((s.name for s in case.sites if s.id == face.site_id), "")
    mate = next((other.name for other in case.faces if other.id == face.mate_face_id), "")
    photos = case.photos.get(face.id or 0, [])
    measured = case.measured(face)
    first = photos[0] if photos else None
    return FaceLine(
        face.name,
        words(face.surface, "surface"),
        f"piece {piece.item_label}" + (f", {site}" if site else ""),
        mate,
        address(request, "face", face_id=face.id),
        address(request, "face_edit", face_id=face.id),
        address(request, "photo_thumb", photo_id=first.id) if first else "",
        bool(first and first.is_rendered),
        len(photos),
        _measured_words(measured) if measured else "",
        address(request, "measurement", measurement_id=measured.id) if measured else "",
        case_words(told_of(measured, case.gap_causes.get(measured.id or 0, []))) if measured else "",
        ""
        if measured or (face.surface == "outer" and photos)
        else "Photograph it."
        if not photos
        else "Set scale and outline, then measure.",
    )


def _measured_words(measured: Measurement) -> str:
    """Return bonded share and longest gap with the interval, or that it can't be had."""
    result = measured.result
    share = result.get("bonded_share_of_face") or {}
    gap = result.get("largest_gap_mm")
    parts = []
    if isinstance(share, dict) and share.get("value") is not None:
        low, high = share.get("interval") or (None, None)
        between = (
            f" (90 % interval {low * 100:.0f} to {high * 100:.0f} %)" if low is not None and high is not None else ""
        )
        parts.append(f"bonded {share['value'] * 100:.0f} % of the face{between}")
    else:
        parts.append("bonded share: could not be measured")
    if gap is not None:
        parts.append(f"longest wall gap {gap:.1f} mm")
    return "; ".join(parts)
