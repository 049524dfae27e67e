"""A build in use: from fitting to removal, and the looks taken at it in between."""

from datetime import date, datetime

from sqlmodel import SQLModel

from server.records.base import key, ref, stamp


class Service(SQLModel, table=True):
    """One stay of a build at its place, with the fit check at fitting and what it has to stand."""

    id: int | None = key()
    build_id: int = ref("build.id")
    fitted_on: date
    removed_on: date | None = None
    fit_check: str = ""  # works, binds, flexes, rubs
    fit_note: str = ""
    highest_c: float | None = None
    chemicals: str = ""
    loads: str = ""
    entered_at: datetime = stamp()


class Inspection(SQLModel, table=True):
    """A look at a fitted part: when it is due, when it was done, what was seen."""

    id: int | None = key()
    service_id: int = ref("service.id")
    due_on: date
    done_on: date | None = None
    result: str = ""  # sound, worn, damaged, failed
    note: str = ""
    entered_at: datetime = stamp()
