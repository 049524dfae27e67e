"""The part's page: a timeline from the first revision to today, with what comes next."""

import hashlib
import re
from datetime import date, timedelta
from typing import Any

from sqlmodel import Session, select

from server.records import Attachment, Change, Revision
from tests.server.builders import (
    make_build,
    make_change,
    make_failure,
    make_fragment,
    make_inspection,
    make_locked,
    make_part,
    make_person_verdict,
    make_photo,
    make_revision,
    make_service,
    make_verdict,
)
from tests.server.conftest import Client
from tests.server.world import make_world


def anchors(page: str) -> list[str]:
    """Return the events of the timeline in the order in which they stand."""
    return re.findall(r'<li class="event [^"]*" id="([^"]+)"', page)


class TestTimeline:
    def test_runs_from_the_first_revision_to_today(self, client: Client, session: Session) -> None:
        """Everything stands in the order in which it happened, today after it and what is planned after today."""
        part = make_part(session)
        original = make_revision(session, part, number=0, is_original=True)
        first = make_revision(session, part, drawn_on=date(2026, 1, 5), what_changed="drawn anew", why="it wore out")
        build = make_build(session, first)
        stay = make_service(session, build, removed_on=date(2026, 3, 2), fit_check="rubs", fit_note="at the left cheek")
        seen = make_inspection(
            session, stay, due_on=date(2026, 2, 1), done_on=date(2026, 2, 3), result="worn", note="a bright spot"
        )
        failure = make_failure(session, service=stay)
        change = make_change(session, failure, why="it was bare")
        planned = make_inspection(session, stay, due_on=date.today() + timedelta(days=9))

        page = client.get(f"/parts/{part.id}").text

        assert anchors(page) == [
            f"revision-{original.id}", f"revision-{first.id}", f"build-{build.id}", f"service-{stay.id}",
            f"inspection-{seen.id}", f"failure-{failure.id}", f"removal-{stay.id}", f"change-{change.id}",
            "today", f"inspection-{planned.id}",
        ]  # fmt: skip
        for words in (
            "drawn anew",
            "it wore out",
            "rubs: at the left cheek",
            "a bright spot",
            "it was bare",
            "line 0.45 mm",
        ):
            assert words in page

    def test_a_failure_shows_its_face_and_both_verdicts(self, client: Client, session: Session) -> None:
        """Thumbnail, the program's and the person's conclusion and the person's reason stand with the failure."""
        part = make_part(session)
        failure = make_failure(session, part)
        photo = make_photo(session, failure_id=failure.id, is_rendered=True)
        make_verdict(session, failure, primary="overload")
        make_person_verdict(session, failure, mode="layer_delamination", reason="the face is one plane")

        page = client.get(f"/parts/{part.id}").text

        assert f"/photos/{photo.id}/thumb.jpg" in page
        assert "layer delamination" in page
        assert "the program says overload" in page
        assert "the face is one plane" in page
        assert "rendered" in page

    def test_queries_do_not_grow_with_the_history(self, client: Client, session: Session, count_queries: Any) -> None:
        """A long history takes as many queries as a short one."""
        part = make_part(session)

        def one(number: int) -> None:
            stay = make_service(session, make_build(session, make_revision(session, part, number=number)))
            make_inspection(session, stay)
            failure = make_failure(session, service=stay)
            make_fragment(session, failure, status="missing", can_harm=True)
            make_photo(session, failure_id=failure.id)
            make_change(session, failure)
            make_locked(session, part)

        one(1)
        few = count_queries(lambda: client.get(f"/parts/{part.id}"))
        for number in range(2, 8):
            one(number)
        many = count_queries(lambda: client.get(f"/parts/{part.id}"))

        assert many == few

    def test_an_empty_part_says_how_to_begin(self, client: Client, session: Session) -> None:
        """A new part offers its first revision and the log of a failure."""
        part = make_part(session)

        page = client.get(f"/parts/{part.id}").text

        assert f"/parts/{part.id}/revisions/new" in page
        assert f"/parts/{part.id}/failures/new" in page


class TestNextStep:
    def offered(self, client: Client, part: Any) -> str:
        page = client.get(f"/parts/{part.id}").text
        return page.partition('class="sheet next"')[2].partition("</section>")[0]

    def test_follows_the_state(self, client: Client, session: Session) -> None:
        """After the drawing the build, then the fitting, then inspection or failure, then the change."""
        part = make_part(session)
        revision = make_revision(session, part)
        assert f"/revisions/{revision.id}/builds/new" in self.offered(client, part)
        build = make_build(session, revision)
        assert f"/builds/{build.id}/services/new" in self.offered(client, part)
        stay = make_service(session, build)
        assert f"/services/{stay.id}/inspections/new" in self.offered(client, part)
        failure = make_failure(session, service=stay)
        assert f"/failures/{failure.id}" in self.offered(client, part)
        change = make_change(session, failure)
        assert f"/parts/{part.id}/revisions/new?change={change.id}" in self.offered(client, part)


