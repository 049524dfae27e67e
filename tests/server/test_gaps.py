"""Gaps and their causes: found on the page, asked for, kept, corrected, told on the case and in the summary."""

from typing import Any

import numpy as np
import pytest
from fastapi import FastAPI
from sqlmodel import Session, select

from server.gaps.found import gaps_of
from server.measuring.strips import strips_of
from server.records import Face, Fragment, GapCause, Measurement, Photo
from server.summary.words import CAUSED, gap_cause_words
from server.wording import CODES
from tests.server.builders import make_face, make_fragment, make_photo
from tests.server.conftest import Client
from tests.server.photo_builders import RESULT, encoded, make_measurement

MIDDLE, UM = np.array([450.0, 300.0]), 10.0
ANSWERS = {"model": "yes", "toolpath": "yes", "seam": "yes", "cause": "", "who": "Runa", "note": "NOTE-SECRET"}


def ring(radius_px: float) -> list[list[float]]:
    angle = np.arange(400) * 2 * np.pi / 400
    return (MIDDLE + radius_px * np.column_stack([np.cos(angle), np.sin(angle)])).tolist()


def wall(index: int, *gaps: tuple[float, float], **more: Any) -> dict[str, Any]:
    """A round wall with gaps from and to these shares of its length."""
    radius = 250 - (index + 0.5) * 40
    length = 2 * np.pi * radius * UM / 1000

    def at(share: float) -> list[float]:
        turn = 2 * np.pi * share
        return (MIDDLE + radius * np.array([np.cos(turn), np.sin(turn)])).tolist()

    rows = [
        {
            "start_mm": a * length,
            "end_mm": b * length,
            "length_mm": (b - a) * length,
            "start_px": at(a),
            "end_px": at(b),
        }
        for a, b in gaps
    ]
    return {
        "outline": "outer", "index": index, "start_px": at(0), "length_mm": length, "continuity": 0.9,
        "bonded_fraction": 0.5, "gaps": [row | more for row in rows],
    }  # fmt: skip


SEAM = [wall(0, (0.3, 0.36)), wall(1, (0.302, 0.43)), wall(2, (0.299, 0.39))]


def measured(session: Session, app: FastAPI, walls: list[dict[str, Any]], face: Face | None = None) -> Measurement:
    photo = make_photo(session, face, app=app, data=encoded(width=900, height=600), width_px=900, height_px=600)
    result = RESULT | {"outline_px": ring(250), "walls": walls}
    length = max((w["length_mm"] for w in walls), default=1.0)
    found = make_measurement(session, app, photo, result=result)
    strips = [found.strips[0] | {"outline": w["outline"], "index": w["index"], "length_mm": length} for w in walls]
    found.strips = strips
    session.add(found)
    session.commit()
    session.refresh(found)
    return found


def page_of(client: Client, found: Measurement) -> str:
    answer = client.get(f"/measurements/{found.id}")
    assert answer.status_code == 200
    return answer.text


class TestFound:
    def test_seam_is_marked_where_gaps_line_up(self, client: Client, session: Session, app: FastAPI) -> None:
        """Three walls' gaps begin at one line: it is drawn on the picture and on each strip, and said in words."""
        found = measured(session, app, SEAM)
        gaps, seams = gaps_of(found)
        assert [gap.number for gap in gaps] == [1, 2, 3]
        assert all(gap.hint.at_seam for gap in gaps)
        assert seams[0].at_mm["outer", 1] == pytest.approx(SEAM[1]["gaps"][0]["start_mm"])
        assert [len(strip.seams) for strip in strips_of(found, [seams[0].at_mm])] == [1, 1, 1]
        page = page_of(client, found)
        for words in ("show-seam", "Gaps of 3 walls begin or end at one line", "likely the seam", "show-gaps"):
            assert words in page

    def test_course_follows_the_wall(self, session: Session, app: FastAPI) -> None:
        """The gap's course on the photo stays on its wall, 40 px a road, from end to end."""
        for gap in gaps_of(measured(session, app, SEAM))[0]:
            radius = np.hypot(*(gap.path_px - MIDDLE).T)
            assert radius == pytest.approx(np.full(len(radius), 250 - (gap.index + 0.5) * 40), abs=2)

    def test_no_seam_of_scattered_gaps(self, client: Client, session: Session, app: FastAPI) -> None:
        """Gaps at different places are listed without a seam."""
        page = page_of(client, measured(session, app, [wall(0, (0.1, 0.2)), wall(1, (0.5, 0.52)), wall(2, (0.8, 0.9))]))
        assert "show-gaps" in page
        assert "show-seam" not in page
        assert page.count("not on the neighbouring walls") == 3

    @pytest.mark.parametrize(
        ("confirmed", "words"), [(0.9, "yes (90 % of it)"), (0.2, "no (20 % of it)"), (1.0, "yes"), (None, "tell")]
    )
    def test_other_half(
        self, client: Client, session: Session, app: FastAPI, confirmed: float | None, words: str
    ) -> None:
        """Each gap says whether the other half confirms it; that it can't be told is said too."""
        page = page_of(client, measured(session, app, [wall(0, (0.1, 0.2), confirmed=confirmed)]))
        assert "Confirmed by the other half" in page
        assert words in page

    def test_without_a_mate_nothing_is_claimed(self, client: Client, session: Session, app: FastAPI) -> None:
        """A face measured alone has no line about the other half."""
        assert "Confirmed by the other half" not in page_of(client, measured(session, app, SEAM))

    def test_no_gap(self, client: Client, session: Session, app: FastAPI) -> None:
        """Whole walls have no list of gaps."""
        assert 'id="gaps"' not in page_of(client, measured(session, app, [wall(0)]))

    def test_gap_around_a_hole(self, client: Client, session: Session, app: FastAPI) -> None:
        """A hole's wall lies outside its outline; a result that names no hole lists nothing and fails nothing."""
        hole = [wall(0, (0.2, 0.4)) | {"outline": "hole0"}]
        found = measured(session, app, hole)
        assert gaps_of(found) == ([], [])
        found = make_measurement(
            session, app, session.get(Photo, found.photo_id), result=found.result | {"holes_px": [ring(210)]}
        )
        (gap,) = gaps_of(found)[0]
        assert gap.wall == "Hole 1, wall 1 (at the edge)"
        assert np.hypot(*(gap.path_px - MIDDLE).T) == pytest.approx(np.full(len(gap.path_px), 230), abs=2)
        assert "Hole 1, wall 1" in page_of(client, found)


