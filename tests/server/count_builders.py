"""A face with its outline, and a count by hand as a browser without a script would make it."""

from typing import Any

import numpy as np
from fastapi import FastAPI
from PIL import Image
from skimage import measure
from sqlmodel import Session

from server.records import OutlineRecord, Photo, PointCount, PointCountDraft
from tests.server.builders import keep
from tests.server.photo_builders import FACES, face_inputs, make_real_photo, make_scale


def make_outline(session: Session, photo: Photo, **overrides: Any) -> OutlineRecord:
    """Give the photo an outline over its middle, with a hole."""
    width, height = photo.width_px, photo.height_px
    outer = [
        [0.1 * width, 0.1 * height],
        [0.9 * width, 0.1 * height],
        [0.9 * width, 0.9 * height],
        [0.1 * width, 0.9 * height],
    ]
    hole = [
        [0.4 * width, 0.4 * height],
        [0.6 * width, 0.4 * height],
        [0.6 * width, 0.6 * height],
        [0.4 * width, 0.6 * height],
    ]
    values = {"photo_id": photo.id, "method": "drawn", "outer_px": outer, "holes_px": [hole]}
    return keep(session, OutlineRecord(**{**values, **overrides}))


def make_face_to_count(session: Session, app: FastAPI, name: str = "face_32") -> Photo:
    """Keep a practice face with its scale and its true outline."""
    photo = make_real_photo(session, app, name)
    make_scale(session, photo, face_inputs(name)["um_per_px"])
    with Image.open(FACES / name / "masks" / "face.png") as image:
        mask = np.pad(np.asarray(image.convert("L")) > 0, 1)
    rings = sorted(measure.find_contours(mask.astype(float), 0.5), key=len)[::-1]
    simple = [measure.approximate_polygon(ring, 1.0)[:-1, ::-1] - 1 for ring in rings if len(ring) > 60]
    outer, *holes = [np.round(ring, 1).tolist() for ring in simple]
    make_outline(session, photo, outer_px=outer, holes_px=holes)
    return photo


def judged_all(draft: PointCountDraft, code: str = "b", **others: str) -> dict[str, str]:
    """Return what a form sends that gives every point `code`, but for those named, such as p3="e"."""
    return {f"p{number}": code for number in range(len(draft.codes))} | others


def make_count(session: Session, photo: Photo, codes: list[str], field_of: list[int], **overrides: Any) -> PointCount:
    """Keep a finished count of these codes, its points along the photo's diagonal."""
    from analysis.measures.facecount import face_count, result_of, tally

    step = np.linspace(0.2, 0.35, len(codes))
    places = [[photo.width_px * at, photo.height_px * at] for at in step.tolist()]
    values = {
        "photo_id": photo.id, "seed": 1, "field_count": max(field_of) + 1, "points_per_field": 4,
        "layout": "throws", "spacing_px": 5.0,
        "outline": {"outer_px": [[1, 1], [60, 1], [60, 40]], "holes_px": []}, "places_px": places,
        "field_of": field_of, "codes": codes, "result": result_of(face_count(tally(codes, field_of))),
    }  # fmt: skip
    return keep(session, PointCount(**{**values, **overrides}))
