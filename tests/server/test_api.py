"""The published interface: documented, strict, and clear about mistakes."""

from typing import Any

import pytest
from fastapi import FastAPI
from sqlmodel import Session, select

from server.records import Job, Measurement, OutlineRecord, Photo
from tests.server.builders import make_face, make_failure, make_fragment, make_part, make_photo, make_revision
from tests.server.conftest import Client
from tests.server.photo_builders import RESULT, encoded, make_measurement, make_scale

WISH = {"um_per_px": 10, "line_width_mm": 0.4, "layer_height_mm": 0.2}
SQUARE = [[100, 100], [900, 100], [900, 500], [100, 500]]


@pytest.fixture
def photo(session: Session, app: FastAPI) -> Photo:
    """A photo of 1000 by 600 px."""
    return make_photo(session, app=app, data=encoded(width=1000, height=600), width_px=1000, height_px=600)


class TestDescription:
    def test_documented(self, client: Client) -> None:
        """Every address under /api, and no other, is described with what it answers and how it refuses."""
        described = client.get("/api/openapi.json").json()
        assert all(path.startswith("/api/") for path in described["paths"])
        for path, methods in described["paths"].items():
            for entry in methods.values():
                good = [code for code in entry["responses"] if code.startswith("2")]
                schema = entry["responses"][good[0]]["content"]["application/json"]["schema"]
                assert schema, path
                assert entry["description"], path
        assert "202" in described["paths"]["/api/measure"]["post"]["responses"]

    def test_contract(self, client: Client) -> None:
        """The described measurement has every key of the command's output."""
        described = client.get("/api/openapi.json").json()["components"]["schemas"]["MeasurementOut"]
        assert set(described["properties"]) == set(RESULT)


class TestPhotos:
    def test_added(self, client: Client, session: Session) -> None:
        """Good photos are kept, others named with their reason, one that is there already is not doubled."""
        face = make_face(session)
        files = [("photos", (name, data)) for name, data in (("a.jpg", encoded()), ("b.jpg", b"text"))]
        answer = client.post(f"/api/faces/{face.id}/photos", files=files).json()
        assert [one["file_name"] for one in answer["kept"]] == ["a.jpg"]
        assert answer["refused"][0]["file_name"] == "b.jpg"
        again = client.post(f"/api/faces/{face.id}/photos", files=files[:1]).json()
        assert (again["kept"], len(again["already_there"])) == ([], 1)

    def test_none_good(self, client: Client, session: Session) -> None:
        """Where no file can be kept, the answer is 422 and names each."""
        files = [("photos", ("b.jpg", b"text"))]
        answer = client.post(f"/api/faces/{make_face(session).id}/photos", files=files)
        assert answer.status_code == 422
        assert "b.jpg" in answer.json()["detail"]


