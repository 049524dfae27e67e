"""The help page."""

from fastapi import Request
from fastapi.responses import Response

from server.pages import show


def help_page(request: Request) -> Response:
    return show(request, "help/help.html", {"title": "Help"})
