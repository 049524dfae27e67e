"""Marks of a person: read from a text, ordered as a new measuring with the same inputs, shown beside the old."""

from typing import Any

import pytest
from fastapi import FastAPI
from sqlmodel import Session, select

from analysis.common.classes import BARE, BONDED, UNKNOWN
from analysis.welds.marks import MarkRefused
from server.measuring import examinations, jobs
from server.measuring.marks import read_marks, write_marks
from server.records import Job, Measurement, Photo
from tests.server.builders import make_photo
from tests.server.conftest import Client
from tests.server.photo_builders import RESULT, encoded, make_measurement, make_real_photo, order_real

TEXT = "20, 30, bonded\n40; 30; 6; bare\n50.5 30 can't be told"


@pytest.fixture
def photo(session: Session, app: FastAPI) -> Photo:
    return make_photo(session, app=app, data=encoded(), width_px=90, height_px=60)


@pytest.fixture
def measurement(session: Session, app: FastAPI, photo: Photo) -> Measurement:
    return make_measurement(session, app, photo)


def jobs_of(session: Session) -> list[Job]:
    session.expire_all()
    return list(session.exec(select(Job).order_by(Job.id)))  # type: ignore[arg-type]


class TestText:
    def test_read(self, photo: Photo) -> None:
        """Commas, semicolons or spaces; a radius or none; the kind by its name, its key or its words."""
        marks = read_marks(TEXT + "\n\n10 10 E", photo, 12.0)
        assert [(m.x_px, m.radius_px, m.code) for m in marks] == [
            (20, 12, BONDED), (40, 6, BARE), (50.5, 12, UNKNOWN), (10, 12, BARE),
        ]  # fmt: skip

    def test_written_and_read_again(self, photo: Photo) -> None:
        """Nothing is lost on the way through the text."""
        given = [[20.0, 30.0, 12.0, "bonded"], [40.0, 30.0, 6.0, "bare"]]
        again = read_marks(write_marks(given, 12.0), photo, 12.0)
        assert [(m.x_px, m.y_px, m.radius_px) for m in again] == [(20, 30, 12), (40, 30, 6)]

    @pytest.mark.parametrize("line", ["20, 30", "bonded", "20, 30, torn", "20, x, bonded", "1 2 3 4 bonded"])
    def test_refused(self, line: str, photo: Photo) -> None:
        """A line that isn't a mark is quoted."""
        with pytest.raises(MarkRefused, match="is not a mark"):
            read_marks(line, photo, 12.0)


