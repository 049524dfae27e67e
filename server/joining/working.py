"""Making one picture of several photos. Runs in the worker process, as a job."""

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, overload

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Engine
from sqlmodel import Session, col, select

from analysis.fields.focus import Merged, merge_focus
from analysis.fields.levels import NO_LEVEL, levels_of
from analysis.fields.place import Place
from analysis.fields.seams import NOBODY
from analysis.fields.stitch import stitch
from analysis.imaging.photo import read_photo
from server import __version__
from server.measuring import jobs
from server.measuring.examinations import carry_out, png
from server.measuring.surroundings import surroundings
from server.photos.keeping import limits_of_kept
from server.records import Job, Joining, Photo, ScaleRecord
from server.settings import Settings
from server.store import Store

Picture = NDArray[np.uint8]
NAMES = {"fields": "one picture of {} fields.png", "focus": "sharp picture of {} photos.png"}


@dataclass(frozen=True)
class Made:
    """A picture and what its record is told."""

    srgb: Picture
    places: Sequence[Place]
    residuals: list[dict[str, Any]]
    facts: dict[str, Any]
    map: bytes


def run_job(engine: Engine, store: Store, settings: Settings, job: Job) -> None:
    """Make the picture that the job names and end it; a refusal becomes its reason in words. Never raises."""

    def tell(stage: str, share: float) -> None:
        jobs.beat(engine, job, settings.job_lease_seconds, stage, share)

    def work() -> None:
        with Session(engine, expire_on_commit=False) as session:
            joining = session.get_one(Joining, job.given[jobs.JOINING])
            photos = photos_of(session, joining)
            around = surroundings(session, photos[0])
        make = _one_of_fields if joining.kind == "fields" else _one_of_focus
        layer_mm = around.build.layer_height_mm if around.build else None
        made = make(Originals(store, settings, photos), joining, layer_mm, tell)
        tell("keeping the picture", 0.98)
        data = png(made.srgb)
        shas = store.put(data), store.put(made.map)
        jobs.finish_with(engine, job, lambda session: _keep(session, joining.id or 0, photos, made, len(data), shas))

    carry_out(engine, job, work)


def photos_of(session: Session, joining: Joining) -> list[Photo]:
    """Return the photos that the picture is made of, in the order of the series."""
    found = session.exec(select(Photo).where(col(Photo.id).in_(joining.photo_ids))).all()
    return sorted(found, key=lambda photo: joining.photo_ids.index(photo.id or 0))


@dataclass
class Originals(Sequence[Picture]):
    """The originals, upright; read when they are asked for, the last one kept: a series may be large."""

    store: Store
    settings: Settings
    photos: Sequence[Photo]
    _last: tuple[int, Picture] | None = field(default=None, repr=False)

    def __len__(self) -> int:
        return len(self.photos)

    @overload
    def __getitem__(self, number: int) -> Picture: ...

    @overload
    def __getitem__(self, number: slice) -> Sequence[Picture]: ...

    def __getitem__(self, number: int | slice) -> Picture | Sequence[Picture]:
        if isinstance(number, slice):
            return [self[n] for n in range(*number.indices(len(self)))]
        if number >= len(self.photos):
            raise IndexError(number)
        if self._last is None or self._last[0] != number:
            photo = self.photos[number]
            data = self.store.read(photo.sha256)
            self._last = (number, read_photo(data, limits_of_kept(self.settings, photo)).srgb)
        return self._last[1]

    @property
    def names(self) -> list[str]:
        """What refusals call them."""
        return [photo.file_name for photo in self.photos]


def _one_of_fields(
    originals: Originals, joining: Joining, layer_mm: float | None, tell: Callable[[str, float], None]
) -> Made:
    captures = [originals[n] for n in range(len(originals))]
    found = stitch(captures, originals.names, originals.settings.photo_max_pixels, tell)
    residuals = [
        {"first": lap.first, "second": lap.second, "px": round(lap.residual_px, 3), "shared": round(lap.shared, 3)}
        for lap in found.laps
    ]
    facts = {
        "gains": [round(gain, 3) for gain in found.gains],
        "set_aside": [list(pair) for pair in found.set_aside],
        "empty_share": round(float((found.canvas.owner == NOBODY).mean()), 4),
        "step": found.canvas.step,
    }
    return Made(found.canvas.srgb, found.places, residuals, facts, png(found.canvas.owner))


