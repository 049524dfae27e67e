"""How a part was made: printer, spool and build."""

from datetime import date, datetime

from sqlmodel import Field, SQLModel

from server.records.base import key, ref, stamp


class Printer(SQLModel, table=True):
    """A machine on the shelf, by what limits a build."""

    id: int | None = key()
    name: str = Field(index=True)
    enclosed: bool = False
    nozzle_max_c: float | None = None
    chamber_max_c: float | None = None
    note: str = ""


class Spool(SQLModel, table=True):
    """One spool of filament with its history of opening and drying."""

    id: int | None = key()
    material: str = Field(index=True)
    colour: str = ""
    lot: str = ""
    opened_on: date | None = None
    dried_on: date | None = None
    dried_how: str = ""
    own_material_id: int | None = ref("ownmaterial.id", optional=True)  # where the label's own designation isn't enough
    left_g: float | None = None
    price_eur_kg: float | None = None
    note: str = ""


class Build(SQLModel, table=True):
    """One printing of a revision. Orientation in ISO/ASTM 52921 letters: longest, second, shortest side."""

    id: int | None = key()
    revision_id: int = ref("revision.id")
    printer_id: int | None = ref("printer.id", optional=True)
    spool_id: int | None = ref("spool.id", optional=True)
    built_on: date | None = None
    nozzle_mm: float | None = None
    line_width_mm: float | None = None
    layer_height_mm: float | None = None
    wall_count: int | None = None
    infill_percent: float | None = None
    nozzle_c: float | None = None
    bed_c: float | None = None
    chamber_c: float | None = None
    fan_percent: float | None = None
    orientation: str = ""
    after_treatment: str = ""
    note: str = ""
    entered_at: datetime = stamp()