class TestOrder:
    def test_ordered(self, client: Client, session: Session, photo: Photo) -> None:
        """A measuring is taken on with 202 and a job that can be asked about."""
        answer = client.post(f"/api/photos/{photo.id}/measurements", json=WISH | {"outline_px": SQUARE})
        assert answer.status_code == 202
        job = answer.json()
        assert client.get(f"/api/jobs/{job['id']}").json() == job
        assert (job["state"], job["error"]) == ("waiting", None)
        assert session.exec(select(OutlineRecord)).one().outer_px[0] == [100.0, 100.0]

    def test_kept_scale(self, client: Client, session: Session, photo: Photo) -> None:
        """Without a scale of its own the order takes the photo's; without either it is refused."""
        wish = {"line_width_mm": 0.4, "layer_height_mm": 0.2}
        answer = client.post(f"/api/photos/{photo.id}/measurements", json=wish)
        assert answer.status_code == 422
        assert "Send um_per_px" in answer.json()["detail"]
        scale = make_scale(session, photo, 12.5)
        client.post(f"/api/photos/{photo.id}/measurements", json=wish)
        assert session.exec(select(Job)).one().given["scale_id"] == scale.id

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"um_per_px": 6000}, "m wide"),
            ({"um_per_px": 0}, "can't be 0"),
            ({"um_per_px": -3}, "can't be negative"),
            ({"um_per_px": "wide"}, "um_per_px"),
            ({"line_width_mm": 0.015}, "px wide"),
            ({"layer_height_mm": 0}, "layer height"),
            ({"outline_px": [SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]]}, "crosses itself"),
            ({"outline_px": [[0, 0], [5000, 0], [0, 300]]}, "leaves the photo"),
            ({"outline_px": [[0]]}, "corner"),
            ({"holes_px": [SQUARE]}, "outline"),
            ({"unknown": 1}, "unknown"),
            ({"mate_photo_id": 99}, "no such photo"),
        ],
    )
    def test_refused(self, client: Client, session: Session, photo: Photo, change: dict[str, Any], words: str) -> None:
        """What can't be is refused with 4xx and words that name it; nothing is queued."""
        answer = client.post(f"/api/photos/{photo.id}/measurements", json=WISH | change)
        assert 400 <= answer.status_code < 500
        assert words in answer.json()["detail"]
        assert not session.exec(select(Job)).all()

    def test_single_photo(self, client: Client, session: Session) -> None:
        """A photo can be measured without a record around it."""
        data = {key: str(value) for key, value in WISH.items()}
        files = {"photo": ("a.jpg", encoded(width=1000, height=600))}
        answer = client.post("/api/measure", data, files=files)
        assert answer.status_code == 202
        assert session.exec(select(Photo)).one().face_id is None

    def test_single_photo_refused(self, client: Client, session: Session) -> None:
        """A bad photo or a bad scale leaves neither photo nor job behind."""
        data = {key: str(value) for key, value in WISH.items()}
        for bad, file in ((data, b"text"), (data | {"um_per_px": "0"}, encoded(width=1000, height=600))):
            answer = client.post("/api/measure", bad, files={"photo": ("a.jpg", file)})
            assert answer.status_code == 422
            assert isinstance(answer.json()["detail"], str)
        assert not session.exec(select(Photo)).all()
        assert not session.exec(select(Job)).all()


class TestRead:
    def test_measurement(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """A measurement comes back as the contract's object, unchanged."""
        found = make_measurement(session, app, photo)
        assert client.get(f"/api/measurements/{found.id}").json() == RESULT

    def test_part_and_failure(self, client: Client, session: Session, app: FastAPI) -> None:
        """A part leads to its failures, a failure to its faces, photos and measurements."""
        part = make_part(session, name="Latch")
        failure = make_failure(session, revision=make_revision(session, part), case_label="LW-1")
        photo = make_photo(session, make_face(session, make_fragment(session, failure)), app)
        found = make_measurement(session, app, photo)
        assert [one["name"] for one in client.get("/api/parts").json()] == ["Latch"]
        assert client.get(f"/api/parts/{part.id}").json()["failure_ids"] == [failure.id]
        answer = client.get(f"/api/failures/{failure.id}").json()
        assert answer["faces"][0]["photos"][0]["measurement_ids"] == [found.id]
        assert answer["part_id"] == part.id

    @pytest.mark.parametrize("path", ["jobs/7", "measurements/7", "parts/7", "failures/7", f"jobs/{2**70}"])
    def test_not_there(self, client: Client, path: str) -> None:
        """What isn't there is 404 as JSON."""
        answer = client.get(f"/api/{path}")
        assert answer.status_code == 404
        assert answer.json()["detail"]

    def test_immutable(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """There is no way to alter or delete a measurement."""
        found = make_measurement(session, app, photo)
        for method in ("PUT", "PATCH", "DELETE", "POST"):
            assert client.request(method, f"/api/measurements/{found.id}").status_code == 405
        assert len(session.exec(select(Measurement)).all()) == 1