def _one_of_focus(
    originals: Originals, joining: Joining, layer_mm: float | None, tell: Callable[[str, float], None]
) -> Made:
    found = merge_focus(originals, originals.names, tell)
    residuals = [{"first": n, "second": n + 1, "px": round(px, 3)} for n, px in enumerate(found.residuals_px)]
    depth = found.depth
    facts: dict[str, Any] = {
        "known_share": round(depth.known_share, 4),
        "beyond_share": round(depth.beyond_share, 4),
        "step": depth.step,
        "levels": _levels(found, joining, layer_mm),
    }
    file = io.BytesIO()
    fine = np.round(depth.index * 256) / np.float32(256)  # as exact as it can be known, and it packs well
    np.savez_compressed(file, index=fine, confidence=np.round(depth.confidence * 255).astype(np.uint8))
    return Made(found.srgb, found.places, residuals, facts, file.getvalue())


def _levels(found: Merged, joining: Joining, layer_mm: float | None) -> dict[str, Any] | None:
    """The face's steps counted in layers, where the step of the focus, the scale and the layer height are known."""
    if not (joining.step_um and joining.um_per_px and layer_mm):
        return None
    height = found.height_mm(joining.step_um, joining.first_is_highest)
    mm_per_px = joining.um_per_px / 1000 * found.depth.step
    levels = levels_of(height, found.depth.confidence, mm_per_px, layer_mm)
    shares = {}
    if levels.numbers is not None:
        values, counts = np.unique(levels.numbers[levels.numbers != NO_LEVEL], return_counts=True)
        shares = {int(v): round(float(n / counts.sum()), 4) for v, n in zip(values, counts, strict=True)}
    return {
        "layer_height_mm": layer_mm,
        "fit": round(levels.fit, 3),
        "others": round(levels.others, 3),
        "scatter_mm": None if levels.scatter_mm is None else round(levels.scatter_mm, 4),
        "shares": [[level, share] for level, share in sorted(shares.items(), reverse=True) if share >= 0.01],
        "reason": levels.reason,
    }


def _keep(
    session: Session, key: int, photos: Sequence[Photo], made: Made, size_bytes: int, shas: tuple[str, str]
) -> dict[str, Any]:
    """Store the picture as a photo of the face, with its scale, and complete the record of its making."""
    joining, first = session.get_one(Joining, key), photos[0]
    photo = Photo(
        face_id=joining.face_id,
        treatment_id=first.treatment_id,
        stage=first.stage,
        sha256=shas[0],
        file_name=NAMES[joining.kind].format(len(photos)),
        media_type="image/png",
        size_bytes=size_bytes,
        width_px=made.srgb.shape[1],
        height_px=made.srgb.shape[0],
        note=f"made of {len(photos)} photos",
        is_rendered=any(one.is_rendered for one in photos),
    )
    session.add(photo)
    session.flush()
    if joining.um_per_px:
        session.add(_scale_record(photo, joining))
    joining.photo_id = photo.id
    joining.placements = [[p.turn.real, p.turn.imag, p.shift.real, p.shift.imag] for p in made.places]
    joining.residuals, joining.facts, joining.map_sha256 = made.residuals, made.facts, shas[1]
    joining.program_version = __version__
    session.add(joining)
    return {}


def _scale_record(photo: Photo, joining: Joining) -> ScaleRecord:
    sd = joining.scale_relative_sd or 0.01
    given = {"um_per_px": joining.um_per_px, "relative_sd_percent": round(100 * sd, 4)}
    return ScaleRecord(
        photo_id=photo.id or 0, method="um_per_px", um_per_px=joining.um_per_px or 0.0, relative_sd=sd, given=given
    )
