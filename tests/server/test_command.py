"""The command line: what it answers, and with which status."""

import socket
import subprocess
import sys
from pathlib import Path

import pytest

from server.command import main

ROOT = Path(__file__).resolve().parent.parent.parent


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Name a data folder of this test's own."""
    monkeypatch.setenv("LAYERWITNESS_DATA", str(tmp_path / "data"))
    return tmp_path / "data"


def test_migrate_makes_the_record(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """After `migrate` the record is there, and a second run changes nothing."""
    assert main(["migrate"]) == 0
    before = (folder / "record.sqlite3").read_bytes()

    assert main(["migrate"]) == 0
    assert (folder / "record.sqlite3").read_bytes() == before
    assert str(folder) in capsys.readouterr().out


def test_a_setting_that_cannot_be_used_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Status 2 and the setting's name and value, no traceback."""
    monkeypatch.setenv("LAYERWITNESS_PORT", "eighty")

    assert main(["migrate"]) == 2
    assert "LAYERWITNESS_PORT='eighty'" in capsys.readouterr().err


def test_a_taken_port_is_said_before_anything_else_happens(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Status 2 and another port proposed; no record is made."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]

        assert main(["serve", "--port", str(port)]) == 2
    assert "--port" in capsys.readouterr().err
    assert not folder.exists()


def test_no_command_and_a_wrong_command_show_the_usage() -> None:
    """Status 2, as argparse has it."""
    for words in ([], ["repair"]):
        with pytest.raises(SystemExit) as ended:
            main(words)
        assert ended.value.code == 2


def test_measure_of_a_file_that_is_no_photo_is_one_line(tmp_path: Path) -> None:
    """Status 2 and one line on stderr, nothing on stdout."""
    text = tmp_path / "face.jpg"
    text.write_text("not a photo", encoding="utf-8")
    words = ["measure", str(text), "--um-per-px", "8", "--line-width", "0.4", "--layer-height", "0.2", "--json"]
    done = subprocess.run(
        [sys.executable, "-m", "server.command", *words], cwd=ROOT, capture_output=True, text=True, check=False
    )

    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.strip().splitlines()) == 1
