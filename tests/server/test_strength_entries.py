"""Loads and weld strength as entered: what is refused with which words, and that a correction loses nothing."""

from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from fastapi import FastAPI
from sqlmodel import Session, SQLModel, select

from analysis.materials.strength import interlayer_mpa
from analysis.strength.bodyloads import load_body_loads
from server.forms.loads import NO_ACTION, NO_AZIMUTH, NO_LOW_REACH, NO_REACH
from server.forms.ranges import clock_words
from server.records import LoadCase, WeldStrength
from tests.server.builders import (
    make_build,
    make_face,
    make_failure,
    make_fragment,
    make_service,
    make_site,
    make_spool,
)
from tests.server.conftest import Client

LOAD = {
    "name": "carried by the strap", "force": "15 to 40 kgf", "action": "bend", "azimuth": "4:30", "reach": "30 to 60",
    "how_known": "KNOWN-FROM-THE-FINDER", "entered_by": "Runa",
}  # fmt: skip
WELD = {"strength": "8 to 20 MPa", "origin": "judgement", "material": "PETG", "service_c": "104 F", "entered_by": "R."}


@pytest.fixture
def case(session: Session) -> dict[str, Any]:
    """A failure with one face, by the form's keys."""
    failure = make_failure(session)
    face = make_face(session, make_fragment(session, failure))
    return {"failure": failure.id, "face": face.id}


def loads(session: Session) -> list[LoadCase]:
    session.expire_all()
    return list(session.exec(select(LoadCase).order_by(LoadCase.id)).all())  # type: ignore[arg-type]


def test_the_migrations_make_the_tables_that_the_program_uses(app: FastAPI) -> None:
    """Nothing would be left to migrate."""
    with app.state.engine.connect() as connection:
        left = compare_metadata(MigrationContext.configure(connection), SQLModel.metadata)
    assert not [one for one in left if "loadcase" in str(one) or "weldstrength" in str(one)]


