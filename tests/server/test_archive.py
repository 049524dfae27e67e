"""Everything in one file and back: the same record comes out, and nothing of a file that isn't right goes in."""

import csv
import hashlib
import io
import json
import shutil
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import Session

from server.app import create_app
from server.archive import layout
from server.archive.checking import ArchiveRefused, check
from server.archive.reading import import_archive
from server.archive.values import ValueWrong, as_cells, as_json, from_json
from server.archive.writing import ExportRefused, export
from server.command import main
from server.database import open_engine
from server.records import Attachment, BenchSetting, Measurement, Part, ScaleRecord
from server.settings import Settings
from server.store import Store
from tests.server.builders import keep, make_face, make_part, make_photo, photo_bytes
from tests.server.conftest import Client
from tests.server.world import make_world, row_counts

MOST = 1_000_000
LABELS = b"a map of labels"


@pytest.fixture
def filled(app: FastAPI, session: Session) -> FastAPI:
    """A record with one of each kind, photos, a file, a map, mates, odd texts."""
    keys = make_world(session, name='=cmd|" /C calc"!A0', function="größer, 大\nsecond line", note="-5 \U0001f600")
    face = make_face(session, name="1b")
    photo = make_photo(session, face, app, data=photo_bytes(colour=(1, 2, 3)))
    mate = make_face(session, name="1c", mate_face_id=face.id)
    face.mate_face_id = mate.id  # names a later row
    keep(session, face)
    sha256 = app.state.store.put(b"\x00model\xff")
    keep(session, Attachment(revision_id=keys["revision"], sha256=sha256, file_name="../../etc/x", size_bytes=7))
    labels = app.state.store.put(LABELS)
    strip = {"sha256": app.state.store.put(b"a strip"), "length_mm": 0.1}
    found = {"share": 1 / 3, "nothing": None, "half": "\ud800"}
    scale = {"scale_id": _scale(session, photo.id), "labels_sha256": labels, "strips": [strip], "result": found}
    keep(session, Measurement(photo_id=photo.id, **scale))
    keep(session, BenchSetting(name="prior", value=None))
    return app


def _scale(session: Session, photo_id: int | None) -> int | None:
    return keep(session, ScaleRecord(photo_id=photo_id, method="points", um_per_px=4.1, relative_sd=0.01)).id


@pytest.fixture
def archive(filled: FastAPI, tmp_path: Path) -> Path:
    file = tmp_path / "record.zip"
    export(filled.state.engine, filled.state.store, file)
    return file


class Empty:
    """A fresh record in a folder of its own."""

    def __init__(self, folder: Path, migrated: Path) -> None:
        folder.mkdir()
        shutil.copy(migrated, folder / "record.sqlite3")
        self.store = Store(folder / "originals")
        self.engine = open_engine(f"sqlite:///{folder / 'record.sqlite3'}")

    def take(self, file: Path) -> dict[str, int]:
        with file.open("rb") as opened:
            return import_archive(self.engine, self.store, opened, MOST)

    def untouched(self) -> bool:
        with Session(self.engine) as session:
            rows = row_counts(session)
        return not any(rows.values()) and not [one for one in self.store.folder.rglob("*") if one.is_file()]


@pytest.fixture
def empty(tmp_path: Path, migrated_record: Path) -> Any:
    made = Empty(tmp_path / "empty", migrated_record)
    yield made
    made.engine.dispose()


