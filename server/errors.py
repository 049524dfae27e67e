"""Mistakes become pages: one place decides which status and which words a person gets."""

from fastapi import FastAPI, HTTPException, Request
from fastapi.exception_handlers import http_exception_handler
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException as StarletteHTTPException

from server.store import MissingOriginal


def add_error_pages(app: FastAPI) -> None:
    """Answer every mistake with a page, or with JSON under /api."""

    @app.exception_handler(StarletteHTTPException)
    async def on_http(request: Request, error: StarletteHTTPException) -> Response:
        if request.url.path.startswith("/api"):
            return await http_exception_handler(request, error)
        return _page(request, error.status_code, str(error.detail))

    @app.exception_handler(RequestValidationError)
    async def on_validation(request: Request, error: RequestValidationError) -> Response:
        words = "; ".join(f"{'.'.join(str(part) for part in e['loc'][1:])}: {e['msg']}" for e in error.errors())
        if request.url.path.startswith("/api"):
            return JSONResponse({"detail": words}, 422)
        # An address such as /parts/abc: nothing there can exist, so it reads as not found.
        return _page(request, 404, "There is nothing at this address.")

    @app.exception_handler(MissingOriginal)
    async def on_missing(request: Request, error: MissingOriginal) -> Response:
        return _page(request, 500, str(error))


def _page(request: Request, status: int, words: str) -> Response:
    pages = request.app.state.pages
    response: Response = pages.show(request, "error.html", {"status": status, "words": words}, status=status)
    return response


def not_found(what: str) -> HTTPException:
    """Return the error for a record that isn't there."""
    return HTTPException(404, f"There is no such {what}. It may have been entered under another number.")
