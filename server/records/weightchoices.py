"""By which weights verdicts are made: those of the shipped file, or those re-estimated from the log's own counts."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Column
from sqlmodel import Field, SQLModel

from server.records.base import key, ref, stamp


class WeightChoice(SQLModel, table=True):
    """A person's choice of weights; the newest holds. The counts are those of that day: later cases change nothing."""

    id: int | None = key()
    replaces_id: int | None = ref("weightchoice.id", optional=True)
    source: str  # file, log
    counts: dict[str, Any] = Field(default_factory=dict, sa_column=Column(JSON, nullable=False))  # code, mode, outcome
    cases: list[Any] = Field(default_factory=list, sa_column=Column(JSON, nullable=False))  # [failure, site or null]
    strength_cases: float = 0.0  # how many cases the file's own probabilities count for
    reason: str = ""
    chosen_by: str = ""
    entered_at: datetime = stamp()
