"""The engine on SQLite (WAL, foreign keys, full synchronisation), its migrations and the session of a request."""

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from fastapi import Depends, Request
from sqlalchemy import Connection, Engine, event
from sqlmodel import Session, create_engine

from server.wordindex import schema as wordindex

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
    """Bring the database behind `engine` to `revision` of the schema, and its index of words to this version."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    newest = newest_step()
    with engine.begin() as connection:
        if revision == "head" and step_of(connection) == newest and wordindex.is_right(connection, newest):
            return
        wordindex.take_off(connection)
        config.attributes["connection"] = connection
        command.upgrade(config, revision)
        if revision == "head":
            wordindex.put_on(connection, newest)


def newest_step() -> str:
    """Return the number of the schema's newest step."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS))
    return ScriptDirectory.from_config(config).get_current_head() or ""


def step_of(connection: Connection) -> str:
    """Return the number of the step that the record's tables are at; "" where there are none."""
    return MigrationContext.configure(connection).get_current_revision() or ""


def _session(request: Request) -> Iterator[Session]:
    # The store goes along: what a verdict rests on is partly reckoned from maps that lie there.
    with Session(request.app.state.engine, info={"store": request.app.state.store}) as session:
        yield session


SessionDep = Annotated[Session, Depends(_session)]
