"""What came of a failure: pieces, break sites, faces, and what was done to a piece."""

from datetime import date
from typing import Any

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import Session, col, select
from starlette.datastructures import FormData

from server.access import get_or_404
from server.case import mates
from server.case.current import fragment_entries, grouped, site_entries
from server.database import SessionDep
from server.formpage import FormPage, MaybeSent, show_form
from server.forms.pieces import (
    FaceForm,
    FragmentCorrectionForm,
    FragmentForm,
    SiteCorrectionForm,
    SiteForm,
    TreatmentCorrectionForm,
    TreatmentForm,
)
from server.forms.record import offer
from server.history.part import form_warnings
from server.links import Link, address
from server.naming import failure_name
from server.pages import go
from server.records import (
    BreakSite,
    Face,
    Failure,
    Fragment,
    FragmentEntry,
    Part,
    Photo,
    Revision,
    SiteEntry,
    Treatment,
)

TREATMENT_ORDER = (
    "First the photos as found: cleaning takes away what can't be put back.",
    "Then a dry brush, or a mild detergent in water.",
    "No solvent that attacks or crazes the polymer: it makes marks of its own.",
    "Let it dry and photograph it again. A wetted face hides whitening.",
)
NO_AS_FOUND_PHOTO = "No photo of this piece as found is in the record yet. Take it before anything is cleaned."


def fragment_new(request: Request, session: SessionDep, failure_id: int, sent: MaybeSent) -> Response:
    failure = get_or_404(session, Failure, failure_id)
    labels = [piece.item_label for piece in _fragments(session, failure)]
    form = FragmentForm(sent)
    form.taken_labels = labels
    if sent is None or not form.validate():
        if sent is None:
            form.item_label.data = next(str(n) for n in range(1, len(labels) + 2) if str(n) not in labels)
        return show_form(request, _page(request, session, failure, "Log a piece", submit="Save the piece"), form)
    piece = Fragment(failure_id=failure_id, item_label=form.item_label.data)
    session.add(piece)
    session.flush()
    session.add(FragmentEntry(fragment_id=piece.id or 0, **_without(form.data, "item_label")))
    session.commit()
    return go(request, "failure", failure_id=failure_id, anchor="#pieces")


def fragment_correct(request: Request, session: SessionDep, fragment_id: int, sent: MaybeSent) -> Response:
    piece = get_or_404(session, Fragment, fragment_id)
    failure = get_or_404(session, Failure, piece.failure_id)
    entry = fragment_entries(session, [fragment_id])[fragment_id][-1]
    form = FragmentCorrectionForm(sent, obj=entry)
    form.taken_labels = [other.item_label for other in _fragments(session, failure) if other.id != fragment_id]
    if sent is None:
        form.item_label.data, form.correction_reason.data = piece.item_label, ""
    if sent is None or not form.validate():
        title = f"Correct what is said of piece {piece.item_label}"
        return show_form(request, _page(request, session, failure, title, submit="Save the corrected entry"), form)
    said = _without(form.data, "item_label")
    if form.item_label.data != piece.item_label:
        said["correction_reason"] += f" (Its label was: {piece.item_label}.)"
        piece.item_label = form.item_label.data
        session.add(piece)
    session.add(FragmentEntry(fragment_id=fragment_id, replaces_id=entry.id, **said))
    session.commit()
    return go(request, "failure", failure_id=failure.id, anchor="#pieces")


def site_new(request: Request, session: SessionDep, failure_id: int, sent: MaybeSent) -> Response:
    failure = get_or_404(session, Failure, failure_id)
    form = SiteForm(sent)
    _know_other_sites(session, failure, form)
    if sent is None or not form.validate():
        return show_form(
            request, _page(request, session, failure, "Log a break site", submit="Save the break site"), form
        )
    site = BreakSite(failure_id=failure_id, name=form.name.data)
    session.add(site)
    session.flush()
    session.add(SiteEntry(site_id=site.id or 0, **_without(form.data, "name")))
    session.commit()
    return go(request, "failure", failure_id=failure_id, anchor="#sites")


