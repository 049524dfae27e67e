"""A checked archive into an empty record: all of it in one transaction, or nothing."""

import json
import zipfile
from collections.abc import Iterator
from typing import IO, Any

from sqlalchemy import Connection, Engine, Table, select, text
from sqlalchemy.exc import SQLAlchemyError

from server.archive import layout
from server.archive.checking import ArchiveRefused, Checked, check
from server.archive.values import ValueWrong, from_json
from server.database import newest_step
from server.store import Store

AT_ONCE = 500
# What every page takes for granted: who stands on the left has an entry on the right.
COMPANIONS = (("failure", "failureentry"), ("fragment", "fragmententry"), ("breaksite", "siteentry"))


def import_archive(engine: Engine, store: Store, file: IO[bytes], most_original_bytes: int) -> dict[str, int]:
    """Read the archive in `file` into the empty record behind `engine`; return how many rows each table got."""
    checked = check(file, newest_step(), most_original_bytes)
    fresh = [sha256 for sha256 in checked.originals if not store.path(sha256).exists()]
    try:
        with engine.connect() as connection:
            connection.exec_driver_sql("BEGIN IMMEDIATE")  # nobody else writes from here to the end
            _refuse_unless_empty(connection)
            connection.exec_driver_sql("PRAGMA defer_foreign_keys=ON")  # two faces name each other
            rows = {table.name: _fill(connection, table, checked) for table in layout.tables()}
            _check_bonds(connection)
            _check_originals(connection, checked)
            # Before the rows count: an original that no row names does no harm, a row without its original would.
            for sha256 in fresh:
                store.put(checked.zip.read(f"originals/{sha256}"))
            connection.commit()
    except BaseException as error:
        for sha256 in fresh:
            store.path(sha256).unlink(missing_ok=True)
        if isinstance(error, SQLAlchemyError | UnicodeError | OverflowError):
            raise ArchiveRefused("The archive's rows don't fit together. Nothing was imported.") from error
        raise
    return rows


def _refuse_unless_empty(connection: Connection) -> None:
    for table in layout.tables():
        if connection.execute(table.select().limit(1)).first():
            raise ArchiveRefused(
                "The record holds entries already, and an archive goes into an empty one only. "
                "Name another folder by LAYERWITNESS_DATA and import it there."
            )


def _fill(connection: Connection, table: Table, checked: Checked) -> int:
    name = layout.table_file(table.name, "json")
    if name not in checked.manifest["files"]:
        raise ArchiveRefused(f"The archive holds no {name}. It isn't complete.")
    waiting: list[dict[str, Any]] = []
    count = 0
    for number, row in enumerate(_parsed(checked.zip, name), 1):
        try:
            waiting.append(from_json(table, row))
        except ValueWrong as error:
            raise ArchiveRefused(f"{name}, row {number}: {error}. Nothing was imported.") from None
        count = number
        if len(waiting) == AT_ONCE:
            connection.execute(table.insert(), waiting)
            waiting = []
    if waiting:
        connection.execute(table.insert(), waiting)
    if checked.manifest["rows"].get(table.name) != count:
        raise ArchiveRefused(f"{name} holds {count} rows, the manifest says otherwise. Nothing was imported.")
    return count


def _parsed(archive: zipfile.ZipFile, name: str) -> Iterator[Any]:
    """Yield the rows of an array that has one a line, without ever holding more than one."""
    with archive.open(name) as opened:
        first = True
        while line := opened.readline(layout.MOST_LINE_BYTES):
            line = line.strip()
            if first and line != b"[":
                raise ArchiveRefused(f"{name} doesn't begin as a table does. Nothing was imported.")
            if not first and line == b"]":
                return
            if not first:
                yield _row(name, line)
            first = False
    raise ArchiveRefused(f"{name} breaks off. Nothing was imported.")


def _row(name: str, line: bytes) -> Any:
    try:
        return json.loads(line.removesuffix(b","))
    except (ValueError, RecursionError):
        raise ArchiveRefused(f"{name} holds a line that is no row. Nothing was imported.") from None


def _check_bonds(connection: Connection) -> None:
    lost = connection.execute(text("PRAGMA foreign_key_check")).first()
    if lost:
        raise ArchiveRefused(f"A row of {lost[0]} names a row of {lost[2]} that isn't there. Nothing was imported.")
    for owner, entry in COMPANIONS:
        key = entry.replace("entry", "_id")
        query = f"SELECT 1 FROM {owner} b WHERE NOT EXISTS (SELECT 1 FROM {entry} e WHERE e.{key} = b.id)"
        if connection.execute(text(query)).first():
            raise ArchiveRefused(f"A row of {owner} has no row of {entry}. Nothing was imported.")


def _check_originals(connection: Connection, checked: Checked) -> None:
    """Refuse rows that name an original which is neither there nor known to have been missing."""
    missing = checked.manifest.get("missing_originals")
    known = {*checked.originals, *(one for one in (missing if isinstance(missing, list) else []) if type(one) is str)}
    for table in layout.tables():
        for name in layout.original_columns(table):
            for sha256 in connection.execute(select(table.c[name]).distinct()).scalars():
                if sha256 and sha256 not in known:
                    raise ArchiveRefused(f"The original {sha256} is not in the archive. Nothing was imported.")
