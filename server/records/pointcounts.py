"""The count by hand: a draft while one goes through the points, and the finished count, which is evidence."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Column
from sqlmodel import Field, SQLModel

from server.records.base import key, now, ref, stamp


def _list() -> Any:
    return Field(default_factory=list, sa_column=Column(JSON, nullable=False))


def _dict() -> Any:
    return Field(default_factory=dict, sa_column=Column(JSON, nullable=False))


class PointCountDraft(SQLModel, table=True):
    """A count that is under way. It may change with every key; finishing it makes a `PointCount` and ends it.

    `places_px` holds x, y of each point in px of the upright photo, `field_of` the number of its field from 0, `codes`
    the letter given to it, "" where none was given yet. `outline` is what the grid was laid in, written out.
    """

    id: int | None = key()
    photo_id: int = ref("photo.id")
    outline_id: int | None = ref("outlinerecord.id", optional=True)  # none: the outline that a measurement found
    scale_id: int | None = ref("scalerecord.id", optional=True)
    replaces_id: int | None = ref("pointcount.id", optional=True)
    seed: int
    field_count: int
    points_per_field: int  # as asked for; how many points fell into each field is in `field_of`
    layout: str  # throws: each field a grid over the whole face; patches: one grid, cut up
    spacing_px: float
    outline: dict[str, Any] = _dict()
    places_px: list[list[float]] = _list()
    field_of: list[int] = _list()
    codes: list[str] = _list()
    who: str = ""
    note: str = ""
    entered_at: datetime = stamp()
    changed_at: datetime = Field(default_factory=now)


class PointCount(SQLModel, table=True):
    """A finished count, never altered: a correction is a new count that names the one it replaces."""

    id: int | None = key()
    photo_id: int = ref("photo.id")
    outline_id: int | None = ref("outlinerecord.id", optional=True)
    scale_id: int | None = ref("scalerecord.id", optional=True)
    replaces_id: int | None = ref("pointcount.id", optional=True)
    seed: int
    field_count: int
    points_per_field: int
    layout: str
    spacing_px: float
    outline: dict[str, Any] = _dict()
    places_px: list[list[float]] = _list()
    field_of: list[int] = _list()
    codes: list[str] = _list()
    who: str = ""
    note: str = ""
    result: dict[str, Any] = _dict()
    program_version: str = ""
    entered_at: datetime = stamp()
