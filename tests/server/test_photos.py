"""Uploading photos, and the pictures made from them."""

import hashlib
import io
import shutil
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest
from fastapi import FastAPI
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from sqlmodel import Session, select

from server.photos.keeping import plain_name
from server.records import Photo, Treatment
from tests.server.builders import keep, make_face
from tests.server.conftest import Client
from tests.server.photo_builders import MAKER, encoded


def upload(client: Client, face_id: int | None, *files: tuple[str, bytes], **fields: Any) -> Any:
    sent = [("photos", (name, data, "image/jpeg")) for name, data in files]
    return client.post(f"/faces/{face_id}/photos", {"taken": "as_found", **fields}, files=sent)


class TestUpload:
    def test_several(self, client: Client, session: Session) -> None:
        """Several photos of different kinds are kept at once, and the page of the face shows them."""
        face = make_face(session)
        kinds = {"a.jpg": "JPEG", "b.png": "PNG", "c.webp": "WEBP", "d.tif": "TIFF"}
        answer = upload(client, face.id, *((name, encoded(kind)) for name, kind in kinds.items()))
        assert answer.status_code == 303
        photos = session.exec(select(Photo)).all()
        assert [photo.file_name for photo in photos] == list(kinds)
        page = client.get(f"/faces/{face.id}").text
        assert all(name in page for name in kinds)

    def test_sixteen_bits(self, client: Client, session: Session) -> None:
        """A TIFF of 16 bits a channel is kept and can be seen."""
        file = io.BytesIO()
        Image.fromarray(np.linspace(0, 65535, 2400).reshape(40, 60).astype(np.uint16)).save(file, "TIFF")
        upload(client, make_face(session).id, ("deep.tif", file.getvalue()))
        view = Image.open(io.BytesIO(client.get("/photos/1/view.jpg").content))
        assert view.size == (60, 40)

    def test_bytes_are_kept(self, client: Client, session: Session, app: FastAPI) -> None:
        """The original is kept byte for byte under its SHA-256, and comes back so."""
        data = encoded()
        upload(client, make_face(session).id, ("a.jpg", data))
        photo = session.exec(select(Photo)).one()
        assert photo.sha256 == hashlib.sha256(data).hexdigest()
        assert app.state.store.path(photo.sha256).read_bytes() == data
        answer = client.get(f"/photos/{photo.id}/original")
        assert answer.content == data
        assert answer.headers["content-disposition"].startswith("attachment")

    @pytest.mark.parametrize(
        ("name", "data", "words"),
        [
            ("text.jpg", b"no photo at all", "text"),
            ("cut.jpg", encoded(width=900, height=600)[:2500], "cut short"),
            ("empty.jpg", b"", "empty"),
            ("drawing.svg", b"<svg xmlns='http://www.w3.org/2000/svg'/>", "SVG"),
        ],
    )
    def test_refused_by_name(
        self, client: Client, session: Session, app: FastAPI, name: str, data: bytes, words: str
    ) -> None:
        """What is no photo is named with its reason, nothing of it is stored, and the others are kept."""
        files = [("good.jpg", encoded()), (name, data), ("fine.png", encoded("PNG"))]
        answer = upload(client, make_face(session).id, *files)
        assert answer.status_code == 422
        assert name in answer.text
        assert words in answer.text
        assert [photo.file_name for photo in session.exec(select(Photo))] == ["good.jpg", "fine.png"]
        assert len([file for file in app.state.store.folder.rglob("*") if file.is_file()]) == 2

    def test_too_large(self, client: Client, session: Session, app: FastAPI) -> None:
        """A file over the limit is refused by name with both sizes, unread, and nothing of it is stored."""
        app.state.settings = replace(app.state.settings, photo_max_bytes=2_000_000)
        answer = upload(client, make_face(session).id, ("huge.jpg", bytes(5_000_000)), ("good.jpg", encoded()))
        assert answer.status_code == 422
        assert "huge.jpg" in answer.text
        assert "5 MB; at most 2 MB" in answer.text
        assert [photo.file_name for photo in session.exec(select(Photo))] == ["good.jpg"]

    def test_too_many_pixels(self, client: Client, session: Session, app: FastAPI) -> None:
        """A small file that would unpack to more pixels than the limit is refused before it is unpacked."""
        app.state.settings = replace(app.state.settings, photo_max_pixels=1_000_000)
        file = io.BytesIO()
        Image.new("L", (4000, 4000)).save(file, "PNG")
        answer = upload(client, make_face(session).id, ("bomb.png", file.getvalue()))
        assert "bomb.png" in answer.text
        assert "million pixels" in answer.text

    def test_twice(self, client: Client, session: Session) -> None:
        """The same photo twice on one face is said and not doubled; on another face it is a photo of its own."""
        face, other = make_face(session), make_face(session)
        upload(client, face.id, ("a.jpg", encoded()))
        answer = upload(client, face.id, ("copy of a.jpg", encoded()))
        assert answer.status_code == 200
        assert "not added a second time" in answer.text
        assert upload(client, other.id, ("a.jpg", encoded())).status_code == 303
        assert len(session.exec(select(Photo)).all()) == 2

    def test_nothing_chosen(self, client: Client, session: Session) -> None:
        """Sending the form without a file says so."""
        answer = client.post(f"/faces/{make_face(session).id}/photos", {"taken": "as_found"})
        assert answer.status_code == 422
        assert "No photo was chosen" in answer.text

    def test_after_cleaning(self, client: Client, session: Session) -> None:
        """A photo can be one taken after a logged treatment; a treatment of another piece is refused."""
        face = make_face(session)
        step, other = (
            keep(session, Treatment(fragment_id=key, method="dry_brush", done_on=date(2026, 3, 2)))
            for key in (face.fragment_id, make_face(session).fragment_id)
        )
        assert upload(client, face.id, ("b.jpg", encoded()), taken=f"after-{other.id}").status_code == 422
        upload(client, face.id, ("a.jpg", encoded()), taken=f"after-{step.id}")
        photo = session.exec(select(Photo)).one()
        assert (photo.stage, photo.treatment_id) == ("after_treatment", step.id)
        page = client.get(f"/faces/{face.id}").text
        assert "after: dry brush" in page
        assert "no photo of this face as found" in page

    def test_script_in_name(self, client: Client, session: Session) -> None:
        """A file's name is shown as text, never run."""
        face = make_face(session)
        upload(client, face.id, ("<script>alert(1)</script>.jpg", encoded()))
        page = client.get(f"/faces/{face.id}").text
        assert "<script>alert" not in page
        assert "script&gt;.jpg" in page

    def test_rendered(self, client: Client, session: Session) -> None:
        """A computed picture is called rendered and invented on the page of its face and where it is prepared."""
        face = make_face(session)
        upload(client, face.id, ("a.jpg", encoded()), is_rendered="y")
        assert "rendered, invented" in client.get(f"/faces/{face.id}").text
        assert "rendered, invented" in client.get("/photos/1/prepare").text


