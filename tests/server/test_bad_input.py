"""What can't be used is refused by name, with the form still filled in, and leaves nothing behind."""

import re
import struct
import zlib
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from html.parser import HTMLParser
from pathlib import Path

import httpx
import pytest
from fastapi import FastAPI
from sqlmodel import Session, SQLModel, func, select

from server.app import create_app
from server.records import Failure, Fragment, Revision
from server.settings import Settings
from tests.server.builders import (
    make_build,
    make_face,
    make_failure,
    make_inspection,
    make_photo,
    make_revision,
    make_service,
    photo_bytes,
)
from tests.server.conftest import Client

MEGABYTE = 1_000_000


Nothing = Callable[[], AbstractContextManager[None]]


@pytest.fixture
def nothing_added(session: Session, settings: Settings) -> Nothing:
    """Return a context in which neither a row nor an original may come to be."""

    def counted() -> dict[str, int]:
        session.expire_all()
        tables = SQLModel.metadata.sorted_tables
        rows = {table.name: session.exec(select(func.count()).select_from(table)).one() for table in tables}
        files = [path for path in settings.blob_folder.rglob("*") if path.is_file()]
        return {**rows, "originals": len(files)}

    @contextmanager
    def compared() -> Iterator[None]:
        before = counted()
        yield
        assert counted() == before

    return compared


