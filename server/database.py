"""The engine on SQLite (WAL, foreign keys, full synchronisation), its migrations and the session of a request."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

from alembic import command
from alembic.config import Config
from fastapi import Depends, Request
from sqlalchemy import Engine, event
from sqlmodel import Session, create_engine

MIGRATIONS = Path(__file__).resolve().parent.parent / "migrations"


def open_engine(database_url: str) -> Engine:
    """Return an engine whose every connection has foreign keys on and waits for a busy database."""
    engine = create_engine(database_url, connect_args={"timeout": 30, "check_same_thread": False})
    event.listen(engine, "connect", _prepare_connection)
    return engine


def _prepare_connection(connection: Any, _record: Any) -> None:
    cursor = connection.cursor()
    for pragma in ("journal_mode=WAL", "foreign_keys=ON", "synchronous=FULL", "busy_timeout=30000"):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def migrate(engine: Engine, revision: str = "head") -> None:
    """Bring the database behind `engine` to `revision` of the schema."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, revision)


def _session(request: Request) -> Iterator[Session]:
    # The store goes along: what a verdict rests on is partly reckoned from maps that lie there.
    with Session(request.app.state.engine, info={"store": request.app.state.store}) as session:
        yield session


SessionDep = Annotated[Session, Depends(_session)]
