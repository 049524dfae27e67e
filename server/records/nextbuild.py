"""The next build: what it is planned from, the plan that was chosen, and what colleagues think of it."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, Column
from sqlmodel import Field, SQLModel

from server.records.base import key, ref, stamp


class PlanTerms(SQLModel, table=True):
    """What a person states for the plans of one failure; the newest entry holds, the older ones stay."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    regions_at_break: list[int] = Field(default_factory=list, sa_column=Column(JSON, nullable=False))
    wanted: float = 0.05  # probability of the load exceeding the capacity that is still accepted
    needed_on: date | None = None
    thickness_mm: float | None = None  # of the section at the break, along the way it would grow
    bends: bool | None = None
    mass_g: float | None = None
    printing_h: float | None = None
    printer_per_h: float | None = None
    bench_h: float | None = None
    bench_per_h: float | None = None
    entered_by: str = ""
    entered_at: datetime = stamp()


class ChosenPlan(SQLModel, table=True):
    """The plan that a person chose, with all that the program said of it that day; it became `build_id`."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    build_id: int = ref("build.id")
    plan_key: str
    said: dict[str, Any] = Field(default_factory=dict, sa_column=Column(JSON, nullable=False))
    reason: str = ""
    chosen_by: str = ""
    first_look_on: date
    program_version: str = ""
    entered_at: datetime = stamp()


class OpinionLink(SQLModel, table=True):
    """A way in for a colleague, to one case only. The token itself is not kept, only its SHA-256."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    token_sha256: str = Field(index=True, unique=True)
    for_whom: str = ""
    question: str = ""
    expires_on: date
    answer_by: date | None = None
    revoked_at: datetime | None = None
    shows_model: bool = False
    shows_customer: bool = False
    shows_place: bool = False
    shows_photo_facts: bool = False
    entered_at: datetime = stamp()


class Opinion(SQLModel, table=True):
    """What a colleague answered: a vote for a plan, a proposal, a comment. Never altered."""

    id: int | None = key()
    link_id: int = ref("opinionlink.id")
    failure_id: int = ref("failure.id")
    who: str
    plan_key: str = ""
    plan_words: str = ""  # the plan in words, as it stood on the page on that day
    proposal: str = ""
    comment: str = ""
    entered_at: datetime = stamp()