def site_correct(request: Request, session: SessionDep, site_id: int, sent: MaybeSent) -> Response:
    site = get_or_404(session, BreakSite, site_id)
    failure = get_or_404(session, Failure, site.failure_id)
    entry = site_entries(session, [site_id])[site_id][-1]
    form = SiteCorrectionForm(sent, obj=entry)
    _know_other_sites(session, failure, form, but=site_id)
    if sent is None:
        form.name.data, form.correction_reason.data = site.name, ""
    if sent is None or not form.validate():
        title = f"Correct what is said of {site.name}"
        return show_form(request, _page(request, session, failure, title, submit="Save the corrected entry"), form)
    said = _without(form.data, "name")
    if form.name.data != site.name:
        said["correction_reason"] += f" (Its name was: {site.name}.)"
        site.name = form.name.data
        session.add(site)
    session.add(SiteEntry(site_id=site_id, replaces_id=entry.id, **said))
    session.commit()
    return go(request, "failure", failure_id=failure.id, anchor="#sites")


def _know_other_sites(session: Session, failure: Failure, form: SiteForm, but: int = 0) -> None:
    others = [site for site in _sites(session, failure) if site.id != but]
    said = site_entries(session, [site.id for site in others])
    form.taken_names = [site.name for site in others]
    form.first_site = next((s.name for s in others if said[s.id or 0] and said[s.id or 0][-1].sequence == "first"), "")


def face_new(request: Request, session: SessionDep, failure_id: int, sent: MaybeSent) -> Response:
    failure = get_or_404(session, Failure, failure_id)
    form = _face_form(session, failure, sent)
    if not form.fragment_id.choices:
        page = _page(
            request,
            session,
            failure,
            "Log a face",
            "A face is on a piece, and no piece of this failure is recovered yet.",
            ways=[Link("Log a piece", address(request, "fragment_new", failure_id=failure_id))],
        )
        return show_form(request, page, None)
    if sent is None or not form.validate():
        if sent is None:
            _prefill_face(request, form)
        return show_form(request, _page(request, session, failure, "Log a face", submit="Save the face"), form)
    face = Face(**_without(form.data, "mate_face_id"))
    session.add(face)
    session.flush()
    mates.pair(session, face, form.mate_face_id.data)
    session.commit()
    return go(
        request,
        "face" if address(request, "face", face_id=face.id) else "failure",
        **_face_or_failure(request, face, failure),
    )


def face_edit(request: Request, session: SessionDep, face_id: int, sent: MaybeSent) -> Response:
    face = get_or_404(session, Face, face_id)
    piece = get_or_404(session, Fragment, face.fragment_id)
    failure = get_or_404(session, Failure, piece.failure_id)
    form = _face_form(session, failure, sent, face)
    if sent is None or not form.validate():
        return show_form(request, _page(request, session, failure, f"Edit face {face.name}"), form)
    for name, value in _without(form.data, "mate_face_id").items():
        setattr(face, name, value)
    session.add(face)
    mates.pair(session, face, form.mate_face_id.data)
    session.commit()
    return go(
        request,
        "face" if address(request, "face", face_id=face.id) else "failure",
        **_face_or_failure(request, face, failure),
    )


def _face_or_failure(request: Request, face: Face, failure: Failure) -> dict[str, Any]:
    return {"face_id": face.id} if address(request, "face", face_id=face.id) else {"failure_id": failure.id}


def _face_form(session: Session, failure: Failure, sent: FormData | None, face: Face | None = None) -> FaceForm:
    form = FaceForm(sent, obj=face)
    pieces = _fragments(session, failure)
    said = fragment_entries(session, [piece.id for piece in pieces])
    here = [p for p in pieces if said[p.id or 0][-1].status == "recovered" or (face and face.fragment_id == p.id)]
    labels = {piece.id: f"piece {piece.item_label}" for piece in pieces}
    others = mates.free_faces(session, failure, face)
    offer(form.fragment_id, None, ((piece.id, labels[piece.id]) for piece in here))
    offer(form.site_id, "not known", ((site.id, site.name) for site in _sites(session, failure)))
    offer(
        form.mate_face_id,
        "none known",
        ((other.id, f"{other.name} on {labels[other.fragment_id]}") for other in others),
    )
    form.site_of_face = {other.id or 0: other.site_id for other in others}
    return form


