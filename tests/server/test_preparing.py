"""Scale and outline: what is kept, what is refused in whose words, and that nothing drawn is ever lost."""

from contextlib import suppress
from typing import Any

import pytest
from fastapi import FastAPI
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import Session, select

from analysis.outlines.outline import OutlineRefused
from server.photos.preparing import read_rings, write_rings
from server.records import Job, OutlineRecord, Photo, ScaleRecord
from tests.server.builders import make_build, make_face, make_failure, make_fragment, make_photo
from tests.server.conftest import Client
from tests.server.photo_builders import encoded, face_inputs, make_real_photo

SQUARE = "100, 100\n900, 100\n900, 500\n100, 500"
BOW_TIE = "100, 100\n900, 500\n900, 100\n100, 500"
GOOD: dict[str, Any] = {
    "scale_method": "um_per_px",
    "um_per_px": "10",
    "outer_px": SQUARE,
    "line_width_mm": "0,4",
    "layer_height_mm": "0.2",
}


@pytest.fixture
def photo(session: Session, app: FastAPI) -> Photo:
    """A photo of 1000 by 600 px."""
    return make_photo(session, app=app, data=encoded(width=1000, height=600), width_px=1000, height_px=600)


class TestScale:
    def test_two_points(self, client: Client, session: Session, photo: Photo) -> None:
        """Two ends 500 px apart that are 5 mm apart make 10 µm per px; the uncertainty takes in both parts.

        sqrt((0.05 / 5)² + 2 (1 / 500)²) = 1.04 %, by the law of propagation (JCGM 100:2008, 5.1.2).
        """
        ends = {"x1_px": "100", "y1_px": "100", "x2_px": "400", "y2_px": "500"}
        form = {"scale_method": "points", **ends, "distance_mm": "5 mm", "distance_sd_mm": "0.05"}
        assert client.post(f"/photos/{photo.id}/scale", form).status_code == 303
        kept = session.exec(select(ScaleRecord)).one()
        assert kept.um_per_px == pytest.approx(10)
        assert kept.relative_sd == pytest.approx(0.010392, abs=1e-5)

    def test_counted_roads(self, client: Client, session: Session, photo: Photo) -> None:
        """Ten roads of 0.4 mm over 400 px make 10 µm per px; the line width is the pitch unless another is given."""
        ends = {"x1_px": "100", "y1_px": "100", "x2_px": "500", "y2_px": "100"}
        form = {"scale_method": "roads", **ends, "road_count": "10", "line_width_mm": "0.4"}
        assert client.post(f"/photos/{photo.id}/scale", form).status_code == 303
        assert session.exec(select(ScaleRecord)).one().um_per_px == pytest.approx(10)

    def test_correction(self, client: Client, session: Session, photo: Photo) -> None:
        """A second scale is a new entry that names the first; the same one again adds nothing."""
        for value in ("10", "11", "11"):
            client.post(f"/photos/{photo.id}/scale", {"scale_method": "um_per_px", "um_per_px": value})
        first, second = session.exec(select(ScaleRecord).order_by(ScaleRecord.id)).all()  # type: ignore[arg-type]
        assert second.replaces_id == first.id

    @pytest.mark.parametrize(
        ("value", "words"),
        [
            ("0", "can&#39;t be 0"),
            ("-8", "can&#39;t be negative"),
            ("6000", "m wide"),  # 1000 px of 6 mm: a face of 6 m
            ("abc", "is not a number"),
            ("", "Give this number"),
            ("300", "px wide"),  # a road of 0.4 mm would be thinner than 2 px
        ],
    )
    def test_refused(self, client: Client, session: Session, photo: Photo, value: str, words: str) -> None:
        """A scale that can't be right is refused with what to do, and what was typed and drawn is still there."""
        form = {"scale_method": "um_per_px", "um_per_px": value, "outer_px": SQUARE, "line_width_mm": "0.4"}
        answer = client.post(f"/photos/{photo.id}/scale", form)
        assert answer.status_code == 422
        assert words in answer.text
        assert f'value="{value}"' in answer.text
        assert SQUARE in answer.text
        assert not session.exec(select(ScaleRecord)).all()

    def test_unsaved_outline_stays(self, client: Client, session: Session, photo: Photo) -> None:
        """Saving the scale alone keeps in the form what is drawn and not saved."""
        form = {"scale_method": "um_per_px", "um_per_px": "10", "outer_px": SQUARE}
        answer = client.post(f"/photos/{photo.id}/scale", form)
        assert "The outline is not saved yet" in answer.text
        assert SQUARE in answer.text
        assert session.exec(select(ScaleRecord)).one()

    def test_unsaved_scale_stays(self, client: Client, session: Session, photo: Photo) -> None:
        """Saving the outline alone keeps in the form the scale that is typed and not saved."""
        answer = client.post(f"/photos/{photo.id}/outline", {**GOOD, "um_per_px": "12.5"})
        assert "The scale is not saved yet" in answer.text
        assert 'value="12.5"' in answer.text
        assert session.exec(select(OutlineRecord)).one()


