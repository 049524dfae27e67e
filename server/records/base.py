"""What all tables share: keys that refer to another table, and the time of an entry."""

from datetime import UTC, datetime
from typing import Any

from sqlmodel import Field


def now() -> datetime:
    """Return the present time in UTC, to the second: finer would be a false precision in a logbook."""
    return datetime.now(UTC).replace(microsecond=0)


def key() -> Any:
    """Return a primary key that the database fills in."""
    return Field(default=None, primary_key=True)


def ref(target: str, *, optional: bool = False) -> Any:
    """Return an indexed foreign key to `target`, such as "part.id"."""
    return Field(default=None, foreign_key=target, index=True, nullable=optional)


def stamp() -> Any:
    """Return a column that holds when the entry was made (UTC)."""
    return Field(default_factory=now, index=True)
