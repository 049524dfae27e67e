"""The page of a face: its photos, the mate beside it, the next step."""

from typing import Any

from fastapi import FastAPI
from sqlmodel import Session

from server.measuring import jobs
from tests.server.builders import make_face, make_fragment, make_part, make_photo
from tests.server.conftest import Client
from tests.server.photo_builders import make_measurement, make_scale


def test_not_there(client: Client) -> None:
    """A face that isn't there is not found, in words; so is a number that no record can have."""
    for key in ("1", "99999999999999999999999", "x"):
        answer = client.get(f"/faces/{key}")
        assert answer.status_code == 404
        assert "Traceback" not in answer.text


def test_mate_mirrored(client: Client, session: Session, app: FastAPI) -> None:
    """Both photos stand side by side, the mate's mirrored and called so, from whichever face one looks."""
    face = make_face(session, name="1a")
    mate = make_face(session, name="2a", mate_face_id=face.id)
    make_photo(session, face, app)
    make_photo(session, mate, app, file_name="mate.jpg")
    for one, other in ((face, mate), (mate, face)):
        page = client.get(f"/faces/{one.id}").text
        assert page.count('class="mirrored"') == 1
        assert f"Photo of {other.name}, mirrored left to right" in page


def test_next_step(client: Client, session: Session, app: FastAPI) -> None:
    """The page always says what comes next: photos, preparing, waiting, findings."""
    face = make_face(session)
    assert "Add photos of this face" in client.get(f"/faces/{face.id}").text
    photo = make_photo(session, face, app)
    assert f'class="button" href="/photos/{photo.id}/prepare"' in client.get(f"/faces/{face.id}").text
    job = jobs.enqueue(session, photo.id or 0, {})
    assert f'class="button" href="/jobs/{job.id}"' in client.get(f"/faces/{face.id}").text
    jobs.cancel(session, job)
    found = make_measurement(session, app, photo)
    assert f'class="button" href="/measurements/{found.id}"' in client.get(f"/faces/{face.id}").text


def test_failed_job(client: Client, session: Session, app: FastAPI) -> None:
    """A photo that could not be measured says why on the page of its face."""
    photo = make_photo(session, make_face(session), app)
    jobs.enqueue(session, photo.id or 0, {})
    job = jobs.claim(app.state.engine, 60)
    assert job
    jobs.fail(app.state.engine, job, "Nothing stands out. Draw the outline.")
    assert "Nothing stands out." in client.get(f"/faces/{photo.face_id}").text


def test_queries_do_not_grow(client: Client, session: Session, app: FastAPI, count_queries: Any) -> None:
    """A face with eight photos takes as many queries as one with two."""
    counts = []
    for many in (2, 8):
        face = make_face(session, make_fragment(session))
        for _ in range(many):
            make_scale(session, make_photo(session, face, app))
        path = f"/faces/{face.id}"
        counts.append(count_queries(lambda path=path: client.get(path)))
    assert counts[0] == counts[1]


def test_text_is_text(client: Client, session: Session) -> None:
    """Names from outside are shown, never run."""
    make_part(session, name="<script>x</script>")
    face = make_face(session, name="<img src=x onerror=alert(1)>")
    page = client.get(f"/faces/{face.id}").text
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page