class TestOutline:
    def test_kept(self, client: Client, session: Session, photo: Photo) -> None:
        """Outline, holes and zones are kept as drawn, and come back into the form."""
        form = {"outer_px": SQUARE, "holes_px": "300,200\n400,200\n400,300\n\n500,200\n600,200\n600,300",
                "unknown_px": "700 200\n800 200\n800 300"}  # fmt: skip
        assert client.post(f"/photos/{photo.id}/outline", form).status_code == 303
        kept = session.exec(select(OutlineRecord)).one()
        assert (len(kept.outer_px), len(kept.holes_px), len(kept.unknown_px)) == (4, 2, 1)
        assert "700.0, 200.0\n800.0, 200.0" in client.get(f"/photos/{photo.id}/prepare").text.replace("\r", "")

    @pytest.mark.parametrize(
        ("form", "words"),
        [
            ({"outer_px": BOW_TIE}, "crosses itself"),
            ({"outer_px": "100,100\n5000,100\n100,500"}, "leaves the photo"),
            ({"outer_px": "100,100\n200,100"}, "fewer than three"),
            ({"outer_px": "100,100\nhere\n100,500"}, "line 2, “here”, is not a corner"),
            ({"outer_px": ""}, "fewer than three"),
            ({"outer_px": SQUARE + "\n\n" + SQUARE}, "one outline only"),
            ({"outer_px": SQUARE, "holes_px": "0,0\n50,0\n50,50"}, "leaves the outline"),
            ({"outer_px": SQUARE, "unknown_px": BOW_TIE}, "Zone 1 crosses itself"),
        ],
    )
    def test_refused(self, client: Client, session: Session, photo: Photo, form: dict[str, str], words: str) -> None:
        """An outline that can't be used is refused by name, and comes back as it was drawn."""
        answer = client.post(f"/photos/{photo.id}/outline", form)
        assert answer.status_code == 422
        assert words in answer.text
        assert all(text in answer.text for text in form.values())
        assert not session.exec(select(OutlineRecord)).all()

    def test_found(self, client: Client, session: Session, app: FastAPI) -> None:
        """The outline is found on demand; by script as JSON, without one as the filled-in form. Nothing is stored."""
        photo = make_real_photo(session, app, "face_32")
        form = {"scale_method": "um_per_px", "um_per_px": f"{face_inputs('face_32')['um_per_px']:.4f}"}
        answer = client.post(f"/photos/{photo.id}/outline/find", form, headers={"Accept": "application/json"})
        assert answer.status_code == 200
        found = answer.json()
        assert 8 <= len(found["outer_px"]) <= 200
        page = client.post(f"/photos/{photo.id}/outline/find", form)
        assert write_rings([found["outer_px"]]) in page.text.replace("\r", "")
        assert not session.exec(select(OutlineRecord)).all()

    def test_found_without_scale(self, client: Client, photo: Photo) -> None:
        """Without a scale nothing is looked for; the person is told to set it first."""
        headers = {"Accept": "application/json"}
        answer = client.post(f"/photos/{photo.id}/outline/find", {"scale_method": "um_per_px"}, headers=headers)
        assert answer.status_code == 422
        assert "scale first" in answer.json()["detail"]

    def test_not_found(self, client: Client, photo: Photo) -> None:
        """Where nothing stands out, the words ask to draw it by hand."""
        headers = {"Accept": "application/json"}
        form = {"scale_method": "um_per_px", "um_per_px": "10"}
        answer = client.post(f"/photos/{photo.id}/outline/find", form, headers=headers)
        if answer.status_code == 422:
            assert "raw" in answer.json()["detail"]
        else:
            assert answer.json()["outer_px"]


