"""The worker: one process beside the server that measures, and the supervisor that keeps one alive.

A process of its own, since measuring would hold up the pages, and a photo that exhausts the memory must not take the
server with it. It is spawned, not forked: the server has threads.
"""

import logging
import multiprocessing as mp
import os
import signal
import threading
import time
from contextlib import suppress
from typing import Any

from server.database import open_engine
from server.settings import Settings

log = logging.getLogger(__name__)
IDLE_SECONDS = 0.3
LONGEST_JOB_SECONDS = 900  # judgement: a measuring takes seconds; what takes longer hangs
RESTART_SECONDS = 0.5


class Supervisor:
    """Keeps one worker process alive; when it dies, its job is given back and another process is started."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._context = mp.get_context("spawn")
        # Job and attempt that the worker holds, 0 for none; shared memory, so that it can be read after a kill.
        self._holds = self._context.Array("q", 2, lock=False)
        self._stopping = threading.Event()
        self._process = self._spawn()
        self._thread = threading.Thread(target=self._watch, name="worker-supervisor", daemon=True)
        self._thread.start()

    @property
    def pid(self) -> int | None:
        """Process id of the present worker."""
        return int(self._process.pid or 0) or None

    def stop(self) -> None:
        """End the worker; a job in its hands is given back."""
        self._stopping.set()
        self._thread.join()
        self._process.terminate()
        self._process.join(10)
        if self._process.is_alive():
            self._process.kill()
            self._process.join()
        self._give_back()

    def _spawn(self) -> Any:
        process = self._context.Process(target=work, args=(self._settings, self._holds), name="worker", daemon=True)
        process.start()
        return process

    def _watch(self) -> None:
        while not self._stopping.is_set():
            self._process.join(IDLE_SECONDS)
            if self._process.is_alive() or self._stopping.is_set():
                continue
            log.warning("The measuring process ended with code %s; another is started.", self._process.exitcode)
            self._give_back()
            self._stopping.wait(RESTART_SECONDS)
            if not self._stopping.is_set():
                self._process = self._spawn()

    def _give_back(self) -> None:
        from server.measuring import jobs

        job_id, attempt = self._holds[0], self._holds[1]
        self._holds[0] = self._holds[1] = 0
        if job_id:
            engine = open_engine(self._settings.database_url)
            jobs.release(engine, job_id, attempt)
            engine.dispose()


def start(settings: Settings) -> Supervisor:
    """Start the worker process under a supervisor."""
    return Supervisor(settings)


def work(settings: Settings, holds: Any) -> None:
    """Work off the queue until the server is gone. Runs in the worker process."""
    # Ctrl-C reaches the whole process group; the server ends the worker itself.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from server.joining import working
    from server.measuring import examinations, jobs
    from server.store import Store

    engine = open_engine(settings.database_url)
    store = Store(settings.blob_folder)
    parent = mp.parent_process()
    while parent is None or parent.is_alive():
        job = jobs.claim(engine, settings.job_lease_seconds)
        if job is None:
            time.sleep(IDLE_SECONDS)
            continue
        holds[0], holds[1] = job.id, job.attempt
        run_job = working.run_job if jobs.is_joining(job) else examinations.run_job
        with Heartbeat(settings, job):
            run_job(engine, store, settings, job)
        holds[0] = holds[1] = 0


class Heartbeat:
    """Prolongs a job's lease from a thread of its own, since a stage may take longer than the lease."""

    def __init__(self, settings: Settings, job: Any) -> None:
        self._settings, self._job = settings, job
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._run, name="heartbeat", daemon=True)

    def __enter__(self) -> None:
        self._thread.start()

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _run(self) -> None:
        from server.measuring import jobs

        lease, began = self._settings.job_lease_seconds, time.monotonic()
        engine = open_engine(self._settings.database_url)
        while not self._over.wait(lease / 4):
            if time.monotonic() - began > LONGEST_JOB_SECONDS:
                log.error("Job %s hangs; the measuring process ends itself.", self._job.id)
                os._exit(70)
            # A cancelled job is noticed by the measuring itself at its next stage.
            with suppress(jobs.JobGone):
                jobs.beat(engine, self._job, lease)
        engine.dispose()
