"""The only place where "not there" becomes a 404."""

from typing import TypeVar

from sqlmodel import Session, SQLModel

from server.errors import not_found

Record = TypeVar("Record", bound=SQLModel)


def get_or_404(session: Session, kind: type[Record], key: int) -> Record:
    """Return the record of `kind` with primary key `key`, or raise the 404 that names it."""
    # SQLite integers end at 63 bits; a longer number in an address can't be a key.
    record = session.get(kind, key) if 0 < key < 2**63 else None
    if record is None:
        raise not_found(kind.__name__.lower())
    return record
