"""Which measured face of a place is reckoned with, and why the others aren't."""

from dataclasses import dataclass

from sqlmodel import Session

from server.counting.counts import counts_of
from server.measuring.measured import percent
from server.photos.keeping import current_scale
from server.records import Face, Measurement, Photo
from server.verdict.scope import Scope, faces_of, latest_records, photos_of

SAME_SHARE = 0.005  # what the page shows as the same per cent


@dataclass(frozen=True)
class Ground:
    """A measured fracture face that strength can be reckoned on."""

    face: Face
    photo: Photo
    measurement: Measurement

    @property
    def unknown_share(self) -> float:
        """How much of the face can't be told."""
        return float(self.measurement.result.get("unknown_share") or 0.0)

    @property
    def um_per_px(self) -> float:
        """Scale of the photo."""
        return float(self.measurement.given["um_per_px"])


@dataclass(frozen=True)
class Missing:
    """A face that strength can't be reckoned on: why, where that is mended, and what is known of it all the same."""

    face: Face
    why: str
    photo: Photo | None = None
    share: str = ""


@dataclass(frozen=True)
class Grounds:
    """The faces of a place: the measured ones, the best first, and the others with their reasons."""

    faces: tuple[Ground, ...]
    missing: tuple[Missing, ...]
    chosen_because: str

    def of(self, face_id: int | None) -> Ground | None:
        """Return the face that was named, else the best; None where none is measured."""
        named = next((one for one in self.faces if face_id and one.face.id == face_id), None)
        return named or (self.faces[0] if self.faces else None)


def grounds(session: Session, scope: Scope) -> Grounds:
    """Return the fracture faces of the scope. Of several the one is best of which least is unknown.

    Two mating halves tore in one weld, so their areas are not added up: one of them is read.
    """
    faces = [face for face in faces_of(session, scope) if face.surface == "fracture"]
    newest = {face.id: record for face, record in latest_records(session, faces)}
    found = [
        Ground(face, photo, newest[face.id])
        for face in faces
        if face.id in newest and (photo := session.get(Photo, newest[face.id].photo_id))
    ]
    found.sort(key=lambda one: (one.unknown_share, one.face.id or 0))
    left = [_missing(session, scope, face) for face in faces if face.id not in newest]
    return Grounds(tuple(found), tuple(left), _because(found))


def _because(found: list[Ground]) -> str:
    if len(found) < 2:
        return ""
    best, *rest = found
    others = "; ".join(f"{one.face.name}: {percent(one.unknown_share)}" for one in rest)
    mates = any(one.face.mate_face_id == best.face.id for one in rest)
    why = "Two mating halves tore in one weld, so only one is reckoned" if mates else "One face is reckoned"
    ground = f"where the least is unknown ({percent(best.unknown_share)}; {others})"
    if all(abs(one.unknown_share - best.unknown_share) < SAME_SHARE for one in rest):
        ground = f"the first, for as much can be told on the other{'s' if len(rest) > 1 else ''}"
    return (
        f"{why}: {best.face.name}, {ground}. A load whose direction was said on another face's photo is held against "
        "that face."
    )


def _missing(session: Session, scope: Scope, face: Face) -> Missing:
    photos = photos_of(session, [face])
    if not photos:
        return Missing(face, "No photo of this face yet.")
    photo = photos[-1]
    share = _counted(session, photos)
    if not any(current_scale(session, one.id) for one in photos):
        why = (
            "This face has no scale. Stress is force over mm², so strength can't be reckoned without one; the bonded "
            "share needs none."
        )
        return Missing(face, why, photo, share)
    return Missing(face, "This face is not measured yet.", photo, share)


def _counted(session: Session, photos: list[Photo]) -> str:
    """Return the bonded share by the newest count by hand, which needs no scale."""
    for photo in reversed(photos):
        for count in counts_of(session, photo):
            share = (count.result.get("bonded_share") or {}).get("value")
            if share is not None:
                return f"Bonded share by count: {percent(share)}."
    return ""
