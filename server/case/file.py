"""All that the record holds on one failure, read in a fixed number of queries."""

from collections import Counter
from dataclasses import dataclass

from sqlmodel import Session, col, func, select

from server.case.current import (
    Conclusion,
    conclusions,
    failure_entries,
    fragment_entries,
    grouped,
    not_replaced,
    site_entries,
    treatments,
)
from server.records import (
    BreakSite,
    Change,
    Face,
    Failure,
    FailureEntry,
    Fragment,
    FragmentEntry,
    GapCause,
    Measurement,
    Observation,
    Photo,
    Revision,
    SiteEntry,
    Summary,
    Treatment,
)


@dataclass(frozen=True)
class CaseFile:
    """The records of one failure; each list of entries holds the one that counts last."""

    failure: Failure
    said: list[FailureEntry]
    pieces: list[Fragment]
    pieces_said: dict[int, list[FragmentEntry]]
    treatments: dict[int, list[Treatment]]
    sites: list[BreakSite]
    sites_said: dict[int, list[SiteEntry]]
    faces: list[Face]
    overview: list[Photo]  # of the pieces as found, before any one face
    photos: dict[int, list[Photo]]
    measurements: dict[int, Measurement]  # the newest of each photo
    gap_causes: dict[int, list[GapCause]]  # what people said of a measurement's gaps
    answers: dict[str, int]  # how many questions of the list were answered yes, no, can't tell
    conclusions: dict[int | None, Conclusion]
    all_changes: list[Change]
    changes: list[Change]
    revisions: dict[int | None, Revision]
    summaries: int

    def harmful(self, piece: Fragment) -> bool:
        """Whether `piece` is missing and can jam or hurt something."""
        said = self.pieces_said[piece.id or 0][-1]
        return said.can_harm and said.status != "recovered"

    def measured(self, face: Face) -> Measurement | None:
        """Return the newest measurement of `face`, over all its photos."""
        found = [self.measurements[p.id] for p in self.photos.get(face.id or 0, []) if p.id in self.measurements]
        return max(found, key=lambda m: m.id or 0, default=None)


def read_case(session: Session, failure: Failure) -> CaseFile:
    """Return the file of `failure`."""
    key = failure.id or 0
    pieces = grouped(session, Fragment, Fragment.failure_id, [key])[key]
    piece_keys = [piece.id for piece in pieces]
    sites = grouped(session, BreakSite, BreakSite.failure_id, [key])[key]
    faces = list(session.exec(select(Face).where(col(Face.fragment_id).in_(piece_keys)).order_by(col(Face.id))).all())
    photos = grouped(session, Photo, Photo.face_id, [face.id for face in faces])
    measurements = grouped(
        session, Measurement, Measurement.photo_id, [p.id for group in photos.values() for p in group]
    )
    newest_of = {photo_id: rows[-1] for photo_id, rows in measurements.items()}
    answers = not_replaced(grouped(session, Observation, Observation.failure_id, [key])[key])
    newest = {(one.site_id, one.photo_id, one.code): one.answer for one in answers}
    all_changes = grouped(session, Change, Change.failure_id, [key])[key]
    done_in = [change.done_in_revision_id for change in all_changes]
    return CaseFile(
        failure,
        failure_entries(session, [key])[key],
        pieces,
        fragment_entries(session, piece_keys),
        treatments(session, piece_keys),
        sites,
        site_entries(session, [site.id for site in sites]),
        faces,
        grouped(session, Photo, Photo.failure_id, [key])[key],
        photos,
        newest_of,
        grouped(session, GapCause, GapCause.measurement_id, [one.id for one in newest_of.values()]),
        dict(Counter(newest.values())),
        conclusions(session, [key]).get(key, {}),
        all_changes,
        not_replaced(all_changes),
        {revision.id: revision for revision in session.exec(select(Revision).where(col(Revision.id).in_(done_in)))},
        session.exec(select(func.count()).select_from(Summary).where(Summary.failure_id == key)).one(),
    )
