"""Two mating halves in one frame: the mate laid on this photo by the fit that was found, both outlines, each gap."""

import hashlib
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from sqlmodel import Session

from analysis.imaging.photo import read_photo
from server.gaps.page import gap_section, svg
from server.measuring.overlays import face_window
from server.measuring.surroundings import measurements_of, surroundings
from server.photos.face_page import trail_of
from server.photos.keeping import current_outline, limits_of_kept
from server.photos.pictures import derived, jpeg, nearest_side
from server.records import Face, Measurement, Photo
from server.settings import Settings
from server.store import Store

Affine = NDArray[np.float64]  # (2, 3)
GROUND = (110, 110, 110)  # where the mate's photo ends
LOOK = 1  # part of the pictures' names
FIT_WORDS = {
    "fits": "The halves fit: outlines and faces agree.",
    "uncertain": "It is not certain that these two belong together, or lie in this way. Nothing was combined.",
}


@dataclass(frozen=True)
class Pair:
    """A measured photo, the mate's photo, and `affine` from px of this one to px of the mate's."""

    measurement: Measurement
    photo: Photo
    mate: Photo
    affine: Affine


def pair_of(session: Session, measurement: Measurement, photo: Photo) -> Pair | None:
    """Return the pair that a measurement laid on each other; None where there was no mate or it was refused."""
    affine, key = measurement.result.get("mate_affine"), measurement.given.get("mate_photo_id")
    mate = session.get(Photo, key) if key and affine else None
    return Pair(measurement, photo, mate, np.array(affine, float)) if mate else None


def half_picture(settings: Settings, store: Store, pair: Pair, which: str, side_px: int) -> bytes:
    """Return one half as a JPEG in the common frame; `which` is "here" or "there", the mate laid on this photo.

    The frame is this photo's face with a margin. Made from bare pixels, so no metadata can be in it.
    """
    side, window = nearest_side(side_px), face_window(pair.measurement, pair.photo)
    place = np.array2string(pair.affine, precision=6) if which == "there" else ""
    mate = pair.mate.sha256 if which == "there" else ""
    name = hashlib.sha256(f"{pair.photo.sha256} {mate} {place} {window} {LOOK}".encode()).hexdigest()
    return derived(settings, f"{name}-half-{side}.jpg", lambda: _draw(settings, store, pair, which, side))


def _draw(settings: Settings, store: Store, pair: Pair, which: str, side: int) -> bytes:
    left, top, right, bottom = face_window(pair.measurement, pair.photo)
    shown_px = max(right - left, bottom - top, side) / side  # photo px per px shown, never enlarged
    size = (max(1, round((right - left) / shown_px)), max(1, round((bottom - top) / shown_px)))
    photo = pair.mate if which == "there" else pair.photo
    linear = pair.affine[:, :2] if which == "there" else np.eye(2)
    shift = pair.affine[:, 2] if which == "there" else np.zeros(2)
    # One photo px must not become many read ones, so the photo is read about as fine as it is shown.
    per_shown = shown_px * float(np.sqrt(abs(np.linalg.det(linear))))
    read = read_photo(
        store.read(photo.sha256),
        limits_of_kept(settings, photo),
        max_side_px=max(1, round(max(photo.width_px, photo.height_px) / max(1.0, per_shown))),
    )
    # Pillow counts from pixel corners: corner of the view -> centre in this photo -> the mate's -> corner of the array.
    k = read.px_per_pixel
    matrix = linear * shown_px / k
    offset = (linear @ (np.array([left, top]) - 0.5) + shift + 0.5) / k
    data = (*matrix[0], offset[0], *matrix[1], offset[1])
    picture = Image.fromarray(read.srgb).transform(
        size, Image.Transform.AFFINE, tuple(map(float, data)), Image.Resampling.BICUBIC, fillcolor=GROUND
    )
    return jpeg(np.asarray(picture))


def rings_of_mate(session: Session, pair: Pair) -> list[NDArray[np.float64]]:
    """Return the mate's outline and holes in px of this photo; none where it was neither outlined nor measured."""
    newest = measurements_of(session, pair.mate)[:1]
    rings = [newest[0].result.get("outline_px"), *(newest[0].result.get("holes_px") or [])] if newest else []
    if not any(rings):
        drawn = current_outline(session, pair.mate.id)
        rings = [drawn.outer_px, *drawn.holes_px] if drawn else []
    back = np.linalg.inv(pair.affine[:, :2])
    return [(np.array(ring, float) - pair.affine[:, 2]) @ back.T for ring in rings if ring]


def halves_page(session: Session, pair: Pair) -> dict[str, Any]:
    """Return what the page of both halves shows."""
    measurement, result, window = pair.measurement, pair.measurement.result, face_window(pair.measurement, pair.photo)
    around = surroundings(session, pair.photo)
    other = session.get(Face, pair.mate.face_id) if pair.mate.face_id else None
    here = [np.array(ring, float) for ring in (result.get("outline_px"), *(result.get("holes_px") or [])) if ring]
    there = rings_of_mate(session, pair)
    found = gap_section(session, measurement, pair.photo)
    return {
        "title": "Both halves, laid on each other",
        "trail": [*trail_of(session, around.face), ("What was found", f"/measurements/{measurement.id}")],
        "measurement": measurement,
        "photo": pair.photo,
        "mate": pair.mate,
        "name_here": around.face.name if around.face else pair.photo.file_name,
        "name_there": other.name if other else pair.mate.file_name,
        "mate_face": other,
        "fit": result.get("mate_fit"),
        "fit_words": FIT_WORDS.get(result.get("mate_fit") or "", ""),
        "why": (result.get("reasons") or {}).get("gap_agreement", ""),
        "agreement": _agreement(result),
        "window": f"{window[0]} {window[1]} {window[2] - window[0]} {window[3] - window[1]}",
        "width": window[2] - window[0],
        "height": window[3] - window[1],
        "rings_here": [svg(ring) for ring in here],
        "rings_there": [svg(ring) for ring in there],
        **found,
        "gap_marks": [_within(mark, pair.photo, window) for mark in found["gap_marks"]],
    }


def _agreement(result: dict[str, Any]) -> str:
    share, chance = result.get("gap_agreement"), result.get("gap_agreement_by_chance")
    if share is None:
        return ""
    beside = "" if chance is None else f"; stretches as long, laid anywhere, would come to {chance * 100:.0f} %"
    return f"The other half confirms {share * 100:.0f} % of the gaps' length{beside}."


def _within(mark: Any, photo: Photo, window: tuple[int, int, int, int]) -> dict[str, Any]:
    """A mark whose number stands in per cent of the frame instead of the photo."""
    x = float(mark.left[:-1]) / 100 * photo.width_px - window[0]
    y = float(mark.top[:-1]) / 100 * photo.height_px - window[1]
    left, top = x / (window[2] - window[0]) * 100, y / (window[3] - window[1]) * 100
    return {
        "number": mark.number, "path": mark.path, "code": mark.code,
        "left": f"{min(max(left, 2), 98):.2f}%", "top": f"{min(max(top, 2), 98):.2f}%",
    }  # fmt: skip
