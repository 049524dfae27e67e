"""What the bench has set for itself, by name."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Column
from sqlmodel import Field, SQLModel

from server.records.base import stamp


class BenchSetting(SQLModel, table=True):
    """A named setting, such as the prior over the modes."""

    name: str = Field(primary_key=True)
    value: Any = Field(default=None, sa_column=Column(JSON, nullable=False))
    entered_at: datetime = stamp()
