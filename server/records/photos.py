"""A photo of a face or of the piece as found, and the scale and outline that were given to it."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Column
from sqlmodel import Field, SQLModel

from server.records.base import key, ref, stamp


class Photo(SQLModel, table=True):
    """An accepted photo. Size is that of the upright picture; the bytes are kept unaltered under `sha256`."""

    id: int | None = key()
    face_id: int | None = ref("face.id", optional=True)
    failure_id: int | None = ref("failure.id", optional=True)  # an overview photo of the failure as found
    treatment_id: int | None = ref("treatment.id", optional=True)  # taken after this step
    sha256: str = Field(index=True)
    file_name: str
    media_type: str
    size_bytes: int
    width_px: int
    height_px: int
    stage: str = "as_found"  # as_found, after_treatment
    note: str = ""
    is_rendered: bool = False  # computed, not taken: said wherever it is shown
    entered_at: datetime = stamp()


class ScaleRecord(SQLModel, table=True):
    """How long a pixel is, by which method, from which input."""

    id: int | None = key()
    photo_id: int = ref("photo.id")
    replaces_id: int | None = ref("scalerecord.id", optional=True)
    method: str  # points, um_per_px, roads
    um_per_px: float
    relative_sd: float
    given: dict[str, Any] = Field(default_factory=dict, sa_column=Column(JSON, nullable=False))
    entered_at: datetime = stamp()


class OutlineRecord(SQLModel, table=True):
    """The face's outline, its holes and the zones a person marked as unknown, in px of the upright photo."""

    id: int | None = key()
    photo_id: int = ref("photo.id")
    replaces_id: int | None = ref("outlinerecord.id", optional=True)
    method: str  # found, drawn
    confidence: float | None = None
    outer_px: list[list[float]] = Field(sa_column=Column(JSON, nullable=False))
    holes_px: list[list[list[float]]] = Field(default_factory=list, sa_column=Column(JSON, nullable=False))
    unknown_px: list[list[list[float]]] = Field(default_factory=list, sa_column=Column(JSON, nullable=False))
    entered_at: datetime = stamp()
