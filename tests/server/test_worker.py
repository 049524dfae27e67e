"""The measuring process itself: real photos, real processes, really killed."""

import os
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import replace

import pytest
from fastapi import FastAPI
from sqlmodel import Session, select

from server.measuring import worker
from server.measuring.worker import Supervisor
from server.records import Job, Measurement
from server.settings import Settings
from tests.server.builders import make_photo
from tests.server.conftest import Client
from tests.server.photo_builders import encoded, make_real_photo, make_scale, order_real

PATIENCE_SECONDS = 120


def wait_for(session: Session, job: Job, is_so: Callable[[Job], bool]) -> Job:
    """Return the job once `is_so` holds for it."""
    end = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < end:
        session.expire_all()
        row = session.get(Job, job.id)
        assert row
        if is_so(row):
            return row
        time.sleep(0.01)
    raise AssertionError(f"job {row.id} stays {row.state}, {row.stage}: {row.error}")


def has_ended(job: Job) -> bool:
    return job.state in {"done", "failed", "cancelled"}


@pytest.fixture
def supervisor(app: FastAPI) -> Iterator[Supervisor]:
    """A running worker. Leases of an hour: whatever is taken up again here is so because the death was noticed."""
    running = worker.start(replace(app.state.settings, job_lease_seconds=3600))
    yield running
    running.stop()


def test_measures(client: Client, session: Session, app: FastAPI, supervisor: Supervisor) -> None:
    """A practice face is measured: the result keeps to the contract, and its page, picture and strips can be seen."""
    photo = make_real_photo(session, app)
    job = wait_for(session, order_real(session, photo), has_ended)
    assert (job.state, job.error) == ("done", "")
    place = client.get(f"/jobs/{job.id}").headers["location"]
    found = session.exec(select(Measurement)).one()
    assert place == f"/measurements/{found.id}"
    assert found.program_version
    assert found.given["photo_sha256"] == photo.sha256
    assert found.strips
    page = client.get(place).text
    assert "rendered, invented" in page
    for part in ("layers/bonded.png", "strips/0.png?kind=classes", "strips/0.png", "overlay.jpg"):
        assert client.get(f"{place}/{part}").status_code == 200
    assert client.get(f"/api{place}").json()["surface"] == "fracture"


def test_killed_worker(session: Session, app: FastAPI, supervisor: Supervisor) -> None:
    """A worker killed in the middle of its work is replaced, and the job is measured by the next attempt."""
    job = order_real(session, make_real_photo(session, app))
    wait_for(session, job, lambda row: row.state == "running" and row.share_done > 0)
    killed = supervisor.pid
    assert killed
    os.kill(killed, signal.SIGKILL)
    done = wait_for(session, job, has_ended)
    assert (done.state, done.attempt) == ("done", 2)
    assert supervisor.pid != killed
    assert len(session.exec(select(Measurement)).all()) == 1


def test_restarted_server(session: Session, app: FastAPI, settings: Settings) -> None:
    """A job that was under way when the server stopped is taken up by the next one."""
    job = order_real(session, make_real_photo(session, app))
    first = worker.start(settings)
    wait_for(session, job, lambda row: row.state == "running" and row.share_done > 0)
    first.stop()
    session.expire_all()
    assert session.get(Job, job.id).state == "running"  # type: ignore[union-attr]
    second = worker.start(settings)
    try:
        done = wait_for(session, job, has_ended)
    finally:
        second.stop()
    assert (done.state, done.attempt) == ("done", 2)


def test_cancelled_and_refused(client: Client, session: Session, app: FastAPI, supervisor: Supervisor) -> None:
    """A job cancelled under way leaves no measurement; the worker goes on, and says of the next why it can't be."""
    job = order_real(session, make_real_photo(session, app))
    wait_for(session, job, lambda row: row.state == "running" and row.share_done > 0)
    client.post(f"/jobs/{job.id}/cancel")
    plain = make_photo(session, app=app, data=encoded(width=200, height=100), width_px=200, height_px=100)
    make_scale(session, plain)
    following = Job(photo_id=plain.id or 0, given=job.given | {"um_per_px": 10.0})
    session.add(following)
    session.commit()
    failed = wait_for(session, following, has_ended)
    assert failed.state == "failed"
    assert failed.error.endswith(".")
    assert "mistake in the program" not in failed.error
    assert session.get(Job, job.id).state == "cancelled"  # type: ignore[union-attr]
    assert not session.exec(select(Measurement)).all()


def test_mistake_in_words(session: Session, app: FastAPI, supervisor: Supervisor) -> None:
    """A job that trips over a mistake of the program fails with words and without a traceback."""
    job = Job(photo_id=make_photo(session, app=app).id or 0, given={"scale_id": 12345})
    session.add(job)
    session.commit()
    failed = wait_for(session, job, has_ended)
    assert failed.state == "failed"
    assert "mistake in the program" in failed.error
    assert "Traceback" not in failed.error
