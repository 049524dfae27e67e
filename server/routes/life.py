"""How long parts last: the page, and the same through the published interface."""

from datetime import date
from typing import Annotated, Literal

from fastapi import Query, Request
from fastapi.responses import Response

from server.api_models import LifeOut
from server.database import SessionDep
from server.life.api import life_out
from server.life.asked import Asked
from server.life.page import count, life_page
from server.pages import show
from server.routes.api import answers

Key = Annotated[int, Query(ge=0, lt=10**9)]
Text = Annotated[str, Query(max_length=200)]


def life(request: Request, session: SessionDep) -> Response:
    page = life_page(request, session, Asked.from_query(request.query_params))
    return show(request, "life/life.html", {"title": "How long parts last", "page": page})


@answers(200)
def read_life(
    session: SessionDep,
    group: Literal["", "material", "printer", "spool", "revision", "mode", "feature"] = "",
    material: Text = "",
    printer: Key = 0,
    spool: Key = 0,
    part: Key = 0,
    revision: Annotated[int | None, Query(ge=0, lt=10**6)] = None,
    mode: Literal[
        "", "layer_delamination", "under_extrusion", "overload", "interference_rub", "undetermined", "none"
    ] = "",
    feature: Text = "",
) -> LifeOut:
    """Ages of builds in use: survival curves with limits, Weibull fits and the log-rank test, of chosen groups."""
    number = "" if revision is None else str(revision)
    asked = Asked(group, material, printer, spool, part, number, mode, feature.strip())
    return life_out(count(session, asked, date.today()))
