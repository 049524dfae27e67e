"""The queue: one holder at a time, a lost lease is taken up, and whoever lost it can't speak any more."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine
from sqlmodel import Session, select

from server.measuring import jobs
from server.records import Job, Measurement, Photo
from server.records.base import now
from tests.server.builders import make_photo
from tests.server.conftest import Client
from tests.server.photo_builders import make_scale


@pytest.fixture
def engine(app: FastAPI) -> Engine:
    return app.state.engine  # type: ignore[no-any-return]


@pytest.fixture
def photo(session: Session) -> Photo:
    return make_photo(session)


def let_run_out(session: Session, job: Job) -> None:
    """Age the job's lease."""
    row = session.get(Job, job.id)
    assert row
    row.lease_until = now() - timedelta(seconds=5)
    session.add(row)
    session.commit()


def state_of(session: Session, job: Job) -> str:
    session.expire_all()
    row = session.get(Job, job.id)
    assert row
    return row.state


class TestClaim:
    def test_oldest_first(self, session: Session, engine: Engine, photo: Photo) -> None:
        """Jobs are taken in the order they came, each once; an empty queue gives None."""
        first, second = (jobs.enqueue(session, photo.id or 0, {}) for _ in range(2))
        taken = [jobs.claim(engine, 60) for _ in range(3)]
        assert [job.id if job else None for job in taken] == [first.id, second.id, None]

    def test_many_claimers(self, session: Session, engine: Engine, photo: Photo) -> None:
        """Of many workers that ask at once, no two get the same job."""
        for _ in range(12):
            jobs.enqueue(session, photo.id or 0, {})
        with ThreadPoolExecutor(6) as pool:
            taken = list(pool.map(lambda _: jobs.claim(engine, 60), range(18)))
        keys = [job.id for job in taken if job]
        assert len(keys) == len(set(keys)) == 12

    def test_lease_holds(self, session: Session, engine: Engine, photo: Photo) -> None:
        """A job whose lease runs isn't given away; once it has run out, it is, as another attempt."""
        jobs.enqueue(session, photo.id or 0, {})
        first = jobs.claim(engine, 60)
        assert first
        assert jobs.claim(engine, 60) is None
        let_run_out(session, first)
        second = jobs.claim(engine, 60)
        assert second
        assert (second.id, second.attempt) == (first.id, 2)

    def test_gives_up(self, session: Session, engine: Engine, photo: Photo) -> None:
        """A job that has lost its worker three times is failed with words, and the next one is taken."""
        bad, good = (jobs.enqueue(session, photo.id or 0, {}) for _ in range(2))
        for _ in range(jobs.MOST_ATTEMPTS):
            job = jobs.claim(engine, 60)
            assert job
            assert job.id == bad.id
            let_run_out(session, job)
        following = jobs.claim(engine, 60)
        assert following
        assert following.id == good.id
        assert state_of(session, bad) == "failed"

    def test_release(self, session: Session, engine: Engine, photo: Photo) -> None:
        """A job given back by the supervisor is free at once."""
        jobs.enqueue(session, photo.id or 0, {})
        job = jobs.claim(engine, 3600)
        assert job
        jobs.release(engine, job.id or 0, job.attempt)
        assert jobs.claim(engine, 60)


class TestHolder:
    def test_beat_tells(self, session: Session, engine: Engine, photo: Photo) -> None:
        """The holder's heartbeat shows stage and share, and prolongs the lease."""
        jobs.enqueue(session, photo.id or 0, {})
        job = jobs.claim(engine, 1)
        assert job
        jobs.beat(engine, job, 600, "walls", 0.4)
        row = session.get(Job, job.id)
        assert row
        assert (row.stage, row.share_done) == ("walls", 0.4)
        assert row.lease_until
        assert row.lease_until > now() + timedelta(seconds=300)

    def test_old_holder_is_mute(self, session: Session, engine: Engine, photo: Photo) -> None:
        """A worker that lost its job can neither report, fail nor finish; no second measurement comes of it."""
        jobs.enqueue(session, photo.id or 0, {})
        old = jobs.claim(engine, 60)
        assert old
        let_run_out(session, old)
        new = jobs.claim(engine, 60)
        assert new
        scale = make_scale(session, photo)
        found = Measurement(photo_id=photo.id or 0, scale_id=scale.id or 0)
        for speak in (
            lambda: jobs.beat(engine, old, 60, "late", 0.9),
            lambda: jobs.fail(engine, old, "late"),
            lambda: jobs.finish(engine, old, found),
        ):
            with pytest.raises(jobs.JobGone):
                speak()
        assert not session.exec(select(Measurement)).all()
        jobs.finish(engine, new, Measurement(photo_id=photo.id or 0, scale_id=scale.id or 0))
        assert state_of(session, new) == "done"
        assert len(session.exec(select(Measurement)).all()) == 1


class TestCancel:
    def test_waiting(self, client: Client, session: Session, engine: Engine, photo: Photo) -> None:
        """A waiting job that is cancelled is never taken, and its page says so."""
        job = jobs.enqueue(session, photo.id or 0, {})
        assert client.post(f"/jobs/{job.id}/cancel").status_code == 303
        assert jobs.claim(engine, 60) is None
        assert "was cancelled" in client.get(f"/jobs/{job.id}").text

    def test_running(self, client: Client, session: Session, engine: Engine, photo: Photo) -> None:
        """A running one hears of it at its next heartbeat."""
        jobs.enqueue(session, photo.id or 0, {})
        job = jobs.claim(engine, 60)
        assert job
        client.post(f"/jobs/{job.id}/cancel")
        with pytest.raises(jobs.JobGone):
            jobs.beat(engine, job, 60, "walls", 0.5)

    def test_too_late(self, client: Client, session: Session, engine: Engine, photo: Photo) -> None:
        """A job that has ended stays what it is."""
        jobs.enqueue(session, photo.id or 0, {})
        job = jobs.claim(engine, 60)
        assert job
        jobs.fail(engine, job, "the face is too small")
        client.post(f"/jobs/{job.id}/cancel")
        assert state_of(session, job) == "failed"


class TestPage:
    def test_progress(self, client: Client, session: Session, engine: Engine, photo: Photo) -> None:
        """A watching page gets stage and share as JSON, uncached; without a script the page asks again by itself."""
        jobs.enqueue(session, photo.id or 0, {})
        job = jobs.claim(engine, 60)
        assert job
        jobs.beat(engine, job, 60, "walls", 0.4)
        answer = client.get(f"/jobs/{job.id}", headers={"Accept": "application/json"})
        assert answer.headers["cache-control"] == "no-store"
        news = answer.json()
        assert (news["words"], news["share_done"], news["go"]) == ("walls", 0.4, None)
        page = client.get(f"/jobs/{job.id}").text
        assert '<noscript><meta http-equiv="refresh"' in page
        assert 'value="0.4"' in page

    def test_failed(self, client: Client, session: Session, engine: Engine, photo: Photo) -> None:
        """A failed job shows its reason and the way back to preparing."""
        jobs.enqueue(session, photo.id or 0, {})
        job = jobs.claim(engine, 60)
        assert job
        jobs.fail(engine, job, "The <face> is too small.")
        page = client.get(f"/jobs/{job.id}").text
        assert "The &lt;face&gt; is too small." in page
        assert f"/photos/{photo.id}/prepare" in page
