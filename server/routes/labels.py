"""Labels for the bags of a case: the page that is printed, and the code on each."""

from urllib.parse import urlencode

from fastapi import HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session
from starlette.datastructures import FormData, UploadFile

from server.access import get_or_404
from server.database import SessionDep
from server.errors import not_found
from server.forms.labels import LabelForm
from server.labels.code import AddressRefused, check_base, code_svg, opens_here_only
from server.labels.page import SIZES, Label, chosen, labels_of, pages_of
from server.links import address
from server.naming import failure_name
from server.pages import show
from server.records import Failure, Part, Revision


def labels(request: Request, session: SessionDep, failure_id: int) -> Response:
    failure = get_or_404(session, Failure, failure_id)
    given: list[tuple[str, str | UploadFile]] = [*request.query_params.multi_items()]
    asked = FormData(given) if given else None
    form = LabelForm(asked, base=str(request.base_url).rstrip("/"))
    found = _labels(request, session, failure, str(request.base_url).rstrip("/"))
    form.offer({code: size.words for code, size in SIZES.items()}, {one.item: one.words for one in found})
    if asked is None:
        form.items.data = [one.item for one in found[1:] or found]
    is_good = asked is None or form.validate()
    base, pages = "", []
    if is_good:
        base = check_base(form.base.data)
        wanted = chosen(_labels(request, session, failure, base), form.items.data or [])
        pages = pages_of(wanted, SIZES[form.size.data], form.used.data or 0)
    case = address(request, "failure", failure_id=failure_id)
    context = {
        "title": f"Labels for {failure_name(failure)}",
        "trail": [("Parts", address(request, "parts")), (failure_name(failure), case)],
        "form": form,
        "pages": pages,
        "size": form.size.data if is_good else "",
        "code": address(request, "label_code", failure_id=failure_id) + "?" + urlencode({"base": base}),
        "here_only": base if is_good and opens_here_only(base) else "",
    }
    return show(request, "labels/labels.html", context, 200 if is_good else 422)


def label_code(request: Request, session: SessionDep, failure_id: int, item: str = "", base: str = "") -> Response:
    failure = get_or_404(session, Failure, failure_id)
    try:
        found = chosen(_labels(request, session, failure, check_base(base)), [item])
    except AddressRefused as error:
        raise HTTPException(422, str(error)) from error
    if not found:
        raise not_found("label")
    return Response(code_svg(found[0].target), media_type="image/svg+xml")


def _labels(request: Request, session: Session, failure: Failure, base: str) -> list[Label]:
    revision = get_or_404(session, Revision, failure.revision_id)
    return labels_of(request, session, failure, get_or_404(session, Part, revision.part_id), base)
