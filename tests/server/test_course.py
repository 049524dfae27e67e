"""How the break went over the face, on the pages: drawn where it was found, said in words, or the reason instead."""

from typing import Any

import numpy as np
import pytest
from fastapi import FastAPI
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import Session

from server.measuring.course import SIDES, course_strokes, side, told
from server.pages import STATIC
from server.records import Photo
from tests.server.builders import make_face, make_failure, make_fragment, make_photo
from tests.server.conftest import Client
from tests.server.evidence_builders import make_answer
from tests.server.photo_builders import RESULT, encoded, make_measurement

WHY = "What tore lies about the face as it would by chance."
COURSE: dict[str, Any] = {
    "direction_deg": {"value": 135.0, "interval": [100.0, 160.0]},
    "origin": {"centre_px": [600.0, 100.0], "half_long_px": 90.0, "half_short_px": 40.0, "long_deg": 45.0},
    "hinge": {"line_px": [[200.0, 300.0], [400.0, 500.0]]},
    "torn_by_fifths": [0.1, 0.2, 0.4, 0.6, 0.9],
    "trend": {
        "explained": 0.6, "patches": 40, "patch_mm": 1.2,
        "shuffled": {"as_strong": 0.001, "bar": 0.05, "strength_at_bar": 0.13},
        "patchy": {"as_strong": 0.02, "bar": 0.1, "strength_at_bar": 0.48},
    },
    "roads": [
        {"name": name, "index": index, "reached": at, "half_way": 0.5, "left": 1.0, "torn_share": 0.4}
        for name, index, at in (("outer", 0, 0.0), ("hole0", 1, 0.2), ("filling", None, 0.25))
    ],
    "planes": [
        {"name": "plane", "index": index, "reached": 0.0, "half_way": at, "left": 1.0, "torn_share": at}
        for index, at in ((2, 0.3), (1, 0.7))
    ],
    "planes_order_kept": 0.97,
    "reading": "Contact that parted let go first.",
    "status": "common practice, no source",
    "mate": {"this_half_deg": None, "other_half_deg": None, "agrees": None},
}  # fmt: skip


@pytest.fixture
def photo(session: Session, app: FastAPI) -> Photo:
    """A photo of a face of a failure."""
    face = make_face(session, make_fragment(session, make_failure(session)))
    return make_photo(session, face, app=app, data=encoded(width=900, height=600), width_px=900, height_px=600)


class TestStrokes:
    def test_the_arrow_runs_from_origin_to_hinge(self) -> None:
        """From the ellipse to the hinge line, at the direction; the cone reaches its interval."""
        way, origin, hinge = course_strokes({"course": COURSE})
        begin, end = np.array(way.lines_px[0])
        assert begin == pytest.approx([600, 100])
        assert end == pytest.approx([300.0, 400.0])
        assert np.array(origin.lines_px[0]).mean(0) == pytest.approx([600, 100], abs=3)
        assert hinge.lines_px[0] == [(200.0, 300.0), (400.0, 500.0)]
        cone = np.array(way.doubt_px[0][1:-1]) - begin
        angles = np.degrees(np.arctan2(cone[:, 1], cone[:, 0]))
        assert (angles.min(), angles.max()) == pytest.approx((100, 160))

    def test_strokes_stay_on_the_face(self) -> None:
        """With an outline the ellipse and the arrow end at its edge, but for the cone's arc."""
        ring = [[0, 0], [620, 0], [620, 300], [0, 300]]
        way, origin, _ = course_strokes({"course": COURSE, "outline_px": ring})
        for line in (*origin.lines_px, way.lines_px[0]):
            low, high = np.min(line, axis=0), np.max(line, axis=0)
            assert (low >= -1).all()
            assert (high <= [621, 301]).all()

    def test_nothing_is_drawn_without_a_course(self) -> None:
        """None, and a result of a program that did not look for one."""
        assert course_strokes({"course": None}) == []
        assert course_strokes({}) == []

    @given(st.floats(-720, 720))
    def test_a_side_and_its_opposite(self, deg: float) -> None:
        """The side named lies within 22.5 degrees, and the opposite direction names the opposite side."""
        number = SIDES.index(side(deg))
        assert abs((number * 45 - deg + 180) % 360 - 180) <= 22.5 + 1e-6
        assert abs(SIDES.index(side(deg + 180)) - number) in (3, 4, 5)


class TestPages:
    def test_the_measurement_says_it_and_draws_it(
        self, client: Client, session: Session, app: FastAPI, photo: Photo
    ) -> None:
        """Sentence, figures, status and the three layers; each layer has its switch in the style sheet."""
        found = make_measurement(session, app, photo, result=RESULT | {"course": COURSE})
        text = client.get(f"/measurements/{found.id}").text
        assert "let go first at the upper right" in text
        assert "hung last at the lower left" in text
        assert "135°, 100° to 160°" in text
        assert "wall 1 at 0 %, wall 2 of hole 1 at 20 %, filling at 25 %" in text
        assert "no. 2 (30 % torn), no. 1 (70 % torn)" in text
        assert "common practice, no source" in text
        style = (STATIC / "css" / "measurement.css").read_text(encoding="utf-8")
        for name in ("way", "origin", "hinge"):
            assert f'id="show-{name}"' in text
            assert f"layer layer-{name}" in text
            assert f":has(#show-{name}:not(:checked)) .layer-{name}" in style

    def test_none_has_its_reason(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """The reason stands where the sentence would; nothing is drawn."""
        result = RESULT | {"course": None, "reasons": {"course": WHY}}
        text = client.get(f"/measurements/{make_measurement(session, app, photo, result=result).id}").text
        assert f"Not told. {WHY}" in text
        assert "show-way" not in text

    def test_an_earlier_measurement_says_that_it_did_not_look(self) -> None:
        """A record from before this was measured."""
        assert "did not look for it" in told({"surface": "fracture"}).why

    def test_the_verdict_has_the_sentence_and_what_was_answered(
        self, client: Client, session: Session, app: FastAPI, photo: Photo
    ) -> None:
        """Beside the verdict: the face's sentence, and where a person saw drawn lips."""
        make_measurement(session, app, photo, result=RESULT | {"course": COURSE})
        failure = make_failure(session)
        face = make_face(session, make_fragment(session, failure))
        other = make_photo(session, face, app=app, data=encoded(width=80, height=60), width_px=80, height_px=60)
        found = make_measurement(session, app, other, result=RESULT | {"course": COURSE})
        make_answer(session, failure, "drawn_lips", "yes", note="along the lower left rim")
        text = client.get(f"/failures/{failure.id}/verdict").text
        assert "let go first at the upper right" in text
        assert f"/measurements/{found.id}#course-title" in text
        assert "along the lower left rim" in text

    def test_the_interface_gives_it(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """The published interface hands on the whole entry."""
        found = make_measurement(session, app, photo, result=RESULT | {"course": COURSE})
        assert client.get(f"/api/measurements/{found.id}").json()["course"] == COURSE

    def test_print_has_its_legend(self, session: Session, app: FastAPI, client: Client, photo: Photo) -> None:
        """The flat picture is made with strokes and a longer legend."""
        plain = make_measurement(session, app, photo)
        drawn = make_measurement(session, app, photo, result=RESULT | {"course": COURSE}, px_per_pixel=11.0)
        sizes = [len(client.get(f"/measurements/{one.id}/overlay.jpg").content) for one in (plain, drawn)]
        assert sizes[1] > sizes[0] > 0
