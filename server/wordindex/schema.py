"""The index of words and its triggers: derived from the record, so no step of the schema but made from sources.py.

SQLite refuses to rename a table that a trigger names, and a table made anew loses its triggers. So the triggers are
taken off before the steps of the schema and put back after them, and the index is filled anew when anything changed.
"""

import zlib
from collections.abc import Iterator

from sqlalchemy import Connection, text

from server.wordindex.sources import SHIFT, SOURCES, Source

INDEX = "wordindex"
# Accents don't count. Beginnings of two and three letters are kept ready, for they are what is typed first.
MAKE = (
    f"CREATE VIRTUAL TABLE {INDEX} USING fts5(words, owner, failure_id UNINDEXED, "
    "tokenize=\"unicode61 remove_diacritics 2\", prefix='2 3')"
)


def is_right(connection: Connection, schema: str) -> bool:
    """Whether index and triggers are those of this version, for tables at the step `schema`."""
    kept = connection.execute(text("PRAGMA user_version")).scalar_one()
    return kept == _mark(schema) and _kept_triggers(connection) == set(_triggers())


def take_off(connection: Connection) -> None:
    """Take the triggers off, so that the tables may be changed."""
    for name in _kept_triggers(connection):
        connection.execute(text(f"DROP TRIGGER {name}"))
    connection.execute(text("PRAGMA user_version = 0"))


def put_on(connection: Connection, schema: str) -> None:
    """Make the index from the record as it stands, and the triggers that keep it right from now on."""
    take_off(connection)
    connection.execute(text(f"DROP TABLE IF EXISTS {INDEX}"))
    connection.execute(text(MAKE))
    for source in SOURCES:
        connection.exec_driver_sql(_insert(source))
    for body in _triggers().values():
        connection.exec_driver_sql(body)
    connection.execute(text(f"PRAGMA user_version = {_mark(schema)}"))


def _mark(schema: str) -> int:
    parts = [schema, MAKE, *_triggers().values(), *(_insert(source) for source in SOURCES)]
    return zlib.crc32("\n".join(parts).encode()) & 0x7FFFFFFF or 1


def _kept_triggers(connection: Connection) -> set[str]:
    asked = text("SELECT name FROM sqlite_master WHERE type='trigger' AND name LIKE :like")
    return set(connection.execute(asked, {"like": f"{INDEX}%"}).scalars())


def _insert(source: Source) -> str:
    return f"INSERT INTO {INDEX}(rowid, words, owner, failure_id) {source.select()}"


def _triggers() -> dict[str, str]:
    return dict(_each_trigger())


def _each_trigger() -> Iterator[tuple[str, str]]:
    for source in SOURCES:
        renewals = ((source.base, "id", "id"), *source.renewed_by)
        for number, (table, column, of_base) in enumerate(renewals):
            for event, row in (("INSERT", "NEW"), ("UPDATE", "NEW"), ("DELETE", "OLD")):
                name = f"{INDEX}_{source.code}_{number}_{event.lower()}"
                where = f"b.{of_base}={row}.{column}"
                forget = (
                    f"={row}.id*{SHIFT}+{source.code}"
                    if number == 0
                    else f" IN (SELECT b.id*{SHIFT}+{source.code} FROM {source.base} b WHERE {where})"
                )
                yield (
                    name,
                    f"CREATE TRIGGER {name} AFTER {event} ON {table} BEGIN "
                    f"DELETE FROM {INDEX} WHERE rowid{forget}; {_insert(source)} AND {where}; END",
                )
