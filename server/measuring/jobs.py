"""The queue of measurings. Each job's row is the truth: whoever holds its lease works on it, a lost lease is taken up.

The attempt's number is the holder's token. A worker that was thought dead and comes back finds another number in the
row, and can neither report nor finish.
"""

from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from typing import Any

from sqlalchemy import Engine, or_, update
from sqlmodel import Session, col, select

from server.records import Job, Measurement
from server.records.base import now

MOST_ATTEMPTS = 3
LOST_WORDS = (
    "The measuring broke off three times without a word, most likely for lack of memory. "
    "Save the photo at half its size, set the scale anew, and try again."
)
ENDED = ("done", "failed", "cancelled")


JOINING = "joining_id"  # named by jobs that make one picture of several photos


def is_joining(job: Job) -> bool:
    """Whether the job makes one picture of several photos instead of measuring one."""
    return JOINING in job.given


class JobGone(Exception):
    """The job is no longer this worker's: it was cancelled, or another worker has it. No mistake."""


def enqueue(session: Session, photo_id: int, given: dict[str, Any]) -> Job:
    """Put a measuring into the queue."""
    job = Job(photo_id=photo_id, given=given)
    session.add(job)
    session.commit()
    return job


def claim(engine: Engine, lease_seconds: int) -> Job | None:
    """Take the oldest job that waits or whose lease has run out; None when there is none. Taken by one statement."""
    moment = now()
    free = or_(col(Job.state) == "waiting", (col(Job.state) == "running") & (col(Job.lease_until) < moment))
    oldest = select(Job.id).where(free).order_by(col(Job.id)).limit(1).scalar_subquery()
    taken = {
        "state": "running",
        "attempt": col(Job.attempt) + 1,
        "lease_until": moment + timedelta(seconds=lease_seconds),
    }
    with Session(engine, expire_on_commit=False) as session:
        # Asked first by reading alone: an idle worker must not hold up those who write.
        if session.exec(select(Job.id).where(free).limit(1)).first() is None:
            return None
        statement = update(Job).where(col(Job.id) == oldest).values(taken).returning(col(Job.id))
        key = session.execute(statement).scalar_one_or_none()
        session.commit()
        job = session.get(Job, key) if key else None
        if job and job.attempt > MOST_ATTEMPTS:
            with suppress(JobGone):
                fail(engine, job, LOST_WORDS)
            return claim(engine, lease_seconds)
        return job


def beat(engine: Engine, job: Job, lease_seconds: int, stage: str | None = None, share_done: float = 0.0) -> None:
    """Prolong the lease and tell how far the work is; raise `JobGone` when it was cancelled or given to another."""
    news: dict[str, Any] = {"lease_until": now() + timedelta(seconds=lease_seconds)}
    if stage is not None:
        news |= {"stage": stage, "share_done": share_done}
    with Session(engine) as session:
        _mine(session, job, news)
        session.commit()


def finish(engine: Engine, job: Job, measurement: Measurement) -> None:
    """Keep the measurement and end the job, both or neither."""

    def keep(session: Session) -> dict[str, Any]:
        session.add(measurement)
        session.flush()
        return {"measurement_id": measurement.id}

    finish_with(engine, job, keep)


def finish_with(engine: Engine, job: Job, keep: Callable[[Session], dict[str, Any]]) -> None:
    """Let `keep` store what was made and name what else the job's row is told, and end the job, both or neither."""
    with Session(engine) as session:
        news = {"state": "done", "share_done": 1.0, "ended_at": now(), **keep(session)}
        _mine(session, job, news)
        session.commit()


def fail(engine: Engine, job: Job, words: str) -> None:
    """End the job with the reason that the person will read."""
    with Session(engine) as session:
        _mine(session, job, {"state": "failed", "error": words, "ended_at": now()})
        session.commit()


def release(engine: Engine, job_id: int, attempt: int) -> None:
    """Give a job back whose worker is known to be dead, so that it needn't wait for its lease to run out."""
    with Session(engine) as session:
        held = update(Job).where(col(Job.id) == job_id, col(Job.attempt) == attempt, col(Job.state) == "running")
        session.execute(held.values(lease_until=now() - timedelta(seconds=1)))
        session.commit()


def cancel(session: Session, job: Job) -> bool:
    """Cancel a job that hasn't ended; say whether there was anything to cancel."""
    open_job = update(Job).where(col(Job.id) == job.id, col(Job.state).not_in(ENDED))
    count = session.execute(open_job.values(state="cancelled", ended_at=now())).rowcount  # type: ignore[attr-defined]
    session.commit()
    session.refresh(job)
    return bool(count)


def _mine(session: Session, job: Job, news: dict[str, Any]) -> None:
    held = update(Job).where(col(Job.id) == job.id, col(Job.attempt) == job.attempt, col(Job.state) == "running")
    if session.execute(held.values(news)).rowcount != 1:  # type: ignore[attr-defined]
        session.rollback()
        raise JobGone(f"job {job.id}")
