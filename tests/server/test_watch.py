"""`layerwitness watch` as a process of its own, against a served application, over real connections."""

import io
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path

import httpx
import pytest
import uvicorn
from fastapi import FastAPI
from PIL import Image
from sqlmodel import Session, col, select

from server.records import Photo, Treatment
from tests.server.builders import keep, make_face, make_fragment

ROOT = Path(__file__).resolve().parents[2]
SECONDS = 60


@pytest.fixture
def served(app: FastAPI) -> Iterator[str]:
    """Serve the application on a real port."""
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="error", ws="none", lifespan="off"))
    thread = threading.Thread(target=server.run)
    thread.start()
    wait_for(lambda: server.started)
    yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    server.should_exit = True
    thread.join(SECONDS)


def wait_for(true: Callable[[], object]) -> None:
    until = time.monotonic() + SECONDS
    while not true():
        assert time.monotonic() < until, "it did not come about"
        time.sleep(0.05)


def picture(shade: int, kind: str = "PNG", side: int = 40) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (side, side), (shade, 90, 60)).save(file, kind)
    return file.getvalue()


class Watching:
    """A watch that runs, and what it has said so far."""

    def __init__(self, process: "subprocess.Popen[str]") -> None:
        self.process, self.lines = process, list[str]()
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout
        for line in self.process.stdout:
            self.lines.append(line)

    @property
    def said(self) -> str:
        return "".join(self.lines)

    def hears(self, words: str) -> None:
        wait_for(lambda: words in self.said or self.process.poll() is not None)
        assert words in self.said, self.said

    def end(self) -> int:
        """End it as Ctrl+C does, and return its status."""
        self.process.send_signal(signal.SIGINT)
        status = self.process.wait(SECONDS)
        self._reader.join(SECONDS)
        return status


def command(folder: Path, face: object, to: str, *more: str) -> list[str]:
    words = ["watch", str(folder), "--face", str(face), "--to", to, "--settle", "0.3", *more]
    return [sys.executable, "-m", "server.command", *words]


