"""What was found: jobs and measurements, what people saw, what the program and the person conclude, the summary."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, Column
from sqlmodel import Field, SQLModel

from server.records.base import key, ref, stamp


def _json() -> Any:
    return Field(default_factory=dict, sa_column=Column(JSON, nullable=False))


class Job(SQLModel, table=True):
    """A measuring to be done. This row is the truth: who holds the lease works on it, an expired one is taken up."""

    id: int | None = key()
    photo_id: int = ref("photo.id")
    measurement_id: int | None = ref("measurement.id", optional=True)
    state: str = Field(default="waiting", index=True)  # waiting, running, done, failed, cancelled
    given: dict[str, Any] = _json()
    stage: str = ""
    share_done: float = 0.0
    attempt: int = 0
    lease_until: datetime | None = None
    error: str = ""
    entered_at: datetime = stamp()
    ended_at: datetime | None = None


class Measurement(SQLModel, table=True):
    """One run of the measuring, immutable: what went in, what came out, by which version of the program."""

    id: int | None = key()
    photo_id: int = ref("photo.id")
    scale_id: int = ref("scalerecord.id")
    outline_id: int | None = ref("outlinerecord.id", optional=True)
    given: dict[str, Any] = _json()
    result: dict[str, Any] = _json()
    labels_sha256: str = ""  # the class of each pixel as a PNG in the store
    strips: list[dict[str, Any]] = Field(default_factory=list, sa_column=Column(JSON, nullable=False))
    px_per_pixel: float = 1.0
    # Photo px of the outer corner of the label map's first pixel: the map covers the face, not the photo.
    origin_px: list[float] = Field(default_factory=lambda: [0.0, 0.0], sa_column=Column(JSON, nullable=False))
    program_version: str = ""
    entered_at: datetime = stamp()


class Observation(SQLModel, table=True):
    """What a person saw, or looked for and did not see; an answer to one question of the list."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    site_id: int | None = ref("breaksite.id", optional=True)
    photo_id: int | None = ref("photo.id", optional=True)
    replaces_id: int | None = ref("observation.id", optional=True)
    code: str = Field(index=True)
    answer: str  # yes, no, cant_tell
    note: str = ""
    seen_by: str = ""
    entered_at: datetime = stamp()


class VerdictRecord(SQLModel, table=True):
    """What the program concludes for a site, or for the failure as a whole, with all that it was made from."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    site_id: int | None = ref("breaksite.id", optional=True)
    replaces_id: int | None = ref("verdictrecord.id", optional=True)
    primary: str = Field(index=True)
    given: dict[str, Any] = _json()  # the observations and the prior
    result: dict[str, Any] = _json()
    program_version: str = ""
    entered_at: datetime = stamp()


class PersonVerdict(SQLModel, table=True):
    """What the person concludes, with the reason where it differs from the program's."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    site_id: int | None = ref("breaksite.id", optional=True)
    verdict_id: int | None = ref("verdictrecord.id", optional=True)
    replaces_id: int | None = ref("personverdict.id", optional=True)
    mode: str
    reason: str = ""
    said_by: str = ""
    entered_at: datetime = stamp()


class Summary(SQLModel, table=True):
    """The customer's summary as worded at one time; a later wording replaces an earlier one, both are kept."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    replaces_id: int | None = ref("summary.id", optional=True)
    wording: dict[str, Any] = _json()
    entered_at: datetime = stamp()
