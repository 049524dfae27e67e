"""The bench: what waits to be done."""

from fastapi import Request
from fastapi.responses import Response

from server.database import SessionDep
from server.history.bench import bench_page
from server.pages import show


def bench(request: Request, session: SessionDep) -> Response:
    return show(request, "bench/bench.html", {"title": "Bench", "page": bench_page(request, session)})