class TestNextRevision:
    def test_is_filled_in_from_the_change_and_marks_it_done(self, client: Client, session: Session) -> None:
        """The change that a failure asks for becomes the next revision, and names it."""
        part = make_part(session)
        change = make_change(session, make_failure(session, part), what="five walls", why="two let go")
        path = f"/parts/{part.id}/revisions/new?change={change.id}"

        shown = client.get(path).text
        client.post(path, {"what_changed": "five walls", "why": "two let go"})

        assert "five walls</textarea>" in shown
        session.expire_all()
        done = session.get(Revision, session.get(Change, change.id).done_in_revision_id)  # type: ignore[union-attr]
        assert done is not None
        assert (done.number, done.what_changed) == (2, "five walls")
        assert "Done in Revision 2" in client.get(f"/failures/{change.failure_id}").text

    def test_leaves_another_parts_change_alone(self, client: Client, session: Session) -> None:
        """A change of another part is neither filled in nor marked."""
        change = make_change(session, make_failure(session, make_part(session)), what="five walls")
        other = make_part(session)
        path = f"/parts/{other.id}/revisions/new?change={change.id}"

        shown = client.get(path).text
        client.post(path, {"what_changed": "mine"})

        assert "five walls" not in shown
        session.expire_all()
        assert session.get(Change, change.id).done_in_revision_id is None  # type: ignore[union-attr]

    def test_is_not_carried_out_twice(self, client: Client, session: Session) -> None:
        """A change that a revision carried out keeps naming that one."""
        part = make_part(session)
        first = make_revision(session, part, number=5)
        change = make_change(session, make_failure(session, part), done_in_revision_id=first.id)

        client.post(f"/parts/{part.id}/revisions/new?change={change.id}", {"what_changed": "x"})

        session.expire_all()
        assert session.get(Change, change.id).done_in_revision_id == first.id  # type: ignore[union-attr]

    def test_numbers_count_on_from_the_original(self, client: Client, session: Session) -> None:
        """The original is revision 0; without one the first revision is 1; then they count on."""
        part, other = make_part(session), make_part(session)

        client.post(f"/parts/{part.id}/revisions/new", {"is_original": "y"})
        client.post(f"/parts/{part.id}/revisions/new", {"why": "x"})
        client.post(f"/parts/{other.id}/revisions/new", {"why": "x"})

        numbers = session.exec(select(Revision.part_id, Revision.number).order_by(Revision.id)).all()  # type: ignore[arg-type]
        assert [tuple(row) for row in numbers] == [(part.id, 0), (part.id, 1), (other.id, 1)]


class TestSafety:
    def test_a_part_that_can_hurt_carries_its_cautions(self, client: Client, session: Session) -> None:
        """Part, case and every form say that it can hurt someone, how, and who has to judge it."""
        keys = make_world(session, name="Hoist pawl", can_hurt=True, hurt_how="the beam comes down")

        for path in ("/parts/{part}", "/failures/{failure}"):
            page = client.get(path.format(**keys)).text
            assert "the beam comes down" in page
            assert "licensed professional" in page
        for path in (
            "/parts/{part}/edit",
            "/revisions/{revision}/builds/new",
            "/failures/{failure}/fragments/new",
            "/parts/{part}/failures/new",
        ):
            assert "its failure can hurt someone: the beam comes down" in client.get(path.format(**keys)).text

    def test_a_part_that_can_not_hurt_carries_none(self, client: Client, session: Session) -> None:
        """Cautions stand only where they are meant, so that they keep their weight."""
        keys = make_world(session)

        assert "licensed professional" not in client.get(f"/parts/{keys['part']}").text

    def test_a_missing_piece_that_can_harm_is_warned_of_everywhere(self, client: Client, session: Session) -> None:
        """Case, part and bench warn of it until it is found."""
        part = make_part(session)
        failure = make_failure(session, part)
        piece = make_fragment(
            session,
            failure,
            item_label="T3",
            status="missing",
            can_harm=True,
            harm_how="the gears",
            where_may_be="in the sump",
        )
        paths = (f"/failures/{failure.id}", f"/parts/{part.id}", "/")

        assert all(
            "Piece T3 is missing. It can jam or hurt something: the gears. It may be: in the sump."
            in client.get(path).text
            for path in paths
        )
        found = {"item_label": "T3", "status": "recovered", "correction_reason": "found in the sump"}
        assert client.post(f"/fragments/{piece.id}/correct", found).status_code == 303
        assert all("Piece T3 is missing" not in client.get(path).text for path in paths)


class TestFiles:
    def test_come_back_byte_for_byte_as_a_download(self, client: Client, session: Session) -> None:
        """A file is kept under its hash and given back unaltered, never shown as a page."""
        revision = make_revision(session)
        data = bytes(range(256)) * 300

        answer = client.request(
            "POST",
            f"/revisions/{revision.id}/files",
            data={"kind": "slicing"},
            files={"file": ('arm "v2" ä.html', data)},
        )

        kept = session.exec(select(Attachment)).one()
        got = client.get(f"/files/{kept.id}")
        assert answer.status_code == 303
        assert (kept.sha256, kept.kind, kept.size_bytes) == (hashlib.sha256(data).hexdigest(), "slicing", len(data))
        assert got.content == data
        assert got.headers["content-disposition"].startswith("attachment; filename*=UTF-8''arm%20")
        assert got.headers["content-type"] == "application/octet-stream"
        assert kept.sha256[:12] in client.get(f"/parts/{revision.part_id}").text

    def test_nothing_is_kept_of_no_file_or_an_empty_one(self, client: Client, session: Session) -> None:
        """No file, and a file of 0 bytes, are refused in words."""
        revision = make_revision(session)

        none = client.post(f"/revisions/{revision.id}/files", {"kind": "model", "file": "text"})
        empty = client.request("POST", f"/revisions/{revision.id}/files", files={"file": ("a.stl", b"")})

        assert (none.status_code, empty.status_code) == (422, 422)
        assert "a.stl is empty" in empty.text
        assert session.exec(select(Attachment)).all() == []
