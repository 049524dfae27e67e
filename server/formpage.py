"""The page of a form: one handler shows it and takes it, so that both always prepare the same choices and checks."""

from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass, field
from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.responses import Response
from starlette.datastructures import FormData
from wtforms import Form

from server.forms.base import read_form
from server.links import Link
from server.pages import show


async def _read_if_sent(request: Request) -> AsyncIterator[FormData | None]:
    """Yield what was sent, None where a page is only asked for; then let go of the files that came with it."""
    if request.method != "POST":
        yield None
        return
    sent = await read_form(request)
    yield sent
    await sent.close()


MaybeSent = Annotated[FormData | None, Depends(_read_if_sent)]


@dataclass(frozen=True)
class FormPage:
    """What stands around a form: heading, where "back" leads, hints before it, warnings, the button's words."""

    title: str
    back: str = ""
    trail: Sequence[tuple[str, str]] = ()
    intro: str = ""
    hints: Sequence[str] = ()
    warnings: Sequence[str] = ()
    submit: str = "Save"
    ways: Sequence[Link] = field(default_factory=list)  # shown in place of the form where it can't be filled in yet


def show_form(request: Request, page: FormPage, form: Form | None) -> Response:
    """Return the page with its form; after a refused form with 422 and everything still filled in."""
    context: dict[str, Any] = {name: getattr(page, name) for name in page.__dataclass_fields__}
    status = 422 if request.method == "POST" else 200
    return show(request, "shared/record.html", {**context, "form": form}, status)
