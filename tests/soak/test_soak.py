"""Measurings in a row while the worker is killed again and again. Only by `make soak`; Linux, since it reads /proc."""

import os
import signal
import sys
import time
from pathlib import Path

import httpx
import pytest

from tests.browser.serving import served

PHOTO = Path(__file__).resolve().parent.parent.parent / "server" / "demo" / "photos" / "stop.jpg"
JOBS, KILLS, LONGEST_SECONDS = 40, 16, 900
ENDED = {"done", "failed", "cancelled"}

pytestmark = [pytest.mark.soak, pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")]


def worker_pids(parent: int) -> list[int]:
    """Return the processes that the server started and that measure."""
    children = Path(f"/proc/{parent}/task/{parent}/children").read_text(encoding="utf-8").split()
    return [int(pid) for pid in children if b"spawn_main" in Path(f"/proc/{pid}/cmdline").read_bytes()]


def server_pid(data: Path) -> int:
    """Return the served process, found by the data folder in its environment."""
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            environment, command = (folder / "environ").read_bytes(), (folder / "cmdline").read_bytes()
        except OSError:
            continue
        if f"LAYERWITNESS_DATA={data}".encode() in environment and b"server.command" in command:
            return int(folder.name)
    raise LookupError("the server's process is not there")


def test_no_measuring_is_lost_or_done_twice_when_workers_die(tmp_path: Path) -> None:
    """Each job ends, all but those that met three deaths are done, and each has one measurement of its own."""
    with served(tmp_path) as address, httpx.Client(base_url=address, timeout=60) as client:
        order = {"um_per_px": "8", "line_width_mm": "0.48", "layer_height_mm": "0.2"}
        jobs = []
        for _ in range(JOBS):
            answer = client.post(
                "/api/measure", data=order, files={"photo": ("stop.jpg", PHOTO.read_bytes(), "image/jpeg")}
            )
            assert answer.status_code == 202
            jobs.append(answer.json()["id"])
        for _ in range(KILLS):
            time.sleep(2.5)
            for pid in worker_pids(server_pid(tmp_path)):
                os.kill(pid, signal.SIGKILL)
        states = wait_for_all(client, jobs)

    assert {state["state"] for state in states} <= {"done", "failed"}
    done = [state for state in states if state["state"] == "done"]
    assert len(done) >= JOBS - KILLS // 3
    assert len({state["measurement_id"] for state in done}) == len(done)


def wait_for_all(client: httpx.Client, jobs: list[int]) -> list[dict[str, object]]:
    """Return the jobs' last states."""
    until = time.monotonic() + LONGEST_SECONDS
    while True:
        states = [client.get(f"/api/jobs/{job}").json() for job in jobs]
        if all(state["state"] in ENDED for state in states):
            return states
        assert time.monotonic() < until, [state["state"] for state in states]
        time.sleep(0.5)
