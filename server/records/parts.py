"""The part, who it is for, what of it is locked, and each revision of its design."""

from datetime import date, datetime

from sqlmodel import Field, SQLModel

from server.records.base import key, ref, stamp


class Customer(SQLModel, table=True):
    """Whom a part is made for."""

    id: int | None = key()
    name: str = Field(index=True)
    contact: str = ""
    note: str = ""


class Part(SQLModel, table=True):
    """One functional part at one place of use, through all its revisions."""

    id: int | None = key()
    customer_id: int | None = ref("customer.id", optional=True)
    name: str = Field(index=True)
    function: str = ""
    fitted_where: str = ""
    access: str = ""  # how hard it is to get at again: easy, awkward, hard
    can_hurt: bool = False
    hurt_how: str = ""
    note: str = ""  # internal: never printed for a customer
    is_demo: bool = False
    entered_at: datetime = stamp()


class LockedFeature(SQLModel, table=True):
    """A region of the part: one that must stay as it is and why, or one that is free and by how much."""

    id: int | None = key()
    part_id: int = ref("part.id")
    what: str
    reason: str = ""
    kind: str = "dimension"  # dimension, inner corner, thickness, side, through the layers
    is_free: bool = False
    room_mm: float | None = None


class Revision(SQLModel, table=True):
    """A state of the design; revision 0 may be the original part that is replaced."""

    id: int | None = key()
    part_id: int = ref("part.id")
    number: int
    is_original: bool = False
    what_changed: str = ""
    why: str = ""
    drawn_on: date | None = None
    entered_at: datetime = stamp()


class Attachment(SQLModel, table=True):
    """A model or slicing file of a revision, kept by hash and given back byte for byte."""

    id: int | None = key()
    revision_id: int = ref("revision.id")
    sha256: str
    file_name: str
    kind: str = "model"  # model, slicing, other
    size_bytes: int
    entered_at: datetime = stamp()
