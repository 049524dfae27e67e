"""The steps of the schema lead to what the records declare, on records that hold something too."""

from pathlib import Path

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text
from sqlmodel import SQLModel

import server.records  # noqa: F401 - fills the metadata
from server.database import migrate, open_engine


def test_the_steps_make_what_the_records_declare(migrated_record: Path) -> None:
    """No table, column, key or index is missing or left over after the last step."""
    engine = open_engine(f"sqlite:///{migrated_record}")
    with engine.connect() as connection:
        # The index of words is no table of the record: it is made from the record (server/wordindex/).
        ours = {"compare_type": False, "include_name": lambda name, kind, _of: not str(name).startswith("wordindex")}
        context = MigrationContext.configure(connection, opts=ours)
        differences = compare_metadata(context, SQLModel.metadata)
    engine.dispose()

    assert not differences


def test_spools_that_builds_refer_to_come_through(tmp_path: Path) -> None:
    """A record from before own materials, with a spool in use, is brought up to date without loss."""
    engine = open_engine(f"sqlite:///{tmp_path / 'old.sqlite3'}")
    migrate(engine, "0003")
    with engine.begin() as connection:
        for row in (
            "INSERT INTO part (id, name, function, fitted_where, access, can_hurt, hurt_how, note, is_demo, entered_at)"
            " VALUES (1, 'Arm', '', '', '', 0, '', '', 0, '2026-01-01 00:00:00')",
            "INSERT INTO revision (id, part_id, number, is_original, what_changed, why, entered_at)"
            " VALUES (1, 1, 1, 0, '', '', '2026-01-01 00:00:00')",
            "INSERT INTO spool (id, material, colour, lot, dried_how, note) VALUES (7, 'PETG', '', '', '', 'kept')",
            "INSERT INTO build (id, revision_id, spool_id, orientation, after_treatment, note, entered_at)"
            " VALUES (1, 1, 7, '', '', '', '2026-01-01 00:00:00')",
        ):
            connection.execute(text(row))
    migrate(engine)
    with engine.connect() as connection:
        kept = connection.execute(
            text("SELECT spool.note, spool.own_material_id FROM build JOIN spool ON spool.id = build.spool_id")
        ).one()
    engine.dispose()

    assert tuple(kept) == ("kept", None)
