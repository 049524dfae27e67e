"""Templates, what they all may use, and the two answers a form gets."""

from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import RedirectResponse, Response
from fastapi.templating import Jinja2Templates

from analysis.evidence.words import share_words
from server import __version__, wording

ROOT = Path(__file__).resolve().parent.parent
TEMPLATES, STATIC = ROOT / "templates", ROOT / "static"


class Pages:
    """The templates with the filters and words that every page may use."""

    def __init__(self) -> None:
        self.templates = Jinja2Templates(directory=TEMPLATES)
        environment = self.templates.env
        environment.trim_blocks = environment.lstrip_blocks = True
        environment.filters.update(day=day, moment=moment, number=number, share=share_words, words=wording.words)
        environment.globals.update(version=__version__)

    def show(
        self, request: Request, template: str, context: Mapping[str, Any] | None = None, status: int = 200
    ) -> Response:
        """Return the page made from `template`."""
        return self.templates.TemplateResponse(request, template, dict(context or {}), status_code=status)


def show(request: Request, template: str, context: Mapping[str, Any] | None = None, status: int = 200) -> Response:
    """Return the page made from `template` by the application's templates."""
    pages: Pages = request.app.state.pages
    return pages.show(request, template, context, status)


def go(request: Request, name: str, anchor: str = "", **path: Any) -> RedirectResponse:
    """Send the browser on to the address called `name`, as after every accepted form."""
    return RedirectResponse(str(request.app.url_path_for(name, **path)) + anchor, status_code=303)


def day(value: date | datetime | None) -> str:
    """Write a date as 7 Mar 2026; an unknown date as a dash."""
    return f"{value.day} {value:%b %Y}" if value else "–"


def moment(value: datetime | None) -> str:
    """Write a time of entry as 7 Mar 2026, 14:05 UTC."""
    return f"{day(value)}, {value:%H:%M} UTC" if value else "–"


def number(value: float | None, digits: int = 2, unit: str = "") -> str:
    """Write a number with its unit, or say that it is not known."""
    if value is None:
        return "not known"
    text = f"{value:.{digits}f}" if isinstance(value, float) else str(value)
    return f"{text} {unit}".strip()
