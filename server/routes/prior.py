"""The page of the prior."""

from typing import Annotated

from fastapi import Depends, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import FormData

from analysis.evidence.catalogue import MODES
from server.database import SessionDep
from server.forms.base import read_form
from server.forms.verdicts import PriorForm
from server.links import address
from server.pages import show
from server.verdict.priors import drop_prior, keep_prior, read_prior, shipped_prior

Sent = Annotated[FormData, Depends(read_form)]
SAID = {
    "kept": "The prior is set.",
    "scaled": "The shares did not add up to 1, so each was divided by their sum. The scaled ones are set and shown.",
    "shipped": "The prior that comes with the program holds again.",
}


def prior(request: Request, session: SessionDep, done: str = "") -> Response:
    held = read_prior(session)
    form = PriorForm(
        data={"name": held.name, "reason": held.reason, **{mode: round(held.shares[mode], 4) for mode in MODES}}
    )
    context = {
        "title": "The prior over the modes",
        "form": form,
        "held": held,
        "said": SAID.get(done),
        "shipped": shipped_prior(),
    }
    return show(request, "verdict/prior.html", context)


def prior_keep(request: Request, session: SessionDep, sent: Sent) -> Response:
    here = address(request, "prior")
    if sent.get("shipped"):
        drop_prior(session)
        return RedirectResponse(f"{here}?done=shipped", 303)
    form = PriorForm(sent)
    if not form.validate():
        context = {
            "title": "The prior over the modes",
            "form": form,
            "held": read_prior(session),
            "shipped": shipped_prior(),
        }
        return show(request, "verdict/prior.html", context, 422)
    scaled = keep_prior(session, form.name.data, form.reason.data or "", {mode: form[mode].data for mode in MODES})
    return RedirectResponse(f"{here}?done={'scaled' if scaled else 'kept'}", 303)
