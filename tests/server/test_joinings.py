"""One picture made of several photos: ordered on the face's page, made by a job, shown, withdrawn, put back."""

import io
import re

import numpy as np
from fastapi import FastAPI
from PIL import Image
from skimage import data
from sqlmodel import Session, select

from server.joining import working
from server.measuring import jobs
from server.records import Face, Job, Joining, Photo, ScaleRecord
from tests.analysis.rendered_focus import series
from tests.server.builders import make_build, make_face, make_failure, make_fragment, make_photo
from tests.server.conftest import Client
from tests.server.photo_builders import make_scale

GRAVEL = data.gravel()


def png(grey: np.ndarray) -> bytes:
    file = io.BytesIO()
    Image.fromarray(np.repeat(grey[..., None], 3, 2) if grey.ndim == 2 else grey).save(file, "PNG")
    return file.getvalue()


def add(session: Session, app: FastAPI, face: Face, picture: np.ndarray, name: str, **more: object) -> Photo:
    size = {"width_px": picture.shape[1], "height_px": picture.shape[0], "media_type": "image/png"}
    return make_photo(session, face, app, data=png(picture), file_name=name, **size, **more)


def two_fields(session: Session, app: FastAPI, face: Face) -> list[Photo]:
    return [
        add(session, app, face, GRAVEL[:240, :240], "left.png"),
        add(session, app, face, GRAVEL[30:270, 130:370], "right.png"),
    ]


def order(client: Client, face: Face, photos: list[Photo], **fields: object) -> int:
    """Order a picture; return the status."""
    sent = {"photos": [str(photo.id) for photo in photos], "kind": "fields", **fields}
    return client.post(f"/faces/{face.id}/join", sent).status_code


def work(app: FastAPI, session: Session) -> Job:
    """Do what waits, as the worker process does."""
    job = jobs.claim(app.state.engine, 60)
    assert job
    assert jobs.is_joining(job)
    working.run_job(app.state.engine, app.state.store, app.state.settings, job)
    session.expire_all()
    return session.get_one(Job, job.id)


def test_two_fields_become_a_photo_of_the_face(client: Client, app: FastAPI, session: Session) -> None:
    """The picture is the union of the fields, has their scale, names its originals, and those are untouched."""
    face = make_face(session)
    photos = two_fields(session, app, face)
    before = [app.state.store.read(photo.sha256) for photo in photos]
    for photo in photos:
        make_scale(session, photo, 5.0, relative_sd=0.004)

    assert order(client, face, photos) == 303
    job = work(app, session)

    assert (job.state, job.error) == ("done", "")
    joining = session.exec(select(Joining)).one()
    picture = session.get_one(Photo, joining.photo_id)
    assert (picture.face_id, picture.width_px, picture.height_px) == (face.id, 370, 270)
    drawn = np.asarray(Image.open(io.BytesIO(app.state.store.read(picture.sha256))))
    assert np.abs(drawn[:240, :240, 0].astype(int) - GRAVEL[:240, :240]).mean() < 2
    scale = session.exec(select(ScaleRecord).where(ScaleRecord.photo_id == picture.id)).one()
    assert (scale.um_per_px, scale.relative_sd) == (5.0, 0.004)
    assert joining.photo_ids == [photo.id for photo in photos]
    x, y = joining.placements[1][2], joining.placements[1][3]
    assert np.hypot(x - 130, y - 30) < 0.1
    assert [app.state.store.read(session.get_one(Photo, n).sha256) for n in joining.photo_ids] == before

    page = client.get(f"/joined/{joining.id}").text
    assert "One picture of 2 fields" in page
    assert re.search(r"1 and 2</td><td class=\"num\">0\.\d\d px", page)
    assert "taken over from the photos" in page
    assert client.get(f"/jobs/{job.id}").headers["location"] == f"/joined/{joining.id}"
    assert client.get(f"/jobs/{job.id}", headers={"Accept": "application/json"}).json()["go"] == f"/joined/{joining.id}"
    layer = Image.open(io.BytesIO(client.get(f"/joined/{joining.id}/seams.png").content))
    assert layer.size == (370, 270)
    assert "made of 2 photos" in client.get(f"/faces/{face.id}").text
    assert client.get(f"/joined/{joining.id}/heights.png").status_code == 404


def test_a_withdrawn_picture_leaves_the_face_and_can_come_back(client: Client, app: FastAPI, session: Session) -> None:
    """Withdrawing asks why, deletes nothing, and can be undone."""
    face = make_face(session)
    order(client, face, two_fields(session, app, face))
    work(app, session)
    joining = session.exec(select(Joining)).one()
    address, key = f"/joined/{joining.id}", joining.photo_id

    assert client.post(f"{address}/withdraw", {"why": " "}).status_code == 422
    assert client.post(f"{address}/withdraw", {"why": "the piece had moved"}).status_code == 303
    session.expire_all()
    assert session.get_one(Photo, key).face_id is None
    assert "one picture of 2 fields.png" not in client.get(f"/faces/{face.id}").text
    assert "withdrawn: the piece had moved" in client.get(f"/faces/{face.id}/join").text
    assert "Put it back" in client.get(address).text
    assert client.get(f"/photos/{key}/original").status_code == 200

    assert client.post(f"{address}/put-back").status_code == 303
    session.expire_all()
    assert session.get_one(Photo, key).face_id == face.id
    assert session.get_one(Joining, joining.id).withdrawn_at is None


