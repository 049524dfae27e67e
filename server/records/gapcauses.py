"""Why a road is missing: what a person says of one gap of one measurement."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Column
from sqlmodel import Field, SQLModel

from server.records.base import key, ref, stamp


class GapCause(SQLModel, table=True):
    """The cause of one gap, never altered: a correction is a new entry that names the one it replaces.

    A measurement is immutable, so wall and mm along it name the gap. `answers` : question -> yes, no, cant_tell.
    """

    id: int | None = key()
    measurement_id: int = ref("measurement.id")
    replaces_id: int | None = ref("gapcause.id", optional=True)
    outline: str  # outer, hole0, hole1, …
    wall_index: int
    start_mm: float
    end_mm: float
    cause: str = Field(index=True)  # design, slicing, extrusion, seam, torn_out, cant_tell
    answers: dict[str, Any] = Field(default_factory=dict, sa_column=Column(JSON, nullable=False))
    note: str = ""
    who: str = ""
    entered_at: datetime = stamp()