def _prefill_face(request: Request, form: FaceForm) -> None:
    """Choose the piece and site that the address names: the case page links from them."""
    for field, name in ((form.fragment_id, "piece"), (form.site_id, "site")):
        named = request.query_params.get(name, "")
        field.data = next((key for key in field.choices if key and str(key) == named), field.data)
    sites = [key for key in form.site_id.choices if key]
    if len(sites) == 1 and form.site_id.data is None:
        form.site_id.data = sites[0]


def treatment_new(request: Request, session: SessionDep, fragment_id: int, sent: MaybeSent) -> Response:
    piece = get_or_404(session, Fragment, fragment_id)
    failure = get_or_404(session, Failure, piece.failure_id)
    form = TreatmentForm(sent)
    if sent is None:
        form.done_on.data = date.today()
    if sent is None or not form.validate():
        warnings = [] if _photographed_as_found(session, piece) else [NO_AS_FOUND_PHOTO]
        title = f"Cleaning or handling of piece {piece.item_label}"
        page = _page(request, session, failure, title, hints=TREATMENT_ORDER, warnings=warnings, submit="Save the step")
        return show_form(request, page, form)
    session.add(Treatment(fragment_id=fragment_id, **form.data))
    session.commit()
    return go(request, "failure", failure_id=failure.id, anchor="#pieces")


def treatment_correct(request: Request, session: SessionDep, treatment_id: int, sent: MaybeSent) -> Response:
    step = get_or_404(session, Treatment, treatment_id)
    piece = get_or_404(session, Fragment, step.fragment_id)
    failure = get_or_404(session, Failure, piece.failure_id)
    form = TreatmentCorrectionForm(sent, obj=step)
    replaced = session.exec(select(Treatment.id).where(col(Treatment.replaces_id) == treatment_id)).first()
    if sent is None:
        form.correction_reason.data = ""
    if sent is None or replaced or not form.validate():
        warnings = ["This step has been corrected already; correct the newest entry."] if replaced else []
        return show_form(
            request,
            _page(request, session, failure, f"Correct the step on piece {piece.item_label}", warnings=warnings),
            form,
        )
    session.add(Treatment(fragment_id=piece.id or 0, replaces_id=treatment_id, **form.data))
    session.commit()
    return go(request, "failure", failure_id=failure.id, anchor="#pieces")


def _photographed_as_found(session: Session, piece: Fragment) -> bool:
    of_faces = (
        select(Photo.id)
        .join(Face, col(Photo.face_id) == col(Face.id))
        .where(Face.fragment_id == piece.id, Photo.stage == "as_found")
    )
    return session.exec(of_faces.limit(1)).first() is not None


def _fragments(session: Session, failure: Failure) -> list[Fragment]:
    return grouped(session, Fragment, Fragment.failure_id, [failure.id])[failure.id or 0]


def _sites(session: Session, failure: Failure) -> list[BreakSite]:
    return grouped(session, BreakSite, BreakSite.failure_id, [failure.id])[failure.id or 0]


def _without(values: dict[str, Any], name: str) -> dict[str, Any]:
    return {key: value for key, value in values.items() if key != name}


def _page(request: Request, session: Session, failure: Failure, title: str, intro: str = "", **more: Any) -> FormPage:
    part = get_or_404(session, Part, get_or_404(session, Revision, failure.revision_id).part_id)
    back = address(request, "failure", failure_id=failure.id)
    trail = (
        ("Parts", address(request, "parts")),
        (part.name, address(request, "part", part_id=part.id)),
        (failure_name(failure), back),
    )
    more["warnings"] = [*form_warnings(part), *more.get("warnings", ())]
    return FormPage(title, back, trail, intro, **more)