def test_photos_that_share_nothing_are_refused_by_name(client: Client, app: FastAPI, session: Session) -> None:
    """The job fails with words that name the photo; no picture is kept and the face's own measuring isn't shown as
    failed."""
    face = make_face(session)
    left = add(session, app, face, GRAVEL[:240, :240], "left.png")
    stranger = add(session, app, face, data.brick()[:240, :240], "stranger.png")

    order(client, face, [left, stranger])
    job = work(app, session)

    assert job.state == "failed"
    assert "stranger.png" in job.error
    assert len(session.exec(select(Photo)).all()) == 2
    page = client.get(f"/jobs/{job.id}").text
    assert "No picture was made" in page
    assert "Choose photos again" in page
    assert "stranger.png was recognised" not in client.get(f"/faces/{face.id}").text
    joining = session.exec(select(Joining)).one()
    assert "No picture was made yet" in client.get(f"/joined/{joining.id}").text


def test_what_cannot_go_together_is_said_before_anything_is_queued(
    client: Client, app: FastAPI, session: Session
) -> None:
    """One photo, scales that differ, photos before and after cleaning, photos of another face: 422, no job."""
    face, other = make_face(session), make_face(session, name="other")
    left, right = two_fields(session, app, face)
    cleaned = add(session, app, face, GRAVEL[200:400, :240], "cleaned.png", stage="after_treatment")
    foreign = add(session, app, other, GRAVEL[200:400, :240], "foreign.png")

    assert order(client, face, [left]) == 422
    assert order(client, face, [left, cleaned]) == 422
    assert order(client, face, [left, foreign]) == 422
    assert order(client, face, [left, right], kind="focus") == 422
    assert order(client, face, [left, right], kind="else") == 422
    make_scale(session, left, 5.0)
    make_scale(session, right, 6.0)
    answer = client.post(f"/faces/{face.id}/join", {"photos": [str(left.id), str(right.id)], "kind": "fields"})
    assert answer.status_code == 422
    assert "scales don&#39;t agree: 5 to 6 µm per px" in answer.text
    assert not session.exec(select(Job)).all()
    assert order(client, face, [left, right], um_per_px="5,5") == 303
    assert session.exec(select(Joining)).one().um_per_px == 5.5


def test_a_focus_series_gives_heights_in_mm_and_layers(client: Client, app: FastAPI, session: Session) -> None:
    """Planes two steps of 50 µm apart are told as one layer of the build's 0.1 mm, with the share that is known."""
    build = make_build(session, layer_height_mm=0.1)
    face = make_face(session, make_fragment(session, make_failure(session, build=build)))
    texture = GRAVEL[:180, :240]
    cols = np.indices(texture.shape)[1]
    slices, _ = series(texture, np.where(cols < 130, 2.5, 4.5), 7)
    photos = [add(session, app, face, one, f"{n}.png") for n, one in enumerate(slices)]
    make_scale(session, photos[0], 20.0)

    assert order(client, face, photos, kind="focus", step_um="50", order="highest") == 303
    job = work(app, session)

    assert (job.state, job.error) == ("done", "")
    joining = session.exec(select(Joining)).one()
    assert joining.facts["known_share"] > 0.9
    assert [level for level, _ in joining.facts["levels"]["shares"]] == [0, -1]
    assert joining.facts["levels"]["fit"] > 0.9
    page = client.get(f"/joined/{joining.id}").text
    assert "One sharp picture of 7 photos" in page
    assert "1 layer below" in page
    assert re.search(r"Known for 9\d %|Known for 100 %", page)
    assert Image.open(io.BytesIO(client.get(f"/joined/{joining.id}/heights.png").content)).size == (120, 90)


def test_a_cancelled_making_keeps_nothing(client: Client, app: FastAPI, session: Session) -> None:
    """Cancelled in the queue, it is never made; the photos can be measured meanwhile."""
    face = make_face(session)
    photos = two_fields(session, app, face)
    order(client, face, photos)
    job = session.exec(select(Job)).one()

    assert "photos is being measured" not in client.get(f"/faces/{face.id}").text
    client.post(f"/jobs/{job.id}/cancel")

    assert jobs.claim(app.state.engine, 60) is None
    assert "This was cancelled" in client.get(f"/jobs/{job.id}").text
    assert session.exec(select(Joining)).one().photo_id is None
