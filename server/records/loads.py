"""What a broken face may have had to bear, and what its welds can: entries that are only added to.

A load acts on the half that came off, thought of as standing on the photographed face. Tilt: 0° pulls it straight off
the face, 90° slides it along, 180° presses it on. Azimuth: where the part of the force that lies in the face points to
on the photo, from right (3 on a clock) clockwise, as all angles on photos are counted.
"""

from datetime import datetime

from sqlmodel import SQLModel

from server.records.base import key, ref, stamp


class LoadCase(SQLModel, table=True):
    """One load that may have broken it, as a range; a correction is a new entry that names the one it replaces."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    site_id: int | None = ref("breaksite.id", optional=True)
    face_id: int | None = ref("face.id", optional=True)  # on whose photo the azimuth was said
    replaces_id: int | None = ref("loadcase.id", optional=True)
    name: str
    preset: str = ""  # code of the load in the table of loads, where the force was taken from there
    force_low_n: float
    force_high_n: float
    force_typed: str = ""  # as the person wrote it, with its unit
    action: str  # pull, bend, slide, push, aslant
    tilt_deg: float
    azimuth_deg: float | None = None
    azimuth_typed: str = ""
    reach_low_mm: float = 0.0
    reach_high_mm: float = 0.0
    offset_right_mm: float = 0.0  # of the place where it takes hold from the middle of the face, as the photo shows it
    offset_down_mm: float = 0.0
    how_known: str = ""
    source: str = ""
    is_withdrawn: bool = False  # said to be no load of this break; the entry stays
    entered_by: str = ""
    correction_reason: str = ""
    entered_at: datetime = stamp()


class WeldStrength(SQLModel, table=True):
    """What the weld between layers bore at the time of the break, as a range; the newest entry of a site counts."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    site_id: int | None = ref("breaksite.id", optional=True)
    replaces_id: int | None = ref("weldstrength.id", optional=True)
    low_mpa: float
    high_mpa: float
    typed: str = ""
    origin: str  # table, coupon, judgement
    material: str = ""
    service_c: float | None = None
    notch_low: float = 1.0
    notch_high: float = 1.0
    how_known: str = ""
    entered_by: str = ""
    correction_reason: str = ""
    entered_at: datetime = stamp()
