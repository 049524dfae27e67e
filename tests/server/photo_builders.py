"""Photo files for tests: small ones of every kind, broken ones, and a practice face with its scale."""

import io
import json
from pathlib import Path
from typing import Any

import numpy as np
from fastapi import FastAPI
from PIL import Image
from sqlmodel import Session

from server.measuring.surroundings import Order, place_order
from server.photos.keeping import Belongs, keep_photo
from server.records import Face, Job, Measurement, Photo, ScaleRecord
from tests.server.builders import keep, make_face

FACES = Path(__file__).resolve().parents[1] / "faces"
GPS_TAG, ORIENTATION_TAG, MAKER = 0x8825, 0x0112, "a camera that tells where it was"


def picture(width: int = 90, height: int = 60) -> Image.Image:
    """Return a picture whose left half is dark and whose right half is light."""
    array = np.full((height, width, 3), 200, np.uint8)
    array[:, : width // 2] = 40
    return Image.fromarray(array)


def encoded(kind: str = "JPEG", orientation: int | None = None, **size: int) -> bytes:
    """Return a photo file of `kind` that carries a camera's name and a place on earth."""
    image, file = picture(**size), io.BytesIO()
    exif = Image.Exif()
    exif[0x010F] = MAKER
    exif.get_ifd(GPS_TAG)[1] = "N"
    if orientation:
        exif[ORIENTATION_TAG] = orientation
    if kind == "TIFF":
        image.save(file, kind)
    else:
        image.save(file, kind, exif=exif)
    return file.getvalue()


def face_inputs(name: str) -> dict[str, Any]:
    """Return what a person knows of a practice face."""
    return dict(json.loads((FACES / name / "input.json").read_text()))


def make_real_photo(session: Session, app: FastAPI, name: str = "face_32", face: Face | None = None) -> Photo:
    """Keep a practice face's photo as an upload would."""
    face = face or make_face(session)
    data = (FACES / name / "photo.jpg").read_bytes()
    belongs = Belongs(face_id=face.id, is_rendered=True)
    return keep_photo(session, app.state.store, app.state.settings, data, f"{name}.jpg", belongs)[0]


def make_scale(session: Session, photo: Photo, um_per_px: float = 10.0, **overrides: Any) -> ScaleRecord:
    values = {"method": "um_per_px", "relative_sd": 0.01, "given": {"um_per_px": um_per_px}}
    return keep(session, ScaleRecord(**{"photo_id": photo.id, "um_per_px": um_per_px, **values, **overrides}))


def order_real(session: Session, photo: Photo, name: str = "face_32") -> Job:
    """Order the measuring of a practice face with what is known of it."""
    known = face_inputs(name)
    scale = make_scale(session, photo, known["um_per_px"])
    names = ("line_width_mm", "layer_height_mm", "wall_count", "contact_band_mm")
    parameters = {key: known[key] for key in names} | {"surface": known["surface"]}
    return place_order(session, Order(photo, scale, None, parameters))


RESULT: dict[str, Any] = {
    "surface": "fracture",
    "face_area_mm2": 12.0,
    "outline_px": [[10, 10], [80, 10], [80, 50], [10, 50]],
    "holes_px": [],
    "unknown_share": 0.1,
    "bonded_share_of_face": {"value": 0.4, "interval": [0.3, 0.5], "bounds": [0.36, 0.46]},
    "bonded_area_fraction": None,
    "walls": [
        {
            "outline": "outer", "index": 0, "start_px": [10, 10], "length_mm": 20.0, "continuity": 0.9,
            "bonded_fraction": 0.5,
            "gaps": [{"start_mm": 3.1, "end_mm": 5.1, "length_mm": 2.0, "start_px": [1, 1], "end_px": [2, 2]}],
        }
    ],
    "largest_gap_mm": 2.0,
    "layer_planes": [{"area_share": 1.0, "road_deg": 45.0, "level": 0}],
    "course": None, "touched_share": None, "gap_agreement": None, "gap_agreement_by_chance": None, "mate_fit": None,
    "mate_affine": None, "rub_area_mm2": None, "scratch_deg": None, "evidence": [], "verdict": None,
    "warnings": ["half of it lies in <shadow>"],
    "reasons": {"bonded_area_fraction": "The break runs across the layers.", "touched_share": "The light is too flat."},
    "seconds": {"decode": 0.1, "measure": 0.2},
}  # fmt: skip


def make_measurement(session: Session, app: FastAPI, photo: Photo, labels: Any = None, **overrides: Any) -> Measurement:
    """Keep a measurement whose label map is `labels`, uint8 (rows, cols); one wall strip."""
    from server.measuring.examinations import png

    store = app.state.store
    labels = np.ones((6, 9), np.uint8) if labels is None else labels
    strip = {"outline": "outer", "index": 0, "length_mm": 20.0}
    strip |= {"labels_sha256": store.put(png(np.full((4, 40), 2, np.uint8)))}
    strip |= {"picture_sha256": store.put(png(np.full((4, 40, 3), 99, np.uint8)))}
    scale = make_scale(session, photo)
    given = {"um_per_px": 10.0, "scale_relative_sd": 0.01, "line_width_mm": 0.4, "layer_height_mm": 0.2}
    values = {
        "photo_id": photo.id, "scale_id": scale.id, "given": given, "result": RESULT, "strips": [strip],
        "labels_sha256": store.put(png(labels)), "px_per_pixel": 10.0, "program_version": "0.0",
    }  # fmt: skip
    return keep(session, Measurement(**{**values, **overrides}))