@contextmanager
def watching(folder: Path, face: object, to: str, *more: str) -> Iterator[Watching]:
    """Run a watch until the block ends."""
    process = subprocess.Popen(
        command(folder, face, to, *more), cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    watch = Watching(process)
    try:
        watch.hears("Watching ")
        yield watch
    finally:
        if process.poll() is None:
            process.kill()
            process.wait(SECONDS)
        watch._reader.join(SECONDS)
        assert process.stdout
        process.stdout.close()


def refused(folder: Path, face: object, to: str, *more: str) -> str:
    """Run a watch that can't begin and return what it says."""
    done = subprocess.run(
        command(folder, face, to, *more), cwd=ROOT, capture_output=True, text=True, timeout=SECONDS, check=False
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    return done.stderr


def photos(session: Session, face: object) -> list[Photo]:
    session.expire_all()
    return list(session.exec(select(Photo).where(Photo.face_id == face).order_by(col(Photo.id))).all())


class Wire:
    """A real connection between watch and server that can be cut: with requests under way, or before an answer."""

    def __init__(self, to: str) -> None:
        self.target = ("127.0.0.1", int(to.rsplit(":", 1)[1]))
        self.ends: list[socket.socket] = []
        self.is_whole, self.swallows_answers = True, False
        self.bytes_up, self.carries_up = 0, sys.maxsize
        self._door = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self._door.getsockname()[1]}"
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._door.accept()
            except OSError:
                return
            if not self.is_whole:
                near.close()
                continue
            far = socket.create_connection(self.target)
            self.ends += [near, far]
            for one, other, up in ((near, far, True), (far, near, False)):
                threading.Thread(target=self._carry, args=(one, other, up), daemon=True).start()

    def _carry(self, one: socket.socket, other: socket.socket, up: bool) -> None:
        try:
            while data := one.recv(4096):
                self.bytes_up += len(data) if up else 0
                if (not up and self.swallows_answers) or self.bytes_up > self.carries_up:
                    self.cut()
                    return
                other.sendall(data)
        except OSError:
            return
        finally:
            for end in (one, other):
                hang_up(end)

    def cut(self) -> None:
        self.is_whole = False
        for end in self.ends:
            hang_up(end)
        self.ends = []

    def mend(self) -> None:
        self.is_whole, self.swallows_answers, self.carries_up = True, False, sys.maxsize

    def close(self) -> None:
        self.cut()
        self._door.close()


def hang_up(end: socket.socket) -> None:
    with suppress(OSError):
        end.shutdown(socket.SHUT_RDWR)
    end.close()


@pytest.fixture
def wire(served: str) -> Iterator[Wire]:
    made = Wire(served)
    yield made
    made.close()


def test_each_new_picture_is_sent_once_and_the_rest_is_told(served: str, session: Session, tmp_path: Path) -> None:
    """What lay there before stays; new pictures go once; a copy, a text, a BMP and a torn file are told apart."""
    face = make_face(session).id
    (tmp_path / "old.png").write_bytes(picture(1))
    with watching(tmp_path, face, served) as watch:
        (tmp_path / "one.png").write_bytes(picture(10))
        (tmp_path / "two.jpg").write_bytes(picture(20, "JPEG"))
        watch.hears("one.png: kept")
        watch.hears("two.jpg: kept")
        (tmp_path / "copy.png").write_bytes(picture(10))
        watch.hears("copy.png: was there already")
        (tmp_path / "notes.txt").write_text("remember", encoding="utf-8")
        watch.hears("notes.txt: no picture")
        (tmp_path / "scope.bmp").write_bytes(picture(30, "BMP"))
        watch.hears("scope.bmp: no picture that can be kept, left alone; let the software save PNG or TIFF")
        (tmp_path / "torn.png").write_bytes(picture(40, side=400)[:300])
        watch.hears("torn.png: not kept: ")
        (tmp_path / "torn.png").write_bytes(picture(40, side=400))
        watch.hears("torn.png: kept")
        assert watch.end() == 0

    assert "Left alone: 1 picture that lies here already" in watch.said
    assert "Ended. Pictures sent: 3." in watch.said
    assert watch.said.count("notes.txt") == 1
    assert [photo.file_name for photo in photos(session, face)] == ["one.png", "two.jpg", "torn.png"]


def test_a_file_is_not_sent_while_it_is_being_written(served: str, session: Session, tmp_path: Path) -> None:
    """A picture that grows in steps for longer than the pause goes when whole, and is never refused on the way."""
    face, whole = make_face(session).id, picture(50, "BMP", 200)
    buffer = io.BytesIO()
    Image.open(io.BytesIO(whole)).save(buffer, "TIFF")
    data = buffer.getvalue()
    with watching(tmp_path, face, served, "--settle", "1.5") as watch, (tmp_path / "slow.tif").open("wb") as file:
        for step in range(8):
            file.write(data[step * len(data) // 8 : (step + 1) * len(data) // 8])
            file.flush()
            time.sleep(0.4)
        file.close()
        watch.hears("slow.tif: kept")
        assert watch.end() == 0

    assert "not kept" not in watch.said
    assert [photo.size_bytes for photo in photos(session, face)] == [len(data)]


def test_a_broken_connection_is_taken_up_again(wire: Wire, session: Session, tmp_path: Path) -> None:
    """Cut in the middle of an upload and for a while after: told once, then everything arrives, each once."""
    face = make_face(session).id
    with watching(tmp_path, face, wire.address) as watch:
        wire.carries_up = 500_000
        Image.effect_noise((1600, 1200), 90).save(tmp_path / "large.png")
        (tmp_path / "next.png").write_bytes(picture(60))
        watch.hears("Trying again until it answers")
        assert wire.bytes_up > 500_000
        assert photos(session, face) == []
        time.sleep(2.5)  # some of the new attempts fail as well
        wire.mend()
        watch.hears("The server answers again")
        watch.hears("large.png: kept")
        watch.hears("next.png: kept")
        assert watch.end() == 0

    assert watch.said.count("Trying again") == 1
    assert sorted(photo.file_name for photo in photos(session, face)) == ["large.png", "next.png"]


def test_an_answer_lost_on_the_way_makes_no_second_photo(wire: Wire, session: Session, tmp_path: Path) -> None:
    """The server kept the picture, but its answer never came: sent again, it is found there."""
    face = make_face(session).id
    with watching(tmp_path, face, wire.address) as watch:
        wire.swallows_answers = True
        (tmp_path / "one.png").write_bytes(picture(70))
        watch.hears("Trying again until it answers")
        wire.mend()
        watch.hears("one.png: was there already")
        assert watch.end() == 0

    assert len(photos(session, face)) == 1


def test_what_waited_when_it_ended_goes_at_the_next_start(wire: Wire, session: Session, tmp_path: Path) -> None:
    """Ended without a connection: the next start sends what waited, and still leaves the older pictures alone."""
    face = make_face(session).id
    (tmp_path / "old.png").write_bytes(picture(1))
    with watching(tmp_path, face, wire.address) as watch:
        wire.cut()
        (tmp_path / "one.png").write_bytes(picture(80))
        watch.hears("Trying again until it answers")
        assert watch.end() == 0
        assert "1 not sent yet; the next start sends them." in watch.said
    wire.mend()
    with watching(tmp_path, face, wire.address) as watch:
        watch.hears("one.png: kept")
        assert watch.end() == 0

    assert [photo.file_name for photo in photos(session, face)] == ["one.png"]
    assert not list(tmp_path.glob(".layerwitness-*"))


def test_all_sends_what_lies_there_and_after_says_when_it_was_taken(
    served: str, session: Session, tmp_path: Path
) -> None:
    """--all takes the older pictures too; --after notes the cleaning step with each."""
    piece = make_fragment(session)
    face = make_face(session, piece).id
    step = keep(session, Treatment(fragment_id=piece.id, method="dry_brush", done_on=date(2026, 3, 2))).id
    (tmp_path / "old.png").write_bytes(picture(1))
    with watching(tmp_path, face, served, "--all", "--after", str(step)) as watch:
        watch.hears("old.png: kept")
        assert watch.end() == 0

    assert [(photo.stage, photo.treatment_id) for photo in photos(session, face)] == [("after_treatment", step)]
    assert f"--after {step}" in httpx.get(f"{served}/faces/{face}/camera").text


def test_what_can_not_be_watched_is_one_clear_line(served: str, session: Session, tmp_path: Path) -> None:
    """Folder, address, face or step that aren't there, or another program: status 2 and one line that says it."""
    face = make_face(session).id
    with socket.create_server(("127.0.0.1", 0)) as taken:
        nobody = f"http://127.0.0.1:{taken.getsockname()[1]}"
    assert "is no folder" in refused(tmp_path / "missing", face, served)
    assert "Write it as http://" in refused(tmp_path, face, "bench-pc:8321")
    assert "Nothing answers at " + nobody in refused(tmp_path, face, nobody)
    assert "There is no face 99" in refused(tmp_path, 99, served)
    assert "is not Layerwitness" in refused(tmp_path, face, served + "/static")
    (tmp_path / "one.png").write_bytes(picture(90))
    assert "No cleaning step 7" in refused(tmp_path, face, served, "--all", "--after", "7")
    assert photos(session, face) == []
