"""Addresses by name, for pages that link to an area which may not be installed."""

from dataclasses import dataclass
from typing import Any

from fastapi import Request
from starlette.routing import NoMatchFound


@dataclass(frozen=True)
class Link:
    """Where an action leads and what stands on its button; `main` is the one most likely wanted next."""

    words: str
    address: str
    main: bool = False


def address(request: Request, name: str, **path: Any) -> str:
    """Return the path of the address called `name`, or "" where there is none of that name."""
    try:
        return str(request.app.url_path_for(name, **path))
    except NoMatchFound:
        return ""


def links(*candidates: Link) -> list[Link]:
    """Return those of `candidates` that lead somewhere."""
    return [link for link in candidates if link.address]