class TestOrder:
    def test_same_inputs_and_the_marks(self, client: Client, session: Session, measurement: Measurement) -> None:
        """A job is queued with all that the old measurement was given, the marks, and which one they correct."""
        answer = client.post(f"/measurements/{measurement.id}/marks", {"marks": TEXT})
        (job,) = jobs_of(session)
        assert answer.status_code == 303
        assert answer.headers["location"] == f"/jobs/{job.id}"
        assert job.given["marks_of"] == measurement.id
        assert [one[3] for one in job.given["marks"]] == ["bonded", "bare", "unknown"]
        assert {key: job.given[key] for key in measurement.given} == measurement.given

    @pytest.mark.parametrize(
        ("text", "words"),
        [("", "at least one mark"), ("20, 30, torn", "not a mark"), ("900, 30, bare", "outside the photo")],
    )
    def test_wrong_marks(
        self, client: Client, session: Session, measurement: Measurement, text: str, words: str
    ) -> None:
        """The page comes back with the words, and with what was written; nothing is queued."""
        answer = client.post(f"/measurements/{measurement.id}/marks", {"marks": text})
        assert answer.status_code == 422
        assert words in answer.text
        assert text in answer.text
        assert not jobs_of(session)

    def test_while_it_is_measured(self, client: Client, session: Session, measurement: Measurement) -> None:
        """The marks are not lost and no second job is queued."""
        client.post(f"/measurements/{measurement.id}/marks", {"marks": TEXT})
        answer = client.post(f"/measurements/{measurement.id}/marks", {"marks": "1, 2, bare"})
        assert answer.status_code == 422
        assert "being measured" in answer.text
        assert "1, 2, bare" in answer.text
        assert len(jobs_of(session)) == 1

    def test_an_outer_surface_has_none(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """Nothing is bonded or bare on it."""
        outer = make_measurement(session, app, photo, result=RESULT | {"surface": "outer"})
        assert client.get(f"/measurements/{outer.id}/marks").status_code == 404


def marked(session: Session, app: FastAPI, photo: Photo, before: Measurement) -> Measurement:
    """Keep a measurement with two marks that lowered the share from 40 % to 30 %."""
    share = {"value": 0.3, "interval": [0.22, 0.38], "bounds": [0.28, 0.35]}
    marks: list[Any] = [[20.0, 30.0, 12.0, "bonded"], [40.0, 30.0, 12.0, "bare"]]
    return make_measurement(
        session, app, photo,
        given=before.given | {"marks": marks, "marks_of": before.id}, result=RESULT | {"bonded_share_of_face": share},
    )  # fmt: skip


def work_off(app: FastAPI) -> None:
    """Do the oldest waiting job, as the worker would."""
    job = jobs.claim(app.state.engine, 60)
    assert job
    examinations.run_job(app.state.engine, app.state.store, app.state.settings, job)


class TestPages:
    def test_old_and_new_side_by_side(
        self, client: Client, session: Session, app: FastAPI, photo: Photo, measurement: Measurement
    ) -> None:
        """The new measurement shows its marks on the picture, both numbers and the change, and links to the old."""
        new = marked(session, app, photo, measurement)
        page = client.get(f"/measurements/{new.id}").text
        assert "40 % (30 % to 50 %)" in page
        assert "30 % (22 % to 38 %)" in page
        assert "−10.0 points" in page
        assert 'aria-label="The marks: 1 bonded, 2 bare"' in page
        assert f'href="/measurements/{measurement.id}">Before' in page
        assert "with 2 marks" in page

    def test_marks_are_taken_up_again(
        self, client: Client, session: Session, app: FastAPI, photo: Photo, measurement: Measurement
    ) -> None:
        """Whoever changes the marks begins with those that are there."""
        new = marked(session, app, photo, measurement)
        assert "20.0, 30.0, bonded\n40.0, 30.0, bare" in client.get(f"/measurements/{new.id}/marks").text.replace(
            "\r", ""
        )

    def test_without_marks_nothing_is_said_of_them(self, client: Client, measurement: Measurement) -> None:
        """No empty table, and a way to set some."""
        page = client.get(f"/measurements/{measurement.id}").text
        assert "What the marks changed" not in page
        assert f"/measurements/{measurement.id}/marks" in page


class TestMeasured:
    def test_with_marks(self, client: Client, session: Session, app: FastAPI) -> None:
        """A real face, measured, marked, measured again: the second differs and names its marks, the first stays."""
        photo = make_real_photo(session, app)
        order_real(session, photo)
        work_off(app)
        (first,) = session.exec(select(Measurement)).all()
        kept = dict(first.result)
        x, y = first.result["walls"][0]["start_px"]
        client.post(f"/measurements/{first.id}/marks", {"marks": f"{x}, {y}, bonded"})
        work_off(app)
        session.expire_all()
        first, second = session.exec(select(Measurement).order_by(Measurement.id)).all()  # type: ignore[arg-type]
        assert first.result == kept
        assert second.given["marks"][0][3] == "bonded"
        assert second.result["bonded_share_of_face"]["value"] > first.result["bonded_share_of_face"]["value"]


WISH = {"um_per_px": 10, "line_width_mm": 0.4, "layer_height_mm": 0.2}


class TestInterface:
    def test_marks_by_the_interface(self, client: Client, session: Session, photo: Photo) -> None:
        """They go into the job as the page's do."""
        mark = {"x_px": 20, "y_px": 30, "radius_px": 5, "says": "bare"}
        answer = client.post(f"/api/photos/{photo.id}/measurements", json=WISH | {"marks": [mark]})
        assert answer.status_code == 202
        assert jobs_of(session)[-1].given["marks"] == [[20, 30, 5, "bare"]]

    @pytest.mark.parametrize("change", [{"says": "torn"}, {"x_px": 500}, {"radius_px": 0}])
    def test_wrong_marks_by_the_interface(
        self, client: Client, session: Session, photo: Photo, change: dict[str, Any]
    ) -> None:
        """422, and nothing is queued or kept."""
        mark = {"x_px": 20, "y_px": 30, "radius_px": 5, "says": "bare"} | change
        answer = client.post(f"/api/photos/{photo.id}/measurements", json=WISH | {"marks": [mark]})
        assert answer.status_code == 422
        assert not jobs_of(session)
