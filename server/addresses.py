"""Every address of the server, grouped by page: read once and you know the house."""

from collections.abc import Callable
from typing import Any

from fastapi import FastAPI

from server.routes import parts

Row = tuple[str, str, Callable[..., Any], str]

ROWS: list[Row] = [
    # the part
    ("GET", "/parts/new", parts.part_new, "part_new"),
    ("POST", "/parts/new", parts.part_create, "part_create"),
    ("GET", "/parts/{part_id}/edit", parts.part_edit, "part_edit"),
    ("POST", "/parts/{part_id}/edit", parts.part_update, "part_update"),
    ("GET", "/parts/{part_id}/locked/new", parts.locked_new, "locked_new"),
    ("POST", "/parts/{part_id}/locked/new", parts.locked_create, "locked_create"),
    ("GET", "/parts/{part_id}/revisions/new", parts.revision_new, "revision_new"),
    ("POST", "/parts/{part_id}/revisions/new", parts.revision_create, "revision_create"),
    ("POST", "/revisions/{revision_id}/files", parts.attachment_create, "attachment_create"),
    ("GET", "/files/{attachment_id}", parts.attachment_file, "attachment_file"),
]


def add_addresses(app: FastAPI) -> None:
    """Give each row its address. Only what stands under /api is part of the published interface."""
    for method, path, handler, name in ROWS:
        in_schema = path.startswith("/api/")
        app.add_api_route(path, handler, methods=[method], name=name, include_in_schema=in_schema, response_model=None)