class TestPlainName:
    @given(st.text(max_size=400))
    def test_any_name(self, sent: str) -> None:
        """Whatever a browser sends becomes a name of 1 to 200 printable signs without folders."""
        name = plain_name(sent)
        assert 1 <= len(name) <= 200
        assert name.isprintable()
        assert "/" not in name
        assert "\\" not in name

    def test_whole_path(self) -> None:
        """Only the last part of a path is kept, whichever system wrote it."""
        assert plain_name(r"C:\photos\a.jpg") == plain_name("/photos/a.jpg") == "a.jpg"


class TestDerived:
    @pytest.mark.parametrize("address", ["thumb.jpg", "view.jpg", "view.jpg?side=4000"])
    def test_no_metadata(self, client: Client, session: Session, address: str) -> None:
        """Nothing that the camera wrote into the photo is in any picture made from it."""
        data = encoded(orientation=6)
        assert MAKER.encode() in data
        upload(client, make_face(session).id, ("a.jpg", data))
        answer = client.get(f"/photos/1/{address}")
        assert MAKER.encode() not in answer.content
        assert b"Exif" not in answer.content
        assert not Image.open(io.BytesIO(answer.content)).getexif()

    def test_upright(self, client: Client, session: Session) -> None:
        """A photo taken with the camera turned is shown upright and has its upright size in the record.

        Orientation 6: row 0 of the stored picture is the right-hand side (CIPA DC-008, tag 0x0112).
        """
        upload(client, make_face(session).id, ("a.jpg", encoded(orientation=6)))
        photo = session.exec(select(Photo)).one()
        assert (photo.width_px, photo.height_px) == (60, 90)
        shown = np.asarray(Image.open(io.BytesIO(client.get("/photos/1/view.jpg").content)).convert("L"))
        assert shown.shape == (90, 60)
        # Stored dark on the left becomes dark on top.
        assert shown[:40].mean() < 60 < 180 < shown[50:].mean()

    def test_can_be_deleted(self, client: Client, session: Session, app: FastAPI) -> None:
        """Derived pictures may be deleted at any time; they come back the same."""
        upload(client, make_face(session).id, ("a.jpg", encoded(width=900, height=600)))
        before = client.get("/photos/1/thumb.jpg").content
        shutil.rmtree(app.state.settings.derived_folder)
        assert client.get("/photos/1/thumb.jpg").content == before
        assert max(Image.open(io.BytesIO(before)).size) == 320

    def test_few_sizes(self, client: Client, session: Session, app: FastAPI) -> None:
        """Asking for a hundred sizes makes a handful of files."""
        upload(client, make_face(session).id, ("a.jpg", encoded(width=900, height=600)))
        for side in range(1, 5000, 50):
            assert client.get(f"/photos/1/view.jpg?side={side}").status_code == 200
        assert len(list(app.state.settings.derived_folder.rglob("*.jpg"))) <= 5

    def test_tightened_limits(self, client: Client, session: Session, app: FastAPI) -> None:
        """A kept photo stays visible when the limits are made smaller afterwards."""
        upload(client, make_face(session).id, ("a.jpg", encoded(width=900, height=600)))
        app.state.settings = replace(app.state.settings, photo_max_pixels=1000, photo_max_bytes=100)
        assert client.get("/photos/1/view.jpg").status_code == 200

    def test_lost_original(self, client: Client, session: Session, app: FastAPI) -> None:
        """Where an original's file is gone, the page says which and what to do."""
        upload(client, make_face(session).id, ("a.jpg", encoded()))
        photo = session.exec(select(Photo)).one()
        app.state.store.path(photo.sha256).unlink()
        answer = client.get("/photos/1/view.jpg")
        assert answer.status_code == 500
        assert photo.sha256 in answer.text
        assert "Traceback" not in answer.text
