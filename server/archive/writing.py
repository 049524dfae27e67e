"""The record into an archive: every table twice, every original once, and a manifest of it all."""

import csv
import hashlib
import io
import json
import os
import re
import tempfile
import zipfile
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Table, select

from server import __version__
from server.archive.layout import FORMAT, MANIFEST, README, TOLD, VERSION, original_columns, table_file, tables
from server.archive.values import as_cells, as_json
from server.database import step_of
from server.store import Store

HASH = re.compile(r'"([0-9a-f]{64})"')
LONG_AGO = (1980, 1, 1, 0, 0, 0)  # the same time for every file, so that the same record gives the same archive
AT_ONCE = 500


class ExportRefused(ValueError):
    """The archive can't be written there; the message says why and what to do."""


def export(engine: Engine, store: Store, file: Path) -> dict[str, Any]:
    """Write the record to `file`, whole or not at all; return its manifest."""
    if file.exists():
        raise ExportRefused(f"{file} is there already and was left as it is. Name another file.")
    if not file.parent.is_dir():
        raise ExportRefused(f"There is no folder {file.parent}. Make it, or name another file.")
    handle, name = tempfile.mkstemp(dir=file.parent, prefix=".writing-")
    try:
        with os.fdopen(handle, "w+b") as opened:
            with zipfile.ZipFile(opened, "w", allowZip64=True) as archive:
                manifest = _write(engine, store, archive)
            opened.flush()
            os.fsync(opened.fileno())
        os.replace(name, file)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return manifest


def _write(engine: Engine, store: Store, archive: zipfile.ZipFile) -> dict[str, Any]:
    named: set[str] = set()
    must: set[str] = set()
    files = {README: _add(archive, README, [TOLD.encode()])}
    rows: dict[str, int] = {}
    with engine.connect() as connection:
        connection.exec_driver_sql("BEGIN")  # all tables as they were at one moment
        for table in tables():
            data, sheet = table_file(table.name, "json"), table_file(table.name, "csv")
            counted = _Counted(_lines(connection, table, named, must))
            files[data] = _add(archive, data, counted)
            rows[table.name] = counted.rows
            files[sheet] = _add(archive, sheet, _sheet(connection, table))
        schema = step_of(connection)
    kept = sorted(sha256 for sha256 in named if store.path(sha256).is_file())
    for sha256 in kept:
        _add(archive, f"originals/{sha256}", [store.read(sha256)], zipfile.ZIP_STORED)
    manifest = {
        "format": FORMAT,
        "version": VERSION,
        "schema": schema,
        "program": __version__,
        "exported_at": datetime.now(UTC).replace(microsecond=0).isoformat(),
        "rows": rows,
        "files": files,
        "originals": kept,
        "missing_originals": sorted(must - set(kept)),
    }
    _add(archive, MANIFEST, [json.dumps(manifest, indent=1).encode()])
    return manifest


class _Counted:
    """The lines of an array, counted as they pass."""

    def __init__(self, lines: Iterable[str]) -> None:
        self.lines, self.rows = lines, 0

    def __iter__(self) -> Iterator[bytes]:
        yield b"["
        for line in self.lines:
            yield (",\n" if self.rows else "\n").encode() + line.encode()
            self.rows += 1
        yield b"\n]\n"


def _rows(connection: Connection, table: Table) -> Iterator[dict[str, Any]]:
    query = select(table).order_by(*table.primary_key.columns)
    for row in connection.execution_options(yield_per=AT_ONCE).execute(query).mappings():
        yield dict(row)


def _lines(connection: Connection, table: Table, named: set[str], must: set[str]) -> Iterator[str]:
    """Yield the rows as JSON; note every hash that may name an original, and those that have to."""
    columns = original_columns(table)
    for row in _rows(connection, table):
        line = as_json(row)
        named.update(HASH.findall(line))
        must.update(row[name] for name in columns if row[name])
        yield line


def _sheet(connection: Connection, table: Table) -> Iterator[bytes]:
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow(table.columns.keys())
    yield b"\xef\xbb\xbf"  # by this sign spreadsheets know UTF-8
    for row in _rows(connection, table):
        writer.writerow(as_cells(row))
        yield buffer.getvalue().encode(errors="replace")
        buffer.seek(0)
        buffer.truncate()
    yield buffer.getvalue().encode()


def _add(archive: zipfile.ZipFile, name: str, pieces: Iterable[bytes], how: int = zipfile.ZIP_DEFLATED) -> str:
    """Add a file made of `pieces` and return its SHA-256."""
    entry = zipfile.ZipInfo(name, LONG_AGO)
    entry.compress_type, entry.external_attr, entry.create_system = how, 0o644 << 16, 3
    digest = hashlib.sha256()
    with archive.open(entry, "w", force_zip64=True) as opened:
        for piece in pieces:
            digest.update(piece)
            opened.write(piece)
    return digest.hexdigest()
