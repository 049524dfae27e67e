"""A real server in a process of its own, on a free port and a data folder of its own, and a real Chromium."""

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx
from playwright.sync_api import Browser, sync_playwright

ROOT = Path(__file__).resolve().parent.parent.parent
QUIET = [
    "--no-sandbox",  # as root Chromium starts in no other way
    "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--no-first-run",
]  # fmt: skip
SECONDS_TO_START = 300  # the demo measures eleven photos first, maybe on a machine busy with others


def chromium_path() -> str | None:
    """Return where Chromium is: what CHROMIUM says, else the system's own; None where there is none."""
    named = os.environ.get("CHROMIUM")
    found = (shutil.which(name) for name in ("chromium", "chromium-browser", "google-chrome"))
    return named or next((path for path in found if path), None)


@contextmanager
def chromium(path: str) -> Iterator[Browser]:
    """Start the browser and end it."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=QUIET)
        try:
            yield browser
        finally:
            browser.close()


@contextmanager
def served(data: Path, *options: str) -> Iterator[str]:
    """Serve the record in `data` and yield the address; what the server wrote is in `data`/server.log."""
    port = _free_port()
    address = f"http://127.0.0.1:{port}"
    environment = {**os.environ, "LAYERWITNESS_DATA": str(data), "PYTHONUNBUFFERED": "1"}
    command = [sys.executable, "-m", "server.command", "serve", "--port", str(port), *options]
    data.mkdir(parents=True, exist_ok=True)
    with (data / "server.log").open("wb") as log:
        process = subprocess.Popen(command, cwd=ROOT, env=environment, stdout=log, stderr=subprocess.STDOUT)
        try:
            _wait_for(address, process, data)
            yield address
        finally:
            process.terminate()
            process.wait(30)


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


def _wait_for(address: str, process: subprocess.Popen[bytes], data: Path) -> None:
    until = time.monotonic() + SECONDS_TO_START
    while time.monotonic() < until:
        try:
            httpx.get(address)
        except httpx.TransportError:
            if process.poll() is not None:
                break
            time.sleep(0.1)
        else:
            return
    raise RuntimeError(
        "the server did not start: " + (data / "server.log").read_text(encoding="utf-8", errors="replace")
    )