def png_header(width: int, height: int) -> bytes:
    """Return a PNG that claims a size and holds hardly anything: small on disk, huge when decoded."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    body = zlib.compress(bytes(1_000_000), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


class TestPhotos:
    """Uploads to a face."""

    @pytest.fixture
    def face_address(self, session: Session) -> str:
        return f"/faces/{make_face(session).id}"

    @pytest.mark.parametrize(
        ("name", "data", "words"),
        [
            ("letter.jpg", b"Dear Sir, " * 200, "picture"),
            ("cut.jpg", photo_bytes(1200, 900)[:-400], "damaged"),
            ("bomb.png", png_header(60_000, 60_000), "pixels"),
            ("nothing.jpg", b"", "empty"),
        ],
    )
    def test_a_file_that_is_no_usable_photo_is_refused_by_name(
        self, client: Client, nothing_added: Nothing, face_address: str, name: str, data: bytes, words: str
    ) -> None:
        """Text renamed .jpg, a truncated JPEG, a decompression bomb, 0 bytes: name and reason, and the page again."""
        with nothing_added():
            answer = client.post(f"{face_address}/photos", data={"taken": "as_found"}, files={"photos": (name, data)})

        assert answer.status_code == 422
        assert name in answer.text
        assert words in answer.text.lower()
        assert "Traceback" not in answer.text

    def test_the_good_photos_of_the_same_upload_are_kept(
        self, client: Client, face_address: str, settings: Settings
    ) -> None:
        """One bad file takes nothing else with it."""
        files = [("photos", ("good.jpg", photo_bytes(), "image/jpeg")), ("photos", ("bad.jpg", b"text", "image/jpeg"))]
        answer = client.post(f"{face_address}/photos", data={"taken": "as_found"}, files=files)

        assert answer.status_code == 422
        assert "bad.jpg" in answer.text
        assert "good.jpg" in client.get(face_address).text
        assert len([path for path in settings.blob_folder.rglob("*") if path.is_file()]) == 1

    def test_200_megabytes_are_refused_without_being_kept(
        self, client: Client, nothing_added: Nothing, face_address: str, tmp_path: Path
    ) -> None:
        """The file is measured as it streams in; its name, its size and the limit are said."""
        huge = tmp_path / "huge.jpg"
        with huge.open("wb") as file:
            file.truncate(200 * MEGABYTE)
        with huge.open("rb") as file, nothing_added():
            sent = {"photos": ("huge.jpg", file)}
            answer = client.post(f"{face_address}/photos", data={"taken": "as_found"}, files=sent)

        assert answer.status_code == 422
        assert "huge.jpg" in answer.text
        assert "200 MB" in answer.text
        assert "60 MB" in answer.text

    def test_more_than_the_whole_limit_is_refused_unread(
        self, client: Client, nothing_added: Nothing, face_address: str
    ) -> None:
        """A request that announces too much is answered before its body is taken."""
        with nothing_added():
            answer = client.post(f"{face_address}/photos", headers={"content-length": str(10**12)}, content=b"")

        assert answer.status_code == 413
        assert "MB" in answer.text

    def test_an_attachment_over_its_limit_is_refused_by_name(
        self, session: Session, nothing_added: Nothing, settings: Settings
    ) -> None:
        """Model files have a limit of their own."""
        revision = make_revision(session)
        tight = create_app(replace(settings, attachment_max_bytes=1000))
        client = Client(tight)
        with nothing_added():
            sent = {"file": ("part.stl", bytes(2000))}
            answer = client.post(f"/revisions/{revision.id}/files", data={"kind": "model"}, files=sent)
        client.close()
        tight.state.engine.dispose()

        assert answer.status_code in {413, 422}
        assert "part.stl" in answer.text


PREPARED = {
    "scale_method": "um_per_px", "um_per_px": "10", "line_width_mm": "0.4", "layer_height_mm": "0.2",
    "outer_px": "10, 10\n50, 10\n50, 40\n10, 40",
}  # fmt: skip


class TestScaleAndOutline:
    """The page on which a photo is prepared. The photo is 64 × 48 px."""

    @pytest.fixture
    def photo_address(self, session: Session, app: FastAPI) -> str:
        return f"/photos/{make_photo(session, app=app).id}"

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"outer_px": "10, 10\n50, 40\n50, 10\n10, 40"}, "crosses itself"),
            ({"outer_px": "10, 10\n900, 10\n50, 40\n10, 40"}, "photo"),
            ({"outer_px": "10, 10\n50, 10"}, "three"),
            ({"outer_px": "ten, ten"}, "ten"),
            ({"um_per_px": "0"}, "0"),
            ({"um_per_px": "-8"}, "-8"),
            ({"um_per_px": "93750"}, "m wide"),  # 64 px × 93.75 mm: a face 6 m wide
            ({"um_per_px": "300"}, "px"),  # a line of 0.4 mm is 1.3 px wide then
            ({"line_width_mm": "0.015"}, "px"),
            ({"line_width_mm": ""}, "line width"),
            ({"layer_height_mm": "-1"}, "layer height"),
            ({"um_per_px": "ten"}, "not a number"),
            ({"um_per_px": "10 in"}, "µm"),
        ],
    )
    def test_what_cannot_be_measured_by_is_said_beside_its_field(
        self, client: Client, nothing_added: Nothing, photo_address: str, change: dict[str, str], words: str
    ) -> None:
        """Nothing is ordered or kept; everything that was typed and drawn is still there."""
        sent = {**PREPARED, **change}
        with nothing_added():
            answer = client.post(f"{photo_address}/measure", data=sent)

        assert answer.status_code == 422
        assert 'class="error"' in answer.text
        assert words.lower() in answer.text.lower()
        for name in ("um_per_px", "line_width_mm", "layer_height_mm"):
            assert f'value="{sent[name]}"' in answer.text, name
        assert sent["outer_px"].split("\n")[-1] in answer.text

    def test_two_points_on_one_spot_are_no_scale(
        self, client: Client, nothing_added: Nothing, photo_address: str
    ) -> None:
        """A scale line without length is refused."""
        ends = {"x1_px": "20", "y1_px": "20", "x2_px": "20", "y2_px": "20", "distance_mm": "1"}
        with nothing_added():
            answer = client.post(f"{photo_address}/scale", data={"scale_method": "points", **ends})

        assert answer.status_code == 422
        assert 'class="error"' in answer.text

    @pytest.mark.parametrize("value", ["0", "-3", "nan", "1e300", "inf"])
    def test_the_interface_refuses_them_too(
        self, client: Client, nothing_added: Nothing, photo_address: str, value: str
    ) -> None:
        """Status 422 and words under `detail`, not a traceback."""
        wish = f'{{"um_per_px": {value}, "line_width_mm": 0.4, "layer_height_mm": 0.2}}'
        headers = {"content-type": "application/json"}
        with nothing_added():
            answer = client.post(f"/api{photo_address}/measurements", content=wish, headers=headers)

        assert answer.status_code == 422
        assert answer.json()["detail"]


@dataclass(frozen=True)
class Chain:
    """Keys of a build of 10 January 2026, fitted on the 15th, inspected, and broken on 1 March."""

    part: int
    build: int
    service: int


class TestDates:
    """A part can't be fitted before it was built, nor break before it was fitted."""

    @pytest.fixture
    def chain(self, session: Session) -> Chain:
        """Return the keys of what the dates contradict."""
        revision = make_revision(session)
        build = make_build(session, revision)
        service = make_service(session, build)
        make_inspection(session, service)
        make_failure(session, service=service)
        return Chain(revision.part_id, int(build.id or 0), int(service.id or 0))

    @pytest.mark.parametrize(
        ("address", "sent", "words"),
        [
            ("/builds/{build}/services/new", {"fitted_on": "2025-12-01", "loads": "10 N"}, "before it was built"),
            (
                "/builds/{build}/services/new",
                {"fitted_on": "2026-02-02", "removed_on": "2026-02-01"},
                "before it was fitted",
            ),
            ("/builds/{build}/services/new", {"fitted_on": "2999-01-01", "loads": "10 N"}, "future"),
            ("/builds/{build}/services/new", {"fitted_on": "2026-02-31", "loads": "10 N"}, "no date"),
            ("/builds/{build}/services/new", {"fitted_on": "", "loads": "10 N"}, "Give the date"),
            ("/services/{service}/edit", {"fitted_on": "2026-03-15", "loads": "10 N"}, "before that"),
            ("/services/{service}/inspections/new", {"due_on": "2025-12-01", "note": "by eye"}, "fitted later"),
            ("/builds/{build}/edit", {"built_on": "2026-01-20", "note": "a note"}, "fitted before"),
        ],
    )
    def test_days_in_the_wrong_order_are_refused_beside_the_field(
        self, client: Client, nothing_added: Nothing, chain: Chain, address: str, sent: dict[str, str], words: str
    ) -> None:
        """Nothing is kept, and what was typed is still in the form."""
        with nothing_added():
            answer = client.post(address.format(**vars(chain)), data=sent)

        assert answer.status_code == 422
        assert 'class="error"' in answer.text
        assert words in answer.text
        assert all(value in answer.text for value in sent.values())

    def test_broken_before_it_was_fitted(self, client: Client, nothing_added: Nothing, chain: Chain) -> None:
        """A failure can't have been found before the stay it ended."""
        address = f"/parts/{chain.part}/failures/new"
        choices = re.findall(r'<option[^>]*value="(service[^"]*)"', client.get(address).text)
        assert choices
        with nothing_added():
            answer = client.post(
                address, data={"broken_one": choices[0], "found_on": "2025-11-01", "finder": "R. Voss"}
            )

        assert answer.status_code == 422
        assert "fitted later" in answer.text
        assert "R. Voss" in answer.text