class TestLoad:
    def test_is_kept_in_newton_and_with_its_direction(
        self, client: Client, session: Session, case: dict[str, Any]
    ) -> None:
        """15 kgf are 147.1 N (standard gravity 9.80665 m/s², NIST SP 811); half past four is 45° from the right."""
        sent = LOAD | {"face_id": str(case["face"])}
        answer = client.post(f"/failures/{case['failure']}/loads/new", sent)
        assert answer.status_code == 303
        (load,) = loads(session)
        assert (load.force_low_n, load.force_high_n) == pytest.approx((147.09975, 392.266))
        assert (load.tilt_deg, load.azimuth_deg, load.face_id) == (90, 45, case["face"])
        assert (load.reach_low_mm, load.reach_high_mm) == (30, 60)
        page = client.get(f"/failures/{case['failure']}/strength").text
        for words in ("carried by the strap", "15 to 40 kgf", "147.1 to 392.3 N", "towards 4:30", "30 to 60 mm off"):
            assert words in page

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"action": ""}, NO_ACTION),
            ({"azimuth": ""}, NO_AZIMUTH),
            ({"reach": "0"}, NO_REACH),
            ({"reach": ""}, NO_REACH),
            ({"reach": "0 to 60"}, NO_LOW_REACH),
            ({"reach": "60 to 30"}, "upside down"),
            ({"reach": "-5 to 30"}, "out of range"),
            ({"force": "150 to 400"}, "Say in which unit"),
            ({"force": "400 to 150 N"}, "upside down"),
            ({"force": "20 to 30 kg"}, "kg is a mass"),
            ({"force": "20 lbf to 30 N"}, "same unit"),
            ({"force": "lots"}, "is no range"),
            ({"force": "0 N"}, "out of range"),
            ({"force": "20 to 30 stone"}, "not in “stone”"),
            ({"force": ""}, "or take one from the table"),
            ({"azimuth": "4"}, "is no direction"),
            ({"azimuth": "13:00"}, "on a clock"),
            ({"azimuth": "400°"}, "full turn"),
            ({"action": "aslant"}, "Give the angle"),
            ({"action": "aslant", "tilt": "200"}, "out of range"),
            ({"face_id": "999"}, "be chosen here"),
            ({"name": " "}, "Write something here."),
        ],
    )
    def test_what_cannot_be_used_comes_back_with_words(
        self, client: Client, session: Session, case: dict[str, Any], change: dict[str, str], words: str
    ) -> None:
        """422, the message beside its field, everything typed still there, nothing kept."""
        sent = LOAD | {"face_id": str(case["face"])} | change
        answer = client.post(f"/failures/{case['failure']}/loads/new", sent)
        assert answer.status_code == 422
        assert words.replace("'", "&#39;") in answer.text
        assert "KNOWN-FROM-THE-FINDER" in answer.text
        for name in ("force", "reach", "azimuth"):
            assert f'name="{name}" type="text" value="{sent[name]}"' in answer.text
        assert loads(session) == []

    @pytest.mark.parametrize(("action", "tilt"), [("pull", 0), ("push", 180)])
    def test_straight_needs_no_direction_on_the_photo(
        self, client: Client, session: Session, case: dict[str, Any], action: str, tilt: float
    ) -> None:
        """What has no part along the face has none on the photo either."""
        sent = LOAD | {"face_id": str(case["face"]), "action": action, "azimuth": "", "reach": ""}
        assert client.post(f"/failures/{case['failure']}/loads/new", sent).status_code == 303
        assert [(one.tilt_deg, one.azimuth_deg) for one in loads(session)] == [(tilt, None)]

    def test_a_correction_names_the_entry_before(self, client: Client, session: Session, case: dict[str, Any]) -> None:
        """The form comes filled in; both entries stay, the newest counts; the old one can't be corrected twice."""
        sent = LOAD | {"face_id": str(case["face"])}
        client.post(f"/failures/{case['failure']}/loads/new", sent)
        form = client.get("/loads/1/correct").text
        for words in ("147.1 to 392.3 N", "4:30", "30 to 60", "carried by the strap"):
            assert words in form
        changed = sent | {"force": "60 to 90 lbf", "correction_reason": "weighed since"}
        assert client.post("/loads/1/correct", changed).status_code == 303
        old, new = loads(session)
        assert (new.replaces_id, old.force_typed) == (old.id, "15 to 40 kgf")
        page = client.get(f"/failures/{case['failure']}/strength").text
        assert "weighed since" in page
        assert "1 earlier entry" in page
        assert client.post("/loads/1/correct", changed).status_code == 422
        assert len(loads(session)) == 2

    def test_one_that_was_none_is_withdrawn_and_stays(
        self, client: Client, session: Session, case: dict[str, Any]
    ) -> None:
        """It is no longer listed among the loads, yet still told."""
        sent = LOAD | {"face_id": str(case["face"])}
        client.post(f"/failures/{case['failure']}/loads/new", sent)
        client.post("/loads/1/correct", sent | {"is_withdrawn": "y", "correction_reason": "the strap was slack"})
        page = client.get(f"/failures/{case['failure']}/strength").text
        assert "Said to be no load of this break (1)" in page
        assert "None yet." in page
        assert len(loads(session)) == 2

    def test_belongs_to_its_place(self, client: Client, session: Session, case: dict[str, Any]) -> None:
        """Where it broke at two places, a load of one is not held against the other."""
        failure = make_failure(session)
        piece = make_fragment(session, failure)
        sites = [make_site(session, failure, name=name) for name in ("root", "tip")]
        faces = [make_face(session, piece, name=site.name, site_id=site.id) for site in sites]
        place = f"/failures/{failure.id}/loads/new?site={sites[0].id}"
        assert client.post(place, LOAD | {"face_id": str(faces[0].id)}).status_code == 303
        assert client.post(place, LOAD | {"face_id": str(faces[1].id)}).status_code == 422
        shown = [client.get(f"/failures/{failure.id}/strength?site={site.id}").text for site in sites]
        assert ["carried by the strap" in page for page in shown] == [True, False]
        assert "Choose a place" in client.get(f"/failures/{failure.id}/strength").text


class TestWeld:
    def test_is_kept_and_corrected(self, client: Client, session: Session, case: dict[str, Any]) -> None:
        """104 F are 40 C; the correction needs its reason, and the entry before stays."""
        place = f"/failures/{case['failure']}/weld"
        assert client.post(place, WELD).status_code == 303
        assert "40 C" in client.get(place).text
        assert client.post(place, WELD | {"strength": "1200 to 2900 psi"}).status_code == 422
        again = WELD | {"strength": "1200 to 2900 psi", "notch": "1.5 to 3", "correction_reason": "bars torn"}
        assert client.post(place, again).status_code == 303
        session.expire_all()
        old, new = session.exec(select(WeldStrength).order_by(WeldStrength.id)).all()  # type: ignore[arg-type]
        assert (old.service_c, new.replaces_id, new.notch_high) == (40.0, old.id, 3.0)
        assert (new.low_mpa, new.high_mpa) == pytest.approx((8.2737, 19.9948), abs=1e-3)  # 1 psi = 6894.757 Pa, SP 811
        page = client.get(f"/failures/{case['failure']}/strength").text
        assert "notch factor 1.5 to 3" in page
        assert "Said before (1)" in page

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            ({"strength": "20 to 8 MPa"}, "upside down"),
            ({"strength": "8 to 20"}, "Say in which unit"),
            ({"strength": "", "material": "PETG", "service_c": "95 C"}, "it softens"),
            ({"strength": "8 to 20 bar"}, "not in “bar”"),
            ({"service_c": "40"}, "in C or F"),
            ({"notch": "0.5 to 2"}, "out of range"),
            ({"notch": "3 to 2"}, "upside down"),
            ({"origin": ""}, "Say where the figures are from."),
        ],
    )
    def test_what_cannot_be_used_comes_back_with_words(
        self, client: Client, session: Session, case: dict[str, Any], change: dict[str, str], words: str
    ) -> None:
        """422, the message, what was typed; nothing kept."""
        answer = client.post(f"/failures/{case['failure']}/weld", WELD | change)
        assert answer.status_code == 422
        assert words in answer.text
        assert 'value="PETG"' in answer.text
        assert session.exec(select(WeldStrength)).all() == []