class TestAsking:
    def test_answers_settle_it(self, client: Client, session: Session, app: FastAPI) -> None:
        """Left to the answers, the cause they point to is kept with them; the page then shows it."""
        found = measured(session, app, SEAM)
        answer = client.post(f"/measurements/{found.id}/gaps/2", ANSWERS)
        assert answer.status_code == 303
        assert answer.headers["location"] == f"/measurements/{found.id}#gap-2"
        kept = session.exec(select(GapCause)).one()
        assert (kept.cause, kept.outline, kept.wall_index, kept.who) == ("seam", "outer", 1, "Runa")
        assert kept.start_mm == pytest.approx(SEAM[1]["gaps"][0]["start_mm"])
        assert kept.answers == {"model": "yes", "toolpath": "yes", "seam": "yes"}
        page = page_of(client, found)
        assert "seam: a road begins or ends there" in page
        assert page.count("Correct the cause") == 1
        assert page.count("Say the cause") == 2

    def test_correction_is_added(self, client: Client, session: Session, app: FastAPI) -> None:
        """A correction names the entry it replaces; the form opens with what was said, without the name."""
        found = measured(session, app, SEAM)
        client.post(f"/measurements/{found.id}/gaps/1", ANSWERS)
        form = client.get(f"/measurements/{found.id}/gaps/1").text
        assert "Runa" in form
        assert 'value="Runa"' not in form
        client.post(f"/measurements/{found.id}/gaps/1", ANSWERS | {"cause": "torn_out", "who": "Pim"})
        first, second = session.exec(select(GapCause).order_by(GapCause.id)).all()  # type: ignore[arg-type]
        assert (second.replaces_id, second.cause, first.cause) == (first.id, "torn_out", "seam")
        assert "Said before" in client.get(f"/measurements/{found.id}/gaps/1").text

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"who": ""}, "Write something here."),
            ({"cause": "gremlins"}, "be chosen here"),
            ({"seam": "maybe"}, "be chosen here"),
            ({"toolpath": "no", "model": "", "seam": ""}, "settle it"),
        ],
    )
    def test_wrong_form(
        self, client: Client, session: Session, app: FastAPI, changes: dict[str, str], words: str
    ) -> None:
        """A wrong form comes back with 422 and words beside its field; nothing is kept."""
        found = measured(session, app, SEAM)
        answer = client.post(f"/measurements/{found.id}/gaps/1", ANSWERS | changes)
        assert answer.status_code == 422
        assert words in answer.text
        assert "NOTE-SECRET" in answer.text
        assert session.exec(select(GapCause)).all() == []

    def test_no_such_gap(self, client: Client, session: Session, app: FastAPI) -> None:
        """A number that isn't there is not found."""
        found = measured(session, app, SEAM)
        assert client.get(f"/measurements/{found.id}/gaps/4").status_code == 404
        assert client.get(f"/measurements/{found.id + 9}/gaps/1").status_code == 404

    def test_known_from_another_measurement(self, client: Client, session: Session, app: FastAPI) -> None:
        """Measured again, the gap is asked about anew, and what was said of the same place before is shown."""
        found = measured(session, app, SEAM)
        client.post(f"/measurements/{found.id}/gaps/1", ANSWERS)
        photo = session.get(Photo, found.photo_id)
        assert photo is not None
        again = make_measurement(session, app, photo, result=found.result)
        page = client.get(f"/measurements/{again.id}/gaps/1").text
        assert "In another measurement of this photo Runa said: seam" in page
        assert "Said so far" not in page


class TestTold:
    def test_case_and_summary(self, client: Client, session: Session, app: FastAPI) -> None:
        """The case counts gaps by cause, open ones too; the summary says it plainly, without the note."""
        piece = make_fragment(session)
        found = measured(session, app, SEAM, make_face(session, piece))
        client.post(f"/measurements/{found.id}/gaps/1", ANSWERS)
        client.post(f"/measurements/{found.id}/gaps/2", ANSWERS | {"cause": "extrusion"})
        session.expire_all()
        owner = session.get(Fragment, piece.id)
        assert owner is not None
        case = client.get(f"/failures/{owner.failure_id}").text
        assert "3 gaps: 1 extrusion, 1 seam, 1 cause not asked yet" in case
        summary = client.get(f"/failures/{owner.failure_id}/summary/print").text
        assert CAUSED["seam"] in summary
        assert "The reason for 1 more was not looked into." in summary
        assert "NOTE-SECRET" not in summary

    def test_plain_words(self) -> None:
        """Nothing is said where nobody looked; every cause has a customer's words."""
        assert gap_cause_words([("", 3, 2.0)]) == ""
        assert gap_cause_words([("seam", 1, 1.25)]).startswith("Why it is missing: at one stretch (1.2 mm): each line")
        assert set(CAUSED) == set(CODES["gap_cause"])
