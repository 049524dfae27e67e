"""What lies in an archive under which name, and how much an archive may hold before it is refused."""

import re

from sqlalchemy import Table
from sqlmodel import SQLModel

import server.records  # noqa: F401 - fills the metadata

FORMAT, VERSION = "layerwitness archive", 1
MANIFEST, README = "manifest.json", "README.txt"
ORIGINAL = re.compile(r"originals/([0-9a-f]{64})")
MOST_ENTRIES = 2_000_000
MOST_TIMES = 100  # unpacked over packed: rows alike pack to a thirtieth, a bomb to a thousandth
SMALL_BYTES = 10_000_000  # below this the ratio says nothing
MOST_LINE_BYTES = 64_000_000
MOST_MANIFEST_BYTES = 300_000_000
TOLD = """The whole record of a Layerwitness log.

tables/NAME.json  every row of a table, one a line: a JSON array. Days as 2026-03-07, times in UTC. This is what is
                  read back. `layerwitness import FILE` puts it into an empty log; nothing is left out.
tables/NAME.csv   the same rows for a spreadsheet (UTF-8, comma, first line the columns). What is nested stands there
                  as JSON. A text that begins with = + - @, a tab or a line's end has an apostrophe set before it, so
                  that no spreadsheet takes it for a formula. Numbers are written as they are. Not read back.
originals/        every photo and file, byte for byte, named by the SHA-256 of its content. Its own name is in
                  tables/photo.json or tables/attachment.json. Maps that a measuring made lie there too.
manifest.json     the format and its version, the step of the tables' schema, when it was written, the rows of each
                  table, the SHA-256 of each file above, and which originals were missing when it was written.

Two archives of the same record differ in nothing but the time in manifest.json.
"""


def tables() -> list[Table]:
    """Return every table of the record, one that is referred to before those that refer to it."""
    return list(SQLModel.metadata.sorted_tables)


def original_columns(table: Table) -> list[str]:
    """Return the columns whose hash names an original; a link's token is hashed too, but names none."""
    return [column.name for column in table.columns if column.name.endswith("sha256") and column.name != "token_sha256"]


def table_file(name: str, kind: str) -> str:
    """Return where the rows of the table called `name` lie; `kind` is json or csv."""
    return f"tables/{name}.{kind}"


def expected_names() -> set[str]:
    """Return the names that an archive holds besides its originals."""
    return {MANIFEST, README, *(table_file(table.name, kind) for table in tables() for kind in ("json", "csv"))}
