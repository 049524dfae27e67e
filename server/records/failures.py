"""A failure and its pieces. Identities stay; what is said of them is added as entries, the newest counting.

Item labels, finder, place, time and as-found condition follow the fields of ASTM E1188 and E1459.
"""

from datetime import date, datetime

from sqlmodel import SQLModel

from server.records.base import key, ref, stamp


class Failure(SQLModel, table=True):
    """One breaking of one revision, from one build and service where they are known."""

    id: int | None = key()
    revision_id: int = ref("revision.id")
    build_id: int | None = ref("build.id", optional=True)
    service_id: int | None = ref("service.id", optional=True)
    case_label: str = ""
    entered_at: datetime = stamp()


class FailureEntry(SQLModel, table=True):
    """What is known of the failure, as told or found; a later entry replaces an earlier one, both are kept."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    replaces_id: int | None = ref("failureentry.id", optional=True)
    found_on: date
    found_place: str = ""
    finder: str = ""
    noticed_how: str = ""
    happened_before: str = ""
    load_words: str = ""
    load_direction: str = ""
    load_n: float | None = None
    as_found: str = ""
    also_lost: str = ""  # what else was lost, damaged or put out of order by it
    found_sound: str = ""  # which features were looked at and found sound
    entered_by: str = ""
    correction_reason: str = ""
    entered_at: datetime = stamp()


class Fragment(SQLModel, table=True):
    """One piece, by the label that stands on its bag."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    item_label: str
    entered_at: datetime = stamp()


class FragmentEntry(SQLModel, table=True):
    """What is known of a piece: recovered, missing, or already missing before the failure."""

    id: int | None = key()
    fragment_id: int = ref("fragment.id")
    replaces_id: int | None = ref("fragmententry.id", optional=True)
    status: str  # recovered, missing, missing_before
    description: str = ""
    condition: str = ""
    where_found: str = ""
    where_may_be: str = ""
    can_harm: bool = False  # a missing piece that can jam or hurt something
    harm_how: str = ""
    collector: str = ""
    collected_on: date | None = None
    correction_reason: str = ""
    entered_at: datetime = stamp()


class BreakSite(SQLModel, table=True):
    """One place at which the part broke; a failure can have several."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    name: str
    entered_at: datetime = stamp()


class SiteEntry(SQLModel, table=True):
    """In which order a site let go, how one knows, and why one that followed did."""

    id: int | None = key()
    site_id: int = ref("breaksite.id")
    replaces_id: int | None = ref("siteentry.id", optional=True)
    sequence: str = "unknown"  # first, later, unknown
    how_known: str = ""
    why_followed: str = ""
    load_words: str = ""
    correction_reason: str = ""
    entered_at: datetime = stamp()


class Face(SQLModel, table=True):
    """A fracture face or an outer surface of a piece; two mating faces name each other."""

    id: int | None = key()
    fragment_id: int = ref("fragment.id")
    site_id: int | None = ref("breaksite.id", optional=True)
    mate_face_id: int | None = ref("face.id", optional=True)
    name: str
    surface: str = "fracture"  # fracture, outer
    entered_at: datetime = stamp()


class Treatment(SQLModel, table=True):
    """A logged step of cleaning or handling between two sets of photos."""

    id: int | None = key()
    fragment_id: int = ref("fragment.id")
    replaces_id: int | None = ref("treatment.id", optional=True)
    method: str  # dry_brush, mild_detergent, dried, other
    detail: str = ""
    done_on: date
    done_by: str = ""
    correction_reason: str = ""
    entered_at: datetime = stamp()


class Change(SQLModel, table=True):
    """What is to be different in the next build, and why; it names the revision that carried it out."""

    id: int | None = key()
    failure_id: int = ref("failure.id")
    replaces_id: int | None = ref("change.id", optional=True)
    done_in_revision_id: int | None = ref("revision.id", optional=True)
    what: str
    why: str = ""
    correction_reason: str = ""
    entered_at: datetime = stamp()