SCRIPT = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"


class FormReader(HTMLParser):
    """Collects the fields of a page's record form."""

    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, str] = {}
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what a person could fill in, with a value that passes where script can't."""
        given = dict(attrs)
        name, kind = given.get("name") or "", given.get("type") or "text"
        if tag == "select":
            self._select = name
        elif tag == "option" and self._select and not self.fields.get(self._select):
            self.fields[self._select] = given.get("value") or ""
        elif tag == "textarea" or (tag == "input" and name and kind == "text"):
            self.fields[name] = SCRIPT
        elif tag == "input" and kind == "date":
            self.fields[name] = "2026-03-02"
        elif tag == "input" and kind == "checkbox":
            self.fields[name] = "y"


def numbers_where_wanted(fields: dict[str, str], page: str) -> dict[str, str]:
    """Return the fields, with those that the page calls no number or no choice left empty."""
    wrong = re.findall(r'id="([a-z0-9_-]+)-error"', page)
    return {name: "" if name in wrong else value for name, value in fields.items()}


class TestScript:
    """Script typed into every text field of every form comes out as text."""

    def walk(self, client: Client, address: str) -> httpx.Response:
        """Fill in the form at `address` with script; where numbers are asked for, leave them out the second time."""
        page = client.get(address)
        assert page.status_code == 200, address
        reader = FormReader()
        reader.feed(page.text)
        answer = client.post(address, data=reader.fields)
        if answer.status_code == 422:
            assert_harmless(answer.text)
            answer = client.post(address, data=numbers_where_wanted(reader.fields, answer.text))
        assert answer.status_code == 303, re.findall(r'class="error"[^>]*>([^<]*)', answer.text)
        return answer

    def test_script_in_every_text_field_stays_text(self, client: Client, session: Session, app: FastAPI) -> None:
        """On the form that comes back, on the pages that show it, and in the print."""
        face = make_face(session)
        make_photo(session, face=face, app=app, file_name=SCRIPT)
        piece = session.get_one(Fragment, face.fragment_id)
        failure = session.get_one(Failure, piece.failure_id)
        revision = session.get_one(Revision, failure.revision_id)
        forms = [
            "/shelf/customers/new", "/shelf/printers/new", "/shelf/spools/new", "/parts/new",
            f"/parts/{revision.part_id}/edit", f"/parts/{revision.part_id}/locked/new",
            f"/parts/{revision.part_id}/revisions/new", f"/revisions/{revision.id}/builds/new",
            "/builds/1/services/new", "/services/1/inspections/new",
            f"/failures/{failure.id}/correct", f"/failures/{failure.id}/fragments/new",
            f"/fragments/{piece.id}/treatments/new", f"/failures/{failure.id}/sites/new",
            f"/failures/{failure.id}/faces/new", f"/failures/{failure.id}/changes/new",
        ]  # fmt: skip
        for address in forms:
            self.walk(client, address)
        answers = {"seen_by": SCRIPT, "overload_seen-answer": "yes", "overload_seen-note": SCRIPT}
        assert client.post(f"/failures/{failure.id}/observations", data=answers).status_code in {200, 303}
        said = {"mode": "overload", "reason": SCRIPT, "said_by": SCRIPT}
        assert client.post(f"/failures/{failure.id}/verdict/person", data=said).status_code in {200, 303}
        worded = dict.fromkeys(("does", "came_back", "found", "means", "change", "care", "prepared_by"), SCRIPT)
        assert client.post(f"/failures/{failure.id}/summary", data={**worded, "paper": "A4"}).status_code in {200, 303}

        shown = [
            "/", "/parts", "/parts?q=%3Cscript%3E", "/shelf", f"/parts/{revision.part_id}", f"/failures/{failure.id}",
            f"/faces/{face.id}", "/photos/1/prepare", f"/failures/{failure.id}/observations",
            f"/failures/{failure.id}/verdict", f"/failures/{failure.id}/summary",
            f"/failures/{failure.id}/summary/print",
        ]  # fmt: skip
        for address in shown:
            answer = client.get(address)
            assert answer.status_code == 200, address
            assert_harmless(answer.text)
        assert client.get(f"/failures/{failure.id}/summary.pdf").status_code == 200


def assert_harmless(page: str) -> None:
    """No script of ours became markup: neither an element nor an attribute."""
    assert "<script>alert" not in page
    assert "<img src=x" not in page
