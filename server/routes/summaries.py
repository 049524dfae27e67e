"""Pages of the summary for a customer: its wording, the page to print, the PDF."""

import re
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.responses import Response
from sqlmodel import Session
from starlette.datastructures import FormData

from server.database import SessionDep
from server.forms.base import read_form
from server.forms.summaries import PictureForm, SummaryForm
from server.links import address
from server.naming import failure_name
from server.pages import go, show
from server.summary import summaries
from server.summary.pdf import NoPdf
from server.summary.pictures import Picture, pictures_of
from server.verdict.scope import Scope, read_scope, trail

Sent = Annotated[FormData, Depends(read_form)]
Pictures = list[tuple[Picture, PictureForm, str]]


def summary(request: Request, session: SessionDep, failure_id: int, fresh: str = "") -> Response:
    scope = read_scope(session, failure_id)
    kept = summaries.kept_summaries(session, failure_id)
    wording = kept[0].wording if kept and not fresh else summaries.draft_wording(session, scope)
    form = SummaryForm(
        data={**wording["sections"], "prepared_by": wording.get("prepared_by", ""), "paper": wording.get("paper", "A4")}
    )
    chosen = [
        (
            picture,
            PictureForm(
                prefix=_prefix(picture),
                data={
                    "chosen": picture.key in wording["pictures"],
                    "caption": wording["pictures"].get(picture.key, ""),
                },
            ),
        )
        for picture in pictures_of(session, scope, wording["pictures"])
    ]
    return _page(request, session, scope, form, chosen, fresh=bool(fresh))


def summary_keep(request: Request, session: SessionDep, failure_id: int, sent: Sent) -> Response:
    scope = read_scope(session, failure_id)
    form = SummaryForm(sent)
    kept = summaries.kept_summaries(session, failure_id)
    offered = pictures_of(session, scope, kept[0].wording["pictures"] if kept else ())
    chosen = [(picture, PictureForm(sent, prefix=_prefix(picture))) for picture in offered]
    sound = [form.validate(), *(one.validate() for _, one in chosen)]
    wanted = {picture.key: one.caption.data or "" for picture, one in chosen if one.chosen.data}
    if len(wanted) > summaries.MOST_PICTURES:
        problem = f"{len(wanted)} pictures are chosen; {summaries.MOST_PICTURES} fit on the summary."
        return _page(request, session, scope, form, chosen, status=422, problem=problem)
    if not all(sound):
        return _page(
            request, session, scope, form, chosen, status=422, problem="Nothing was saved yet: see the marked fields."
        )
    sections = {key: form[key].data or "" for key, _ in summaries.SECTIONS}
    summaries.keep(
        session,
        failure_id,
        {"sections": sections, "pictures": wanted, "prepared_by": form.prepared_by.data, "paper": form.paper.data},
    )
    return go(request, "summary", failure_id=failure_id, anchor="#kept")


def _prefix(picture: Picture) -> str:
    return picture.key.replace(":", "-") + "-"


def _page(
    request: Request,
    session: Session,
    scope: Scope,
    form: SummaryForm,
    chosen: list[tuple[Picture, PictureForm]],
    *,
    status: int = 200,
    problem: str = "",
    fresh: bool = False,
) -> Response:
    kept, key = summaries.kept_summaries(session, scope.failure_id), scope.failure_id
    context: dict[str, Any] = {
        "title": f"Summary for the customer: {scope.part.name}",
        "trail": trail(request, scope),
        "scope": scope,
        "form": form,
        "section_fields": [form[name] for name, _ in summaries.SECTIONS],
        "problem": problem,
        "fresh": fresh,
        "kept": kept,
        "chosen": [
            (picture, one, address(request, "photo_thumb", photo_id=picture.photo_id)) for picture, one in chosen
        ],
        "too_long": "" if status != 200 or fresh or not kept else _too_long(request, session, key),
        "here": address(request, "summary", failure_id=key),
        "print_address": address(request, "summary_print", failure_id=key),
        "pdf_address": address(request, "summary_pdf", failure_id=key),
        "can_hurt": scope.part.can_hurt,
    }
    return show(request, "summary/edit.html", context, status)


def _too_long(request: Request, session: Session, failure_id: int) -> str:
    try:
        pages = summaries.make_summary_pdf(request, session, failure_id).pages
    except NoPdf:
        return ""
    return (
        f"The summary fills {pages} pages. Shorten the text or leave out a picture: two pages is what a customer reads."
        if pages > summaries.MOST_PAGES
        else ""
    )


def summary_print(request: Request, session: SessionDep, failure_id: int) -> Response:
    sheet = summaries.read_sheet(request, session, failure_id)
    return show(request, "summary/print.html", {**sheet.context, "dense": False, "is_pdf": False})


def summary_pdf(request: Request, session: SessionDep, failure_id: int) -> Response:
    scope = read_scope(session, failure_id)
    try:
        pdf = summaries.make_summary_pdf(request, session, failure_id)
    except NoPdf as error:
        return show(request, "error.html", {"status": 503, "words": str(error)}, 503)
    name = (
        re.sub(r"[^A-Za-z0-9]+", "-", f"{scope.part.name} {failure_name(scope.failure)}").strip("-").lower()
        or "summary"
    )
    return Response(
        pdf.data,
        media_type="application/pdf",
        headers={"Content-Disposition": f'attachment; filename="summary-{name[:80]}.pdf"'},
    )
