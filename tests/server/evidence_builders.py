"""Photos with a measurement, for the tests of verdict and summary: invented numbers, a real JPEG and label map."""

import io
from typing import Any

import numpy as np
from fastapi import FastAPI
from PIL import Image
from sqlmodel import Session

from server.records import Face, Failure, Measurement, Observation, ScaleRecord
from tests.server.builders import keep, make_face, make_photo

SECRET_CAMERA, LATITUDE_DEG = "CAMERA-SECRET-77", 52.5


def located_jpeg(width: int = 640, height: int = 480) -> bytes:
    """Return a JPEG whose EXIF names a camera and a place on earth."""
    exif = Image.Exif()
    exif[0x010F] = SECRET_CAMERA
    exif[0x010E] = "DESCRIPTION-SECRET"
    place = exif.get_ifd(0x8825)
    place[1], place[2], place[3], place[4] = "N", (LATITUDE_DEG, 31.0, 12.0), "E", (13.0, 24.0, 18.0)
    shades = np.random.default_rng(7).integers(80, 190, (height // 8, width // 8, 3), np.uint8)
    buffer = io.BytesIO()
    Image.fromarray(shades).resize((width, height)).save(buffer, "JPEG", exif=exif)
    return buffer.getvalue()


def result_of(**overrides: Any) -> dict[str, Any]:
    """Return a measuring result of a fracture face, in the shape that the measuring gives."""
    gap = {"start_mm": 3.1, "end_mm": 5.0, "length_mm": 1.9, "start_px": [300.0, 100.0], "end_px": [340.0, 100.0]}
    wall = {"outline": "outer", "index": 0, "length_mm": 19.7, "continuity": 0.9, "bonded_fraction": 0.3, "gaps": [gap]}
    result = {
        "surface": "fracture",
        "face_area_mm2": 35.1,
        "unknown_share": 0.02,
        "outline_px": [[100.0, 80.0], [540.0, 80.0], [540.0, 400.0], [100.0, 400.0]],
        "holes_px": [],
        "bonded_share_of_face": {"value": 0.12, "interval": [0.10, 0.15], "bounds": [0.11, 0.14]},
        "bonded_area_fraction": {"value": 0.2, "interval": [0.16, 0.24], "bounds": [0.19, 0.22]},
        "walls": [wall],
        "largest_gap_mm": 1.9,
        "layer_planes": [{"area_share": 1.0, "road_deg": 45.0, "level": 0}],
    }
    return {**result, **overrides}


def make_measurement(session: Session, app: FastAPI, face: Face | None = None, **overrides: Any) -> Measurement:
    """Make a measured photo of `face`; what is left over in `overrides` goes into the result."""
    face = face or make_face(session)
    rendered = overrides.pop("is_rendered", False)
    photo = make_photo(
        session, face, app, data=located_jpeg(), width_px=640, height_px=480, file_name="FILENAME-SECRET.jpg",
        is_rendered=rendered, note="NOTE-SECRET photo",
    )  # fmt: skip
    scale = keep(session, ScaleRecord(photo_id=photo.id, method="um_per_px", um_per_px=14.0, relative_sd=0.01))
    labels = np.zeros((240, 320), np.uint8)
    labels[40:200, 50:270] = 1
    labels[40:200, 50:110] = 2
    labels[40:50, 150:170] = 3
    buffer = io.BytesIO()
    Image.fromarray(labels).save(buffer, "PNG")
    record = Measurement(
        photo_id=photo.id, scale_id=scale.id, given={"um_per_px": 14.0}, result=result_of(**overrides),
        labels_sha256=app.state.store.put(buffer.getvalue()), px_per_pixel=2.0, program_version="test",
    )  # fmt: skip
    return keep(session, record)


def make_answer(session: Session, failure: Failure, code: str, answer: str = "yes", **overrides: Any) -> Observation:
    """Make an answer to one question of the list."""
    values = {"failure_id": failure.id, "code": code, "answer": answer, "seen_by": "A. Looker"}
    return keep(session, Observation(**{**values, **overrides}))
