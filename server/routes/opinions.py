"""Second opinions: the links of a case, and what a colleague sees and answers through one."""

from datetime import date, timedelta
from urllib.parse import quote

from fastapi import HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session

from analysis.nextbuild.plans import rank_plans
from server.access import get_or_404
from server.database import SessionDep
from server.errors import not_found
from server.formpage import MaybeSent
from server.forms.nextbuild import OpinionForm, OpinionLinkForm
from server.links import address
from server.nextbuild.gathering import gather
from server.nextbuild.links import find_link, links_of, new_link, revoke, why_closed
from server.nextbuild.opinions import add_opinion, plan_words
from server.nextbuild.shared_case import models_of, photos_of_case, shared_case, until_words
from server.pages import go, show
from server.photos import pictures
from server.records import OpinionLink
from server.verdict.scope import Scope, read_scope, trail

LINK_DAYS = 14
# Nothing of a shared case is to be found by a search engine or kept by a cache on the way.
PRIVATE = {"X-Robots-Tag": "noindex, nofollow", "Cache-Control": "private, no-store", "Referrer-Policy": "same-origin"}


def opinion_links(request: Request, session: SessionDep, failure_id: int, sent: MaybeSent) -> Response:
    scope = read_scope(session, failure_id)
    form = OpinionLinkForm(sent)
    if sent is None:
        form.expires_on.data = date.today() + timedelta(LINK_DAYS)
        return _links_page(request, session, scope, form)
    if not form.validate():
        return _links_page(request, session, scope, form, status=422)
    token = new_link(session, OpinionLink(failure_id=failure_id, **form.data))
    fresh = str(request.url_for("shared_case", token=token))
    # No redirect: the token is shown this once and stands nowhere else.
    return _links_page(request, session, scope, OpinionLinkForm(), fresh=fresh)


def opinion_link_revoke(request: Request, session: SessionDep, link_id: int) -> Response:
    link = get_or_404(session, OpinionLink, link_id)
    revoke(session, link)
    return go(request, "opinion_links", failure_id=link.failure_id)


def shared_case_page(request: Request, session: SessionDep, token: str, sent: MaybeSent) -> Response:
    link = _open(session, token)
    scope = read_scope(session, link.failure_id)
    known = gather(session, scope)
    ranking = rank_plans(known.situation)
    form = OpinionForm(sent)
    form.offer([(plan.key, f"{place}. {plan_words(plan)}") for place, plan in enumerate(ranking.plans, start=1)])
    thanks = False
    status = 200
    if sent is not None:
        thanks = form.validate()
        status = 200 if thanks else 422
        if thanks:
            add_opinion(
                session, link, form.who.data, ranking, form.plan_key.data, form.proposal.data, form.comment.data
            )
    context = shared_case(request, session, link, token, scope, known)
    context |= {"form": form, "ranking": ranking, "thanks": thanks, "until": until_words(link)}
    return _private(show(request, "opinions/case.html", context, status))


def shared_photo(request: Request, session: SessionDep, token: str, number: int) -> Response:
    link = _open(session, token)
    photos = photos_of_case(session, link.failure_id)
    if not 1 <= number <= len(photos):
        raise not_found("photo of this case")
    state = request.app.state
    data = pictures.view(state.settings, state.store, photos[number - 1][0], 1600)
    return _private(Response(data, media_type="image/jpeg"))


def shared_model(request: Request, session: SessionDep, token: str, number: int) -> Response:
    link = _open(session, token)
    files = models_of(session, read_scope(session, link.failure_id)) if link.shows_model else []
    if not 1 <= number <= len(files):
        raise not_found("model file of this case")
    file = files[number - 1]
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(file.file_name, safe='')}"}
    data = request.app.state.store.read(file.sha256)
    return _private(Response(data, media_type="application/octet-stream", headers=headers))


def _open(session: Session, token: str) -> OpinionLink:
    link = find_link(session, token)
    if link is None:
        raise not_found("link")
    if why := why_closed(link, date.today()):
        raise HTTPException(410, why)
    return link


def _private(response: Response) -> Response:
    response.headers.update(PRIVATE)
    return response


def _links_page(
    request: Request, session: Session, scope: Scope, form: OpinionLinkForm, fresh: str = "", status: int = 200
) -> Response:
    today = date.today()
    context = {
        "title": f"Second opinions on {scope.part.name}",
        "trail": trail(request, scope),
        "form": form,
        "fresh": fresh,
        "links": [
            (link, why_closed(link, today), address(request, "opinion_link_revoke", link_id=link.id))
            for link in links_of(session, scope.failure_id)
        ],
        "plan_address": address(request, "plan", failure_id=scope.failure_id),
        "here": address(request, "opinion_links", failure_id=scope.failure_id),
    }
    response = show(request, "opinions/links.html", context, status)
    return _private(response) if fresh else response
