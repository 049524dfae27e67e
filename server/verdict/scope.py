"""What a verdict or an answer is about: one failure, and where it broke at several places one of its break sites."""

from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import Request
from sqlmodel import Session, col, select

from server.access import get_or_404
from server.errors import not_found
from server.links import address
from server.naming import failure_name
from server.records import BreakSite, Face, Failure, Fragment, Measurement, Part, Photo, Revision, SiteEntry


@dataclass(frozen=True)
class Scope:
    """A failure of a part; `site` is None where the failure as a whole is meant."""

    part: Part
    revision: Revision
    failure: Failure
    sites: tuple[BreakSite, ...]
    site: BreakSite | None = None

    @property
    def failure_id(self) -> int:
        """The failure's key."""
        return int(self.failure.id or 0)

    @property
    def site_id(self) -> int | None:
        """The site's key, None for the whole."""
        return self.site.id if self.site else None

    @property
    def name(self) -> str:
        """What the scope is called on a page."""
        return self.site.name if self.site else "the failure as a whole"

    def at(self, site: BreakSite | None) -> "Scope":
        """The same failure, seen at `site`."""
        return Scope(self.part, self.revision, self.failure, self.sites, site)


def read_scope(session: Session, failure_id: int, site: str = "") -> Scope:
    """Return the scope that an address names; raise the 404 where there is no such record or site of the failure."""
    failure = get_or_404(session, Failure, failure_id)
    revision = get_or_404(session, Revision, failure.revision_id)
    part = get_or_404(session, Part, revision.part_id)
    sites = tuple(
        session.exec(select(BreakSite).where(BreakSite.failure_id == failure_id).order_by(col(BreakSite.id))).all()
    )
    chosen = next((one for one in sites if str(one.id) == site), None)
    if site and chosen is None:
        raise not_found("break site of this failure")
    return Scope(part, revision, failure, sites, chosen)


def faces_of(session: Session, scope: Scope) -> list[Face]:
    """The faces that bear on the scope. With one site or none, every face does; else those given to the site."""
    query = select(Face).join(Fragment).where(Fragment.failure_id == scope.failure_id).order_by(col(Face.id))
    faces = list(session.exec(query).all())
    if scope.site is None or len(scope.sites) < 2:
        return faces
    return [face for face in faces if face.site_id == scope.site_id]


def photos_of(session: Session, faces: list[Face]) -> list[Photo]:
    """The photos of the faces, the oldest first."""
    keys = [face.id for face in faces]
    return list(session.exec(select(Photo).where(col(Photo.face_id).in_(keys)).order_by(col(Photo.id))).all())


def latest_records(session: Session, faces: list[Face]) -> list[tuple[Face, Measurement]]:
    """Each face that was measured, with its newest measurement."""
    query = select(Measurement, Photo.face_id).join(Photo).where(col(Photo.face_id).in_([face.id for face in faces]))
    newest = {face_id: measurement for measurement, face_id in session.exec(query.order_by(col(Measurement.id))).all()}
    return [(face, newest[face.id]) for face in faces if face.id in newest]


def sequences(session: Session, scope: Scope) -> dict[int, SiteEntry]:
    """What is held at present about the order in which the sites let go, by site; the newest entry holds."""
    keys = [site.id for site in scope.sites]
    entries = session.exec(select(SiteEntry).where(col(SiteEntry.site_id).in_(keys)).order_by(col(SiteEntry.id))).all()
    return {entry.site_id: entry for entry in entries}


def trail(request: Request, scope: Scope) -> list[tuple[str, str]]:
    """The way down to the failure's page, for the head of a page."""
    return [
        ("Parts", address(request, "parts")),
        (scope.part.name, address(request, "part", part_id=scope.part.id)),
        (failure_name(scope.failure), address(request, "failure", failure_id=scope.failure_id)),
    ]


def with_site(path: str, scope: Scope, **more: str | list[str]) -> str:
    """The path with the site that is meant and whatever else stands in its query."""
    site = {"site": str(scope.site_id)} if scope.site else {}
    query = urlencode({**site, **more}, doseq=True)
    return f"{path}?{query}" if query else path
