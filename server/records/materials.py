"""Own materials, what can be had and when, own tests on a spool, and the places that parts have to stand."""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON
from sqlmodel import Column, Field, SQLModel

from server.records.base import key, ref, stamp


def json() -> Any:
    """Return a column that holds a list or mapping."""
    return Field(sa_column=Column(JSON, nullable=False))


class OwnMaterial(SQLModel, table=True):
    """A material of the bench's own, beside the table; plain and editable.

    `figures` holds name -> [low, high] and `ratings` name -> code, both named as in the table of materials.
    """

    id: int | None = key()
    name: str = Field(index=True)
    designation: str = ""
    kind: str = ""  # amorphous, semicrystalline, elastomer
    figures: dict[str, Any] = json()
    ratings: dict[str, Any] = json()
    source: str = ""
    note: str = ""
    entered_at: datetime = stamp()


class Supply(SQLModel, table=True):
    """What a material costs and how long it takes to get; one row a material, edited as it changes."""

    id: int | None = key()
    material: str = Field(index=True, unique=True)  # code of the table, or own-N
    days_to_get: int | None = None
    price_eur_kg: float | None = None
    note: str = ""


class CouponTest(SQLModel, table=True):
    """Bars of one spool, torn one by one; only added to, a correction names the test it replaces.

    `bars` is a list of {force_n, width_mm, thickness_mm, note}; the bonded share is of an upright section, 0 to 1.
    """

    id: int | None = key()
    spool_id: int = ref("spool.id")
    replaces_id: int | None = ref("coupontest.id", optional=True)
    geometry: str  # a key of GEOMETRIES, or own
    orientation: str  # upright, flat
    tested_on: date
    bars: list[Any] = json()
    typed: str = ""  # the bars as the person wrote them, with their units
    bonded_low: float | None = None
    bonded_high: float | None = None
    temperature_c: float | None = None
    printed_how: str = ""
    note: str = ""
    tested_by: str = ""
    is_withdrawn: bool = False
    correction_reason: str = ""
    entered_at: datetime = stamp()


class UsePlace(SQLModel, table=True):
    """What a part has to stand at its place; the newest entry of a part, or of its revision, counts."""

    id: int | None = key()
    part_id: int = ref("part.id")
    revision_id: int | None = ref("revision.id", optional=True)
    preset: str = ""
    highest_c: float | None = None
    highest_typed: str = ""
    agents: list[Any] = json()
    water: str = ""
    how_known: str = ""
    entered_by: str = ""
    entered_at: datetime = stamp()
