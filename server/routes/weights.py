"""The page of the weights: what the log has counted, and a person's choice to weigh with it or with the file alone."""

from typing import Annotated

from fastapi import Depends, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session
from starlette.datastructures import FormData

from server.database import SessionDep
from server.forms.base import read_form
from server.forms.verdicts import WeightsForm
from server.links import address
from server.pages import show
from server.records import WeightChoice
from server.verdict.weightpage import log_choice, weights_page
from server.verdict.weightsets import choose

Sent = Annotated[FormData, Depends(read_form)]
SAID = {
    "log": "From now on verdicts are weighed with the log's counts, and each names them.",
    "file": "From now on verdicts are weighed with the file's weights again.",
}
TOO_FEW = "The log has too few cases with a person's verdict. Nothing was changed."


def weights(request: Request, session: SessionDep, done: str = "") -> Response:
    return _page(request, session, WeightsForm(), said=SAID.get(done, ""))


def weights_choose(request: Request, session: SessionDep, sent: Sent) -> Response:
    form = WeightsForm(sent)
    if not form.validate():
        return _page(request, session, form, 422)
    by, reason = form.chosen_by.data, form.reason.data or ""
    source = "file" if sent.get("source") == "file" else "log"
    choice = (
        WeightChoice(source="file", reason=reason, chosen_by=by)
        if source == "file"
        else log_choice(session, by, reason)
    )
    if choice is None:
        return _page(request, session, form, 422, wrong=TOO_FEW)
    choose(session, choice)
    return RedirectResponse(f"{address(request, 'weights')}?done={source}", 303)


def _page(
    request: Request, session: Session, form: WeightsForm, status: int = 200, said: str = "", wrong: str = ""
) -> Response:
    context = {**weights_page(session), "form": form, "said": said, "wrong": wrong}
    return show(request, "verdict/weights.html", context, status)
