"""Uploads: each file is judged by itself, kept byte for byte or refused by name; of a refused one nothing stays."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import PurePosixPath, PureWindowsPath

from sqlmodel import Session, col, select
from starlette.datastructures import UploadFile

from analysis.imaging.photo import PhotoFacts, PhotoLimits, PhotoRefused, check_photo
from server.records import OutlineRecord, Photo, ScaleRecord
from server.settings import MEGABYTE, Settings
from server.store import Store

NAME_LENGTH = 200


@dataclass(frozen=True)
class Belongs:
    """What the photos of one upload show, and when they were taken."""

    face_id: int | None = None
    failure_id: int | None = None
    treatment_id: int | None = None
    stage: str = "as_found"
    is_rendered: bool = False
    note: str = ""


@dataclass(frozen=True)
class Refused:
    """A file that was not kept, by its name, and why."""

    name: str
    words: str


@dataclass
class Outcome:
    """What became of the files of one upload."""

    kept: list[Photo] = field(default_factory=list)
    doubled: list[Photo] = field(default_factory=list)
    refused: list[Refused] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        """Whether no file was sent at all."""
        return not (self.kept or self.doubled or self.refused)


def limits(settings: Settings) -> PhotoLimits:
    """Return what a new photo has to keep to."""
    return PhotoLimits(settings.photo_max_bytes, settings.photo_max_pixels)


def limits_of_kept(settings: Settings, photo: Photo) -> PhotoLimits:
    """Return limits that let a kept photo through, even where the settings were tightened after it came in."""
    pixels = photo.width_px * photo.height_px
    return PhotoLimits(max(settings.photo_max_bytes, photo.size_bytes), max(settings.photo_max_pixels, pixels))


def accept_photos(
    session: Session, store: Store, settings: Settings, files: Iterable[object], belongs: Belongs
) -> Outcome:
    """Keep each good photo among `files` and say of each other one why not. Commits after each kept photo.

    Photos are decoded whole here, so that a damaged one is refused now and not in the middle of a measuring.
    """
    outcome = Outcome()
    for file in files:
        if isinstance(file, UploadFile) and file.filename:
            _accept(session, store, settings, file, belongs, outcome)
    return outcome


def _accept(
    session: Session, store: Store, settings: Settings, file: UploadFile, belongs: Belongs, outcome: Outcome
) -> None:
    name = plain_name(file.filename or "")
    if (file.size or 0) > settings.photo_max_bytes:
        limit, size = settings.photo_max_bytes / MEGABYTE, (file.size or 0) / MEGABYTE
        words = f"It has {size:.0f} MB; at most {limit:.0f} MB are taken. Save it smaller, or as JPEG, and try again."
        outcome.refused.append(Refused(name, words))
        return
    try:
        photo, is_new = keep_photo(session, store, settings, file.file.read(), name, belongs)
    except PhotoRefused as error:
        outcome.refused.append(Refused(name, str(error)))
        return
    (outcome.kept if is_new else outcome.doubled).append(photo)


def keep_photo(
    session: Session, store: Store, settings: Settings, data: bytes, name: str, belongs: Belongs
) -> tuple[Photo, bool]:
    """Return the photo made of `data` and True; or the one that is there already and False.

    Raises `PhotoRefused`, and nothing is stored then.
    """
    facts = check_photo(data, limits(settings))
    sha256 = store.put(data)
    there = _already_there(session, sha256, belongs)
    if there:
        return there, False
    photo = _photo(facts, sha256, len(data), name, belongs)
    session.add(photo)
    session.commit()
    return photo, True


def _already_there(session: Session, sha256: str, belongs: Belongs) -> Photo | None:
    if belongs.face_id is None and belongs.failure_id is None:
        return None
    same = select(Photo).where(Photo.sha256 == sha256, Photo.face_id == belongs.face_id)
    return session.exec(same.where(Photo.failure_id == belongs.failure_id)).first()


def _photo(facts: PhotoFacts, sha256: str, size_bytes: int, name: str, belongs: Belongs) -> Photo:
    return Photo(
        face_id=belongs.face_id,
        failure_id=belongs.failure_id,
        treatment_id=belongs.treatment_id,
        sha256=sha256,
        file_name=name,
        media_type=facts.media_type,
        size_bytes=size_bytes,
        width_px=facts.width_px,
        height_px=facts.height_px,
        stage=belongs.stage,
        note=belongs.note,
        is_rendered=belongs.is_rendered,
    )


def plain_name(sent: str) -> str:
    """Return the file's own name without folders or signs that can't be shown; browsers may send a whole path."""
    name = PurePosixPath(PureWindowsPath(sent).name).name
    shown = "".join(sign for sign in name if sign.isprintable()).strip()
    return shown[-NAME_LENGTH:] or "photo without a name"


def current_scale(session: Session, photo_id: int | None) -> ScaleRecord | None:
    """Return the scale that counts, the newest one."""
    given = select(ScaleRecord).where(ScaleRecord.photo_id == photo_id)
    return session.exec(given.order_by(col(ScaleRecord.id).desc())).first()


def current_outline(session: Session, photo_id: int | None) -> OutlineRecord | None:
    """Return the outline that counts, the newest one."""
    given = select(OutlineRecord).where(OutlineRecord.photo_id == photo_id)
    return session.exec(given.order_by(col(OutlineRecord.id).desc())).first()
