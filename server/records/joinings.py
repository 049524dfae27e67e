"""Several photos of a face made one: which, how they lie in it, what remains between them, and the heights."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Column
from sqlmodel import Field, SQLModel

from server.records.base import key, ref, stamp


def _json(kind: type[Any]) -> Any:
    return Field(default_factory=kind, sa_column=Column(JSON, nullable=False))


class Joining(SQLModel, table=True):
    """One picture made of several photos, which stay as they are. `photo_id` is the picture, once it is made.

    A withdrawn one keeps its picture, which then no longer belongs to the face; nothing is deleted.
    """

    id: int | None = key()
    face_id: int = ref("face.id")
    job_id: int | None = ref("job.id", optional=True)
    photo_id: int | None = ref("photo.id", optional=True)
    kind: str  # fields, focus
    photo_ids: list[int] = _json(list)  # in the order of the series
    um_per_px: float | None = None  # of the picture, taken over from the photos or given
    scale_relative_sd: float | None = None
    scale_from: str = ""  # photos, given
    step_um: float | None = None  # of the focus, from slice to slice
    first_is_highest: bool = True
    placements: list[list[float]] = _json(list)  # per photo: turn as (re, im), shift as (x, y) in px of the picture
    residuals: list[dict[str, Any]] = _json(list)  # first, second (numbers in photo_ids), px
    facts: dict[str, Any] = _json(dict)
    map_sha256: str = ""  # fields: whose each point is, PNG; focus: index and confidence of each place, NPZ
    program_version: str = ""
    withdrawn_at: datetime | None = None
    withdrawn_why: str = ""
    entered_at: datetime = stamp()