class TestMeasure:
    def test_ordered(self, client: Client, session: Session, photo: Photo) -> None:
        """A good form keeps scale and outline and puts one job into the queue, all inputs written out in it."""
        answer = client.post(f"/photos/{photo.id}/measure", GOOD)
        assert answer.status_code == 303
        job = session.exec(select(Job)).one()
        assert answer.headers["location"] == f"/jobs/{job.id}"
        expected = {"line_width_mm": 0.4, "um_per_px": 10.0, "photo_sha256": photo.sha256, "surface": "fracture"}
        assert expected.items() <= job.given.items()

    def test_not_twice(self, client: Client, session: Session, photo: Photo) -> None:
        """Pressing the button twice measures once."""
        places = {client.post(f"/photos/{photo.id}/measure", GOOD).headers["location"] for _ in range(2)}
        assert len(places) == 1
        assert len(session.exec(select(Job)).all()) == 1

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"line_width_mm": "0.015"}, "px wide"),
            ({"line_width_mm": ""}, "Give the line width"),
            ({"line_width_mm": "-1"}, "can&#39;t be negative"),
            ({"layer_height_mm": "9"}, "out of range"),
            ({"layer_height_mm": "0.2 in"}, "Give this in mm"),
            ({"wall_count": "2.5"}, "whole number"),
            ({"outer_px": BOW_TIE}, "crosses itself"),
            ({"um_per_px": "0"}, "can&#39;t be 0"),
            ({"mate_photo_id": "77"}, "Not a valid choice"),
        ],
    )
    def test_refused(self, client: Client, session: Session, photo: Photo, change: dict[str, str], words: str) -> None:
        """One wrong field keeps everything from being stored; all that was entered comes back."""
        answer = client.post(f"/photos/{photo.id}/measure", GOOD | change)
        assert answer.status_code == 422
        assert words in answer.text
        assert (GOOD | change)["outer_px"] in answer.text
        for kind in (Job, ScaleRecord, OutlineRecord):
            assert not session.exec(select(kind)).all()

    def test_prefilled(self, client: Client, session: Session, app: FastAPI) -> None:
        """Line width, layer height and walls come from the build that broke."""
        build = make_build(session, line_width_mm=0.47, layer_height_mm=0.16, wall_count=5)
        face = make_face(session, make_fragment(session, make_failure(session, build=build)))
        photo = make_photo(session, face, app)
        page = client.get(f"/photos/{photo.id}/prepare").text
        assert all(f'value="{value}"' in page for value in ("0.47", "0.16", "5"))

    def test_mate_needs_scale(self, client: Client, session: Session, app: FastAPI) -> None:
        """A photo of the mating face is offered; without a scale of its own it is refused with what to do."""
        face = make_face(session)
        mate = make_face(session, mate_face_id=face.id)
        photo = make_photo(session, face, app, width_px=1000, height_px=600)
        other = make_photo(session, mate, app, file_name="mate.jpg")
        answer = client.post(f"/photos/{photo.id}/measure", {**GOOD, "mate_photo_id": str(other.id)})
        assert answer.status_code == 422
        assert "Prepare it first" in answer.text


corners = st.lists(st.tuples(st.integers(-9999, 99999), st.integers(-9999, 99999)), min_size=1, max_size=30)


class TestRings:
    @given(st.lists(corners, max_size=5))
    def test_round_trip(self, drawn: list[list[tuple[int, int]]]) -> None:
        """What is written is read again, to a tenth of a pixel."""
        rings = [[[x / 10, y / 10] for x, y in ring] for ring in drawn]
        assert read_rings(write_rings(rings), "x") == rings

    @given(st.text(max_size=200))
    def test_any_text(self, text: str) -> None:
        """Any text is either shapes or refused in words; nothing else happens."""
        with suppress(OutlineRefused):
            rings = read_rings(text, "The outline")
            assert all(len(corner) == 2 for ring in rings for corner in ring)
