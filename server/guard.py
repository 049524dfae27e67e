"""What every answer and every request must meet: security headers, same origin for changes, a bound on the size."""

from collections.abc import Awaitable, Callable
from urllib.parse import urlsplit

from fastapi import FastAPI, Request, Response

from server.settings import Settings

# Not "no-referrer": under that a browser sends its own forms with "Origin: null", which the guard below refuses.
HEADERS = {
    "Content-Security-Policy": "default-src 'self'; img-src 'self' data: blob:; media-src 'self' blob:; "
    "object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "X-Frame-Options": "DENY",
}
Next = Callable[[Request], Awaitable[Response]]


def protect(app: FastAPI, settings: Settings) -> None:
    """Refuse changes that another site asks for and bodies over the limit; add the security headers to every answer."""

    @app.middleware("http")
    async def guard(request: Request, call_next: Next) -> Response:
        refused = _foreign(request) or _oversized(request, settings.request_max_bytes)
        response = refused or await call_next(request)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response


def _foreign(request: Request) -> Response | None:
    if request.method in {"GET", "HEAD", "OPTIONS"}:
        return None
    site = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    foreign_origin = origin is not None and urlsplit(origin).netloc != request.headers.get("host")
    if site in {"cross-site", "same-site"} or foreign_origin:
        return Response("This change was asked for by another web site and was refused. Open Layerwitness itself.", 403)
    return None


def _oversized(request: Request, limit_bytes: int) -> Response | None:
    length = request.headers.get("content-length", "")
    if length.isdigit() and int(length) > limit_bytes:
        return Response(f"More than {limit_bytes // 1_000_000} MB were sent at once. Send fewer or smaller files.", 413)
    return None