@pytest.mark.parametrize(
    ("azimuth_deg", "clock"), [(0, "3:00"), (270, "12:00"), (45, "4:30"), (359.9, "3:00"), (255, "11:30")]
)
def test_directions_are_read_back_as_hours(azimuth_deg: float, clock: str) -> None:
    """An hour is 30°, counted clockwise from the right."""
    assert clock_words(azimuth_deg) == clock


def test_a_face_without_scale_says_why_and_keeps_its_share(
    client: Client, session: Session, case: dict[str, Any]
) -> None:
    """Strength isn't offered without a scale; a place without a photo is told so too."""
    page = client.get(f"/failures/{case['failure']}/strength").text
    assert "No photo of this face yet." in page


class TestLookUp:
    def test_the_form_starts_from_the_spool(self, client: Client, session: Session) -> None:
        """The broken build's material, the heat of its place and the table's range with its reason are filled in."""
        spool = make_spool(session, material="PETG")
        service = make_service(session, make_build(session, spool_id=spool.id), highest_c=40)
        failure = make_failure(session, service=service)
        span, _ = interlayer_mpa("petg", 40)
        assert span is not None
        page = client.get(f"/failures/{failure.id}/weld").text
        assert f'value="{span[0]:.3g} to {span[1]:.3g} MPa"' in page
        assert 'value="40 C"' in page
        assert "flat bars" in page

    def test_left_empty_it_is_looked_up_at_that_heat(
        self, client: Client, session: Session, case: dict[str, Any]
    ) -> None:
        """Material and temperature are enough; the reason is kept with the figures."""
        assert (
            client.post(f"/failures/{case['failure']}/weld", WELD | {"strength": "", "origin": ""}).status_code == 303
        )
        kept = session.exec(select(WeldStrength)).one()
        span, why = interlayer_mpa("petg", 40)
        assert (kept.low_mpa, kept.high_mpa) == pytest.approx(span, rel=0.01)
        assert kept.origin == "table"
        assert why in kept.how_known

    def test_what_is_not_in_the_table_is_said(self, client: Client, session: Session, case: dict[str, Any]) -> None:
        """No likeness is guessed at; nothing is kept."""
        answer = client.post(f"/failures/{case['failure']}/weld", WELD | {"strength": "", "material": "unobtainium"})
        assert answer.status_code == 422
        assert "Nothing could be looked up" in answer.text
        assert session.exec(select(WeldStrength)).all() == []


class TestTable:
    def test_a_load_of_the_table_brings_range_and_source(
        self, client: Client, session: Session, case: dict[str, Any]
    ) -> None:
        """Chosen without a force of one's own, the table's is kept with where it is from and how well that is known."""
        known = load_body_loads()["stand"]
        sent = LOAD | {"face_id": str(case["face"]), "preset": "stand", "force": ""}
        assert known.words in client.get(f"/failures/{case['failure']}/loads/new").text
        assert client.post(f"/failures/{case['failure']}/loads/new", sent).status_code == 303
        (load,) = loads(session)
        assert (load.force_low_n, load.force_high_n, load.preset) == (known.force_n.low, known.force_n.high, "stand")
        assert known.source in load.source
        assert known.status in load.source

    def test_an_own_force_goes_before_the_tables(self, client: Client, session: Session, case: dict[str, Any]) -> None:
        """What was typed counts, and the table isn't named as its source."""
        sent = LOAD | {"face_id": str(case["face"]), "preset": "stand"}
        client.post(f"/failures/{case['failure']}/loads/new", sent)
        (load,) = loads(session)
        assert (load.preset, load.source, load.force_typed) == ("", "", "15 to 40 kgf")

    def test_a_correction_keeps_the_tables_source(self, client: Client, session: Session, case: dict[str, Any]) -> None:
        """Force and choice come back filled in together; left as they are, the source stays."""
        sent = LOAD | {"face_id": str(case["face"]), "preset": "stand", "force": ""}
        client.post(f"/failures/{case['failure']}/loads/new", sent)
        again = sent | {"force": "540 to 980 N", "correction_reason": "seen by a second person"}
        assert client.post("/loads/1/correct", again).status_code == 303
        assert [one.preset for one in loads(session)] == ["stand", "stand"]
