"""Loads the demo into an empty record: made whole in a folder of its own, then brought over in one transaction."""

import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

from sqlalchemy import Connection, Engine, text
from sqlmodel import Session, SQLModel

from server.database import migrate, open_engine
from server.demo import bars, cleat, collar, corner, guide, knob, pawl, peg, stop
from server.demo.desk import Desk
from server.demo.shelf import stock
from server.settings import Settings
from server.store import Store

STORIES = (bars, corner, cleat, collar, stop, guide, pawl, peg, knob)


class DemoRefused(RuntimeError):
    """The demo can't be loaded here; the message says why and what to do."""


def load_demo(settings: Settings, say: Callable[[str], object] = lambda words: None, today: date | None = None) -> None:
    """Fill the empty record of `settings` with the demo; raise `DemoRefused` where there is anything in it already."""
    settings.data.mkdir(parents=True, exist_ok=True)
    engine = open_engine(settings.database_url)
    try:
        migrate(engine)
        with engine.connect() as connection:
            _refuse_unless_empty(connection)
        say("Loading the invented demo. Its rendered photos are measured now; that takes up to a minute.")
        with tempfile.TemporaryDirectory(prefix="layerwitness-demo-") as folder:
            made = replace(settings, data=Path(folder), worker=False)
            tell_stories(made, today or date.today(), say)
            _bring_originals(made, settings)
            _bring_rows(made, engine)
    finally:
        engine.dispose()
    say("The demo is loaded. Everyone and everything in it is invented.")


def tell_stories(settings: Settings, today: date, say: Callable[[str], object]) -> None:
    """Make the demo's record in the data folder of `settings`, which has to be new."""
    engine, store = open_engine(settings.database_url), Store(settings.blob_folder)
    try:
        migrate(engine)
        with Session(engine, expire_on_commit=False, info={"store": store}) as session:
            desk = Desk(session, engine, store, settings, today, stock(session, today))
            for story in STORIES:
                say("  " + (story.__doc__ or "").partition(":")[0])
                story.tell(desk)
                session.commit()
    finally:
        engine.dispose()


def _refuse_unless_empty(connection: Connection) -> None:
    for table in SQLModel.metadata.sorted_tables:
        if connection.execute(table.select().limit(1)).first():
            raise DemoRefused(
                "The record holds entries already, and the demo goes into an empty one only. "
                "Name another folder by LAYERWITNESS_DATA to look at it."
            )


def _bring_originals(made: Settings, settings: Settings) -> None:
    # Before the rows: an original that no row names does no harm, a row without its original would.
    store = Store(settings.blob_folder)
    for path in sorted(made.blob_folder.glob("??/*")):
        store.put(path.read_bytes())


def _bring_rows(made: Settings, engine: Engine) -> None:
    place = str(made.data / "record.sqlite3")
    with engine.connect() as connection:
        connection.execute(text("ATTACH DATABASE :place AS demo"), {"place": place})
        connection.commit()
        try:
            with connection.begin():
                _refuse_unless_empty(connection)
                # Two faces name each other, whatever the order they come in: foreign keys are checked at the end.
                connection.execute(text("PRAGMA defer_foreign_keys=ON"))
                for table in SQLModel.metadata.sorted_tables:
                    names = ", ".join(f'"{column.name}"' for column in table.columns)
                    connection.execute(
                        text(f'INSERT INTO main."{table.name}" ({names}) SELECT {names} FROM demo."{table.name}"')
                    )
        finally:
            connection.execute(text("DETACH DATABASE demo"))
