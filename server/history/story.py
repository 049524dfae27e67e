"""All that the record holds on one part, read in a fixed number of queries."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from server.case.current import Conclusion, changes, conclusions, failure_entries, grouped, thumbnails
from server.records import (
    Attachment,
    Build,
    Change,
    Failure,
    FailureEntry,
    Inspection,
    Part,
    Photo,
    Printer,
    Revision,
    Service,
    Spool,
)


@dataclass(frozen=True)
class Story:
    """A part's records, each kind in order of entry (services in order of fitting)."""

    part: Part
    revisions: Sequence[Revision]
    builds: Sequence[Build]
    services: Sequence[Service]
    inspections: Sequence[Inspection]
    failures: Sequence[Failure]
    files: dict[int, list[Attachment]]
    entries: dict[int, list[FailureEntry]]
    changes: dict[int, list[Change]]
    conclusions: dict[int, dict[int | None, Conclusion]]
    pictures: dict[int, Photo]
    printers: dict[int | None, Printer]
    spools: dict[int | None, Spool]

    def found_on(self, failure: Failure) -> date:
        """Return the day on which `failure` was found, as it is known now."""
        return self.entries[failure.id or 0][-1].found_on


def read_story(session: Session, part: Part) -> Story:
    """Return the story of `part`."""
    revisions = session.exec(select(Revision).where(Revision.part_id == part.id).order_by(col(Revision.number))).all()
    revision_keys = [revision.id for revision in revisions]
    builds = session.exec(select(Build).where(col(Build.revision_id).in_(revision_keys)).order_by(col(Build.id))).all()
    build_keys = [build.id for build in builds]
    services = session.exec(
        select(Service).where(col(Service.build_id).in_(build_keys)).order_by(col(Service.fitted_on), col(Service.id))
    ).all()
    inspections = session.exec(
        select(Inspection).where(col(Inspection.service_id).in_([s.id for s in services])).order_by(col(Inspection.id))
    ).all()
    failures = session.exec(
        select(Failure).where(col(Failure.revision_id).in_(revision_keys)).order_by(col(Failure.id))
    ).all()
    keys = [failure.id for failure in failures]
    return Story(
        part,
        revisions,
        builds,
        services,
        inspections,
        failures,
        grouped(session, Attachment, Attachment.revision_id, revision_keys),
        failure_entries(session, keys),
        changes(session, keys),
        conclusions(session, keys),
        thumbnails(session, keys),
        {
            printer.id: printer
            for printer in session.exec(select(Printer).where(col(Printer.id).in_([b.printer_id for b in builds])))
        },
        {
            spool.id: spool
            for spool in session.exec(select(Spool).where(col(Spool.id).in_([b.spool_id for b in builds])))
        },
    )
