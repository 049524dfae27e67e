"""The pictures that a summary can carry: measured faces with what was found drawn on them, or plain photos."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from sqlmodel import Session, col, select

from server.access import get_or_404
from server.links import address
from server.measuring import overlays
from server.naming import upper_first
from server.photos import pictures
from server.records import Face, Measurement, Photo
from server.summary.words import percent
from server.verdict.scope import Scope, faces_of, latest_records, photos_of

SIDE_PX = 1600


@dataclass(frozen=True)
class Picture:
    """One picture on offer. `key` names it in a kept wording; it never holds a file name."""

    key: str
    name: str
    caption: str
    photo_id: int
    is_rendered: bool
    site_id: int | None = None
    measurement_id: int | None = None
    result: dict[str, Any] | None = None

    def address(self, request: Request) -> str:
        """Where the picture stands, without metadata."""
        if self.measurement_id:
            return address(request, "overlay", measurement_id=self.measurement_id)
        return address(request, "photo_view", photo_id=self.photo_id)

    def numbers(self) -> dict[str, str] | None:
        """What was measured of a break, as a row for a customer; None for a plain photo and for an outer surface."""
        if self.result is None or self.result.get("surface") == "outer":
            return None
        result = self.result
        bonded = result.get("bonded_area_fraction") or {}
        return {
            "name": self.name,
            "area": f"{result['face_area_mm2']:.1f} mm²" if result.get("face_area_mm2") else "not known",
            "joined": _share(bonded),
            "gap": _gap(result),
            "unknown": _unread(result.get("unknown_share")),
        }


def _share(measure: dict[str, Any]) -> str:
    if measure.get("value") is None:
        return "not known"
    interval = measure.get("interval")
    span = f" ({100 * interval[0]:.0f}–{100 * interval[1]:.0f} %)" if interval and None not in interval else ""
    return percent(measure["value"]) + span


def _unread(share: float | None) -> str:
    if share is None:
        return "not known"
    return percent(share) if share > 0 else "none"


def _gap(result: dict[str, Any]) -> str:
    longest = result.get("largest_gap_mm")
    if longest:
        return f"{longest:.1f} mm"
    return "none found" if result.get("walls") else "not known"


def pictures_of(session: Session, scope: Scope, kept: Iterable[str] = ()) -> list[Picture]:
    """Everything that can be shown: each face's latest measurement, then the photos, then the views as found.

    `kept` names pictures of a wording kept before: a measurement among them stays on offer after a newer one came.
    """
    faces = faces_of(session, scope.at(None))
    sites = {site.id: site.name for site in scope.sites}
    latest = latest_records(session, faces)
    measured = [
        _measured(measurement, session.get(Photo, measurement.photo_id), face, sites) for face, measurement in latest
    ]
    plain = [
        _plain(photo, next(f for f in faces if f.id == photo.face_id), sites) for photo in photos_of(session, faces)
    ]
    overview = session.exec(select(Photo).where(Photo.failure_id == scope.failure_id).order_by(col(Photo.id))).all()
    whole = [
        Picture(f"photo:{p.id}", "As found", "The part as it was found.", p.id or 0, p.is_rendered) for p in overview
    ]
    known = {picture.key for picture in measured}
    earlier = [
        _earlier(session, key, faces, sites) for key in kept if key.startswith("measurement:") and key not in known
    ]
    return [*measured, *filter(None, earlier), *plain, *whole]


def _earlier(session: Session, key: str, faces: list[Face], sites: dict[int | None, str]) -> Picture | None:
    measurement = session.get(Measurement, int(key.partition(":")[2]))
    photo = session.get(Photo, measurement.photo_id) if measurement else None
    face = next((one for one in faces if photo and one.id == photo.face_id), None)
    return _measured(measurement, photo, face, sites) if measurement and face else None


def _label(face: Face, sites: dict[int | None, str]) -> str:
    site = sites.get(face.site_id) if len(sites) > 1 else None
    return upper_first(f"{site}, {face.name}" if site else face.name)


def _measured(measurement: Measurement, photo: Photo | None, face: Face, sites: dict[int | None, str]) -> Picture:
    name = _label(face, sites)
    caption = f"{name}, with what was found drawn over the photo."
    return Picture(
        f"measurement:{measurement.id}",
        name,
        caption,
        measurement.photo_id,
        bool(photo and photo.is_rendered),
        face.site_id,
        measurement.id,
        measurement.result,
    )


def _plain(photo: Photo, face: Face, sites: dict[int | None, str]) -> Picture:
    name = _label(face, sites)
    return Picture(f"photo:{photo.id}", name, f"{name}.", photo.id or 0, photo.is_rendered, face.site_id)


def picture_bytes(request: Request, session: Session, picture: Picture) -> bytes:
    """The JPEG of the picture, made from bare pixels: no EXIF, no place, no camera."""
    settings, store = request.app.state.settings, request.app.state.store
    photo = get_or_404(session, Photo, picture.photo_id)
    if picture.measurement_id is None:
        return pictures.view(settings, store, photo, SIDE_PX)
    return overlays.flat(settings, store, get_or_404(session, Measurement, picture.measurement_id), photo)
