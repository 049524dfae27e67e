"""Photos of the pieces as found: they belong to the failure and show on its case page."""

import io

from fastapi import FastAPI
from PIL import Image
from sqlmodel import Session, select

from server.records import Photo
from tests.server.builders import make_failure
from tests.server.conftest import Client


def jpeg(grey: int = 90) -> bytes:
    """A small photo."""
    held = io.BytesIO()
    Image.new("RGB", (40, 30), (grey, grey, grey)).save(held, "JPEG")
    return held.getvalue()


def test_kept_and_shown(client: Client, session: Session, app: FastAPI) -> None:
    """A photo of the pieces is kept with the failure, byte for byte, and stands in the account."""
    failure = make_failure(session)
    address = f"/failures/{failure.id}/photos"
    assert "No photos yet" in client.get(address).text
    answer = client.post(address, {"taken": "as_found"}, files={"photos": ("bench.jpg", jpeg(), "image/jpeg")})
    assert answer.status_code == 303
    photo = session.exec(select(Photo)).one()
    assert (photo.failure_id, photo.face_id, app.state.store.read(photo.sha256)) == (failure.id, None, jpeg())
    assert f"/photos/{photo.id}/thumb.jpg" in client.get(f"/failures/{failure.id}").text
    assert "bench.jpg" in client.get(address).text


def test_refused_by_name(client: Client, session: Session) -> None:
    """Of two files the good one is kept and the other refused by name; nothing chosen is said as well."""
    failure = make_failure(session)
    address = f"/failures/{failure.id}/photos"
    two = [("photos", ("good.jpg", jpeg(), "image/jpeg")), ("photos", ("bad.jpg", b"not a picture", "image/jpeg"))]
    answer = client.post(address, {"taken": "as_found"}, files=two)
    assert answer.status_code == 422
    assert "<strong>bad.jpg</strong>" in answer.text
    assert [photo.file_name for photo in session.exec(select(Photo))] == ["good.jpg"]
    assert "No photo was chosen." in client.post(address, {"taken": "as_found"}).text