def contents(file: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(file) as opened:
        return {name: opened.read(name) for name in opened.namelist()}


class TestThereAndBack:
    def test_is_the_same_byte_for_byte(self, archive: Path, empty: Empty, tmp_path: Path) -> None:
        """An archive of what was imported differs in nothing but the time at which it was written."""
        empty.take(archive)
        export(empty.engine, empty.store, tmp_path / "again.zip")

        first, second = contents(archive), contents(tmp_path / "again.zip")
        told, again = (json.loads(one.pop("manifest.json")) for one in (first, second))
        assert told.pop("exported_at")
        assert again.pop("exported_at")
        assert (list(first), first, told) == (list(second), second, again)
        assert b"\x00model\xff" in first.values()
        assert LABELS in first.values()

    def test_the_pages_show_it(self, archive: Path, settings: Settings, tmp_path: Path, migrated_record: Path) -> None:
        """The imported record is served, searched, and its photo and file are there."""
        made = Empty(tmp_path / "other", migrated_record)
        made.take(archive)
        made.engine.dispose()
        served = create_app(replace(settings, data=tmp_path / "other"))
        browser = Client(served)

        assert "größer" in browser.get("/parts/1").text
        assert "cmd|" in browser.get("/parts?text=größer").text
        assert browser.get("/files/1").content == b"\x00model\xff"
        assert browser.get("/photos/1/original").content == photo_bytes(colour=(1, 2, 3))
        browser.close()
        served.state.engine.dispose()

    def test_a_lost_original_is_named_and_stays_lost(self, filled: FastAPI, empty: Empty, tmp_path: Path) -> None:
        """An original whose file is gone doesn't stop the archive, and is told in it."""
        store: Store = filled.state.store
        lost = next(
            path for path in store.folder.rglob("*") if path.is_file() and path.read_bytes() == b"\x00model\xff"
        )
        lost.unlink()

        manifest = export(filled.state.engine, store, tmp_path / "record.zip")

        assert manifest["missing_originals"] == [lost.name]
        assert empty.take(tmp_path / "record.zip")["attachment"] == 1

    def test_no_file_is_written_over(self, filled: FastAPI, tmp_path: Path) -> None:
        """A file that is there is left as it is."""
        (tmp_path / "record.zip").write_text("mine")

        with pytest.raises(ExportRefused, match="already"):
            export(filled.state.engine, filled.state.store, tmp_path / "record.zip")
        assert (tmp_path / "record.zip").read_text() == "mine"


class TestSheets:
    def test_no_cell_is_a_formula(self, archive: Path) -> None:
        """Texts that a spreadsheet would reckon with have an apostrophe; Python's csv reads the rest unchanged."""
        read = csv.DictReader(io.StringIO(contents(archive)["tables/part.csv"].decode("utf-8-sig"), newline=""))
        part = next(row for row in read if row["id"] == "1")

        assert part["name"] == '\'=cmd|" /C calc"!A0'
        assert part["note"].startswith("'-5")
        assert part["function"] == "größer, 大\nsecond line"

    @given(text=st.text(), sign=st.sampled_from(["", *"=+-@\t\r\n"]), number=st.floats(allow_nan=False))
    def test_whatever_is_written(self, text: str, sign: str, number: float) -> None:
        """No text's cell begins as a formula does, and a number stays one."""
        cells = as_cells({"text": sign + text, "number": number})

        assert not cells[0].startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
        assert cells[0].removeprefix("'") == (sign + text).removeprefix("'")
        assert float(cells[1]) == number


class TestValues:
    @given(
        name=st.text(),
        keys=st.integers(1, 2**63 - 1),
        on=st.booleans(),
        when=st.datetimes(timezones=st.just(UTC)),
    )
    def test_a_row_comes_back(self, name: str, keys: int, on: bool, when: Any) -> None:
        """Any row, written and read, is the same row."""
        row = Part(id=keys, name=name, is_demo=on, entered_at=when).model_dump()

        assert from_json(Part.__table__, json.loads(as_json(row))) == row  # type: ignore[attr-defined]

    @pytest.mark.parametrize(
        ("column", "value"),
        [
            ("id", "1"),
            ("id", 2**63),
            ("id", True),
            ("name", None),
            ("name", 5),
            ("is_demo", 1),
            ("entered_at", "2026-01-01"),
            ("entered_at", "soon"),
            ("customer_id", 1.0),
            ("other", 1),
        ],
    )
    def test_what_is_no_such_value_is_refused(self, column: str, value: Any) -> None:
        """A column takes what it holds and nothing that merely looks like it."""
        row = {**json.loads(as_json(Part(id=1, name="a").model_dump())), column: value}

        with pytest.raises(ValueWrong):
            from_json(Part.__table__, row)  # type: ignore[attr-defined]


def rewritten(source: Path, change: Callable[[dict[str, bytes]], None], honest: bool = True) -> Path:
    """Write the archive anew with its files changed; `honest` makes the manifest's hashes true again."""
    files = contents(source)
    change(files)
    if honest:
        manifest = json.loads(files["manifest.json"])
        named = [name for name in files if name != "manifest.json" and not name.startswith("originals/")]
        manifest["files"] = {name: hashlib.sha256(files[name]).hexdigest() for name in named}
        files["manifest.json"] = json.dumps(manifest).encode()
    target = source.with_name("changed.zip")
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as opened:
        for name, data in files.items():
            opened.writestr(name, data)
    return target


def put(name: str, data: bytes) -> Callable[[dict[str, bytes]], None]:
    return lambda files: files.update({name: data})


def swap(name: str, old: bytes, new: bytes) -> Callable[[dict[str, bytes]], None]:
    def change(files: dict[str, bytes]) -> None:
        assert old in files[name]
        files[name] = files[name].replace(old, new)

    return change


def drop(beginning: str) -> Callable[[dict[str, bytes]], None]:
    return lambda files: [files.pop(name) for name in list(files) if name.startswith(beginning)][:0] or None


def manifest_with(**values: Any) -> Callable[[dict[str, bytes]], None]:
    def change(files: dict[str, bytes]) -> None:
        files["manifest.json"] = json.dumps({**json.loads(files["manifest.json"]), **values}).encode()

    return change


DEEP = b"[\n" + b"[" * 200_000 + b"\n]\n"


class TestRefused:
    """What isn't an archive of this program, whole and unaltered, changes nothing."""

    @pytest.mark.parametrize(
        ("change", "why"),
        [
            (put("../../evil", b"x"), "no place"),
            (put("/etc/passwd", b"x"), "no place"),
            (put("originals/../x", b"x"), "no place"),
            (put("tables/part.json.bak", b"x"), "no place"),
            (put("originals/" + "0" * 64, b"x"), "don't agree"),
            (drop("originals/"), "don't agree"),
            (drop("tables/build.json"), "complete"),
            (drop("manifest.json"), "manifest"),
            (put("manifest.json", b"{"), "can't be read"),
            (put("manifest.json", b"[" * 200_000), "can't be read"),
            (manifest_with(format="other"), "something else"),
            (manifest_with(schema="0001"), "another version"),
            (manifest_with(version=2), "another version"),
            (manifest_with(originals=[]), "don't agree"),
            (manifest_with(files={}), "don't agree"),
            (manifest_with(rows={}), "manifest says otherwise"),
            (manifest_with(originals={"a": 1}), "not complete"),
            (swap("tables/part.json", b"second line", b"other line!"), "not what it was"),
        ],
    )  # fmt: skip
    def test_altered(self, archive: Path, empty: Empty, change: Any, why: str) -> None:
        """Path tricks, files too many or too few, and changed files are refused in words."""
        with pytest.raises(ArchiveRefused, match=why):
            empty.take(rewritten(archive, change, honest=False))
        assert empty.untouched()

    @pytest.mark.parametrize(
        ("change", "why"),
        [
            (swap("tables/part.json", b'"can_hurt": false', b'"can_hurt": 0'), "can_hurt"),
            (swap("tables/part.json", b'"note"', b'"notes"'), "other columns"),
            (swap("tables/part.json", b"[\n{", b"[\n"), "no row"),
            (swap("tables/part.json", b"\n]\n", b"\n"), "breaks off"),
            (put("tables/part.json", b"{}"), "begin"),
            (put("tables/part.json", DEEP), "no row"),
            (swap("tables/revision.json", b'"part_id": 1', b'"part_id": 99'), "isn't there"),
            (put("tables/failureentry.json", b"[\n\n]\n"), "no row"),
            (swap("tables/photo.json", b'"sha256": "', b'"sha256": "../'), "sha256"),
            (
                swap("tables/attachment.json", b'"sha256": "', b'"sha256": "' + b"1" * 64 + b'", "x": "'),
                "other columns",
            ),
        ],
    )
    def test_wrong_within(self, archive: Path, empty: Empty, change: Any, why: str) -> None:
        """Rows that aren't rows of this record are refused although every hash is right, with nothing half imported."""
        with pytest.raises(ArchiveRefused, match=why):
            empty.take(rewritten(archive, change))
        assert empty.untouched()

    def test_a_failure_without_account(self, archive: Path, empty: Empty) -> None:
        """A row that every page takes for granted has to be there."""

        def change(files: dict[str, bytes]) -> None:
            files["tables/failureentry.json"] = b"[\n]\n"
            manifest = json.loads(files["manifest.json"])
            manifest["rows"]["failureentry"] = 0
            files["manifest.json"] = json.dumps(manifest).encode()

        with pytest.raises(ArchiveRefused, match="no row of failureentry"):
            empty.take(rewritten(archive, change))
        assert empty.untouched()

    def test_a_bomb(self, archive: Path, empty: Empty) -> None:
        """What unpacks to a thousand times its size is refused unread."""
        with pytest.raises(ArchiveRefused, match="times its size"):
            empty.take(rewritten(archive, put("tables/part.csv", b"0" * 50_000_000)))
        assert empty.untouched()

    def test_an_original_too_large(self, archive: Path, empty: Empty) -> None:
        """An original over the log's limit is refused, and the setting named."""
        with archive.open("rb") as opened, pytest.raises(ArchiveRefused, match="ATTACHMENT_MAX_BYTES"):
            import_archive(empty.engine, empty.store, opened, 5)
        assert empty.untouched()

    @given(data=st.binary(max_size=200))
    def test_any_bytes(self, data: bytes) -> None:
        """A file that is no archive is refused in words, whatever it holds."""
        with pytest.raises(ArchiveRefused):
            check(io.BytesIO(data), "0001", MOST)

    def test_a_cut_file(self, archive: Path, empty: Empty) -> None:
        """A download that broke off is refused."""
        archive.write_bytes(archive.read_bytes()[:-40])

        with pytest.raises(ArchiveRefused, match="no archive, or it is damaged"):
            empty.take(archive)

    def test_into_a_record_with_entries(self, archive: Path, filled: FastAPI, session: Session) -> None:
        """A record that holds anything is left as it is."""
        before = row_counts(session)
        with archive.open("rb") as opened, pytest.raises(ArchiveRefused, match="empty one only"):
            import_archive(filled.state.engine, filled.state.store, opened, MOST)
        assert row_counts(session) == before
        assert layout.MANIFEST in contents(archive)


class TestByHand:
    def test_the_commands(
        self, archive: Path, settings: Settings, tmp_path: Path, monkeypatch: Any, capsys: Any
    ) -> None:
        """`export` and `import` do it on the command line, and say in words why not."""
        monkeypatch.setenv("LAYERWITNESS_DATA", str(tmp_path / "fresh"))
        assert main(["export", str(tmp_path / "out.zip")]) == 2
        assert main(["import", str(tmp_path / "nowhere.zip")]) == 2
        assert main(["import", str(archive)]) == 0
        assert main(["import", str(archive)]) == 2
        assert "empty one only" in capsys.readouterr().err
        assert main(["export", str(tmp_path / "out.zip")]) == 0

        assert contents(archive)["tables/part.json"] == contents(tmp_path / "out.zip")["tables/part.json"]

    def test_the_page(self, client: Client, session: Session, settings: Settings) -> None:
        """The page gives the archive and takes one only where the log is empty; nothing stays behind on the disk."""
        assert 'type="file"' in client.get("/archive").text
        answer = client.post("/archive", files={"file": ("a.zip", b"no zip")})
        assert answer.status_code == 422
        assert "damaged" in answer.text
        assert client.post("/archive", data={}).status_code == 422
        make_part(session, name="Yoke")
        assert 'type="file"' not in client.get("/archive").text
        given_out = client.get("/archive/record.zip")

        assert f"layerwitness-{date.today()}.zip" in given_out.headers["content-disposition"]
        assert b"Yoke" in zipfile.ZipFile(io.BytesIO(given_out.content)).read("tables/part.json")
        assert not list(settings.data.glob(".export-*"))
        assert client.post("/archive", files={"file": ("a.zip", given_out.content)}).status_code == 422

    def test_import_on_the_page(self, client: Client, archive: Path, tmp_path: Path, migrated_record: Path) -> None:
        """An empty log takes the archive from the browser and shows its parts."""
        other = Empty(tmp_path / "served", migrated_record)
        other.engine.dispose()
        served = create_app(Settings(data=tmp_path / "served", worker=False))
        browser = Client(served)

        assert browser.post("/archive", files={"file": ("a.zip", archive.read_bytes())}).status_code == 303
        assert "größer" in browser.get("/parts/1").text
        browser.close()
        served.state.engine.dispose()
