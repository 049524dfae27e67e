"""What the server's tests share: an application on a file of its own, and a client that speaks to it in-process."""

import asyncio
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi import FastAPI
from sqlalchemy import event
from sqlmodel import Session

from server.app import create_app
from server.database import migrate, open_engine
from server.settings import Settings


class Client:
    """A browser without a screen: same origin, no redirects followed unless asked for.

    Starlette's own test client warns of httpx, and warnings are errors here.
    """

    def __init__(self, app: FastAPI) -> None:
        self.app = app
        self._runner = asyncio.Runner()
        transport = httpx.ASGITransport(app=app)
        self._http = httpx.AsyncClient(transport=transport, base_url="http://bench.test")

    def request(self, method: str, path: str, **kwargs: Any) -> httpx.Response:
        return self._runner.run(self._http.request(method, path, **kwargs))

    def get(self, path: str, **kwargs: Any) -> httpx.Response:
        return self.request("GET", path, **kwargs)

    def post(self, path: str, data: Any = None, **kwargs: Any) -> httpx.Response:
        return self.request("POST", path, data=data, **kwargs)

    def close(self) -> None:
        self._runner.run(self._http.aclose())
        self._runner.close()


@pytest.fixture(scope="session")
def migrated_record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty record at the newest schema; each test gets a copy, for migrating takes longer than most tests."""
    file = tmp_path_factory.mktemp("migrated") / "record.sqlite3"
    engine = open_engine(f"sqlite:///{file}")
    migrate(engine)
    engine.dispose()
    return file


@pytest.fixture
def settings(tmp_path: Path, migrated_record: Path) -> Settings:
    """Settings on a folder of the test's own; no worker process."""
    data = tmp_path / "data"
    data.mkdir()
    shutil.copy(migrated_record, data / "record.sqlite3")
    return Settings(data=data, worker=False)


def unsynced_app(settings: Settings) -> FastAPI:
    """Return the application on `settings`, on a file that need not outlive a power cut: syncing takes most time."""
    application = create_app(settings)
    engine = application.state.engine
    event.listen(engine, "connect", lambda connection, _record: connection.execute("PRAGMA synchronous=OFF"))
    engine.dispose()  # the connection that migrating left was opened before
    return application


@pytest.fixture
def app(settings: Settings) -> Iterator[FastAPI]:
    """The application, on a real SQLite file."""
    application = unsynced_app(settings)
    yield application
    application.state.engine.dispose()


@pytest.fixture
def client(app: FastAPI) -> Iterator[Client]:
    """A client of `app`."""
    browser = Client(app)
    yield browser
    browser.close()


@pytest.fixture
def session(app: FastAPI) -> Iterator[Session]:
    """A session on the application's database; call `session.expire_all()` after a request to see what it stored."""
    with Session(app.state.engine) as opened:
        yield opened


@pytest.fixture
def count_queries(app: FastAPI) -> Any:
    """A function that runs what it is given and returns how many SQL statements that took."""

    def count(work: Any) -> int:
        statements: list[str] = []

        def note(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
            statements.append(statement)

        event.listen(app.state.engine, "before_cursor_execute", note)
        try:
            work()
        finally:
            event.remove(app.state.engine, "before_cursor_execute", note)
        return len(statements)

    return count
