"""Quick entry: on which part a failure is logged, what is kept, and how the bench reminds of the rest."""

from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import Session, col, select

from server.records import Failure, FailureEntry, FragmentEntry, Opinion, OpinionLink, Part, Photo, Revision
from server.records.base import now
from tests.server.builders import (
    keep,
    make_build,
    make_face,
    make_failure,
    make_fragment,
    make_part,
    make_person_verdict,
    make_photo,
    make_revision,
    make_service,
    photo_bytes,
)
from tests.server.conftest import Client

TODAY = date.today()
SAID = {"part": "Lid hinge", "happened": "snapped while opening", "where": "shed", "found_on": str(TODAY)}


def newest(session: Session, kind: Any) -> Any:
    session.expire_all()
    return session.exec(select(kind).order_by(col(kind.id).desc())).first()


def count(session: Session, kind: Any) -> int:
    session.expire_all()
    return len(session.exec(select(kind)).all())


def part_of(session: Session, failure: Failure) -> Part:
    revision = session.get(Revision, failure.revision_id)
    part = session.get(Part, revision.part_id) if revision else None
    assert part
    return part


def section(client: Client, heading: str) -> str:
    return client.get("/").text.partition(f"<h2>{heading}</h2>")[2].partition("</section>")[0]


class TestEntry:
    def test_new_part_with_photos(self, client: Client, session: Session) -> None:
        """One sending makes part, failure, account and photos; the case page follows."""
        files = [("photos", (f"{n}.jpg", photo_bytes(colour=(n, 90, 90)), "image/jpeg")) for n in (10, 20)]
        answer = client.post("/quick", {**SAID, "can_hurt": "y"}, files=files)

        failure, said = newest(session, Failure), newest(session, FailureEntry)
        assert answer.status_code == 303
        assert answer.headers["location"].endswith(f"/failures/{failure.id}")
        assert (part_of(session, failure).name, part_of(session, failure).can_hurt) == ("Lid hinge", True)
        assert (said.found_place, said.happened_before, said.found_on) == ("shed", SAID["happened"], TODAY)
        assert [photo.failure_id for photo in session.exec(select(Photo))] == [failure.id, failure.id]

    def test_part_of_the_record_in_any_case(self, client: Client, session: Session) -> None:
        """A part that is there gets the failure, capitals or not, umlauts too; no second part is made."""
        part = make_part(session, name="Türgriff")
        client.post("/quick", {**SAID, "part": "TÜRGRIFF"})

        assert part_of(session, newest(session, Failure)).id == part.id
        assert count(session, Part) == 1

    def test_it_is_the_fitting_that_was_in_service(self, client: Client, session: Session) -> None:
        """The newest fitting in service on that day; not one removed before, fitted later, or that broke already."""
        part = make_part(session, name="Lid hinge")
        revision = make_revision(session, part)
        fitted = {"fitted_on": TODAY - timedelta(30)}
        whole = make_service(session, make_build(session, revision), **fitted)
        make_service(session, make_build(session, revision), **fitted, removed_on=TODAY - timedelta(9))
        broken = make_service(session, make_build(session, revision), **fitted)
        make_failure(session, service=broken)
        make_service(session, make_build(session, revision), fitted_on=TODAY)
        client.post("/quick", {**SAID, "found_on": str(TODAY - timedelta(1))})

        assert newest(session, Failure).service_id == whole.id

    def test_without_a_fitting_no_build_is_claimed(self, client: Client, session: Session) -> None:
        """A build that nobody fitted isn't said to be what broke: only the revision is."""
        revision = make_revision(session, make_part(session, name="Lid hinge"))
        make_build(session, revision)
        client.post("/quick", SAID)

        failure = newest(session, Failure)
        assert (failure.revision_id, failure.build_id, failure.service_id) == (revision.id, None, None)

    def test_several_parts_of_one_name_have_to_be_told_apart(self, client: Client, session: Session) -> None:
        """Nothing is guessed: refused with the names to choose from; with the number it is that one."""
        parts = [make_part(session, name="Lid hinge") for _ in range(2)]
        refused = client.post("/quick", SAID)
        assert refused.status_code == 422
        assert f"Lid hinge · {parts[0].id}" in refused.text
        assert count(session, Failure) == 0

        client.post("/quick", {**SAID, "part": f"Lid hinge · {parts[0].id}"})
        assert part_of(session, newest(session, Failure)).id == parts[0].id

    def test_sent_twice_it_is_one_failure(self, client: Client, session: Session) -> None:
        """A phone that missed the answer sends again: the same failure; other words are another one."""
        file = {"photos": ("a.jpg", photo_bytes(), "image/jpeg")}
        first, again = client.post("/quick", SAID, files=file), client.post("/quick", SAID, files=file)
        assert first.headers["location"] == again.headers["location"]
        assert (count(session, Failure), count(session, Part), count(session, Photo)) == (1, 1, 1)

        client.post("/quick", {**SAID, "happened": "broke again"})
        assert (count(session, Failure), count(session, Part)) == (2, 1)

    def test_a_photo_that_can_not_be_kept_loses_nothing_else(self, client: Client, session: Session) -> None:
        """The failure and the good photo are kept, the bad one is named with the reason."""
        good, bad = ("a.jpg", photo_bytes(), "image/jpeg"), ("b.jpg", b"no photo", "image/jpeg")
        page = client.post("/quick", SAID, files=[("photos", good), ("photos", bad)])
        told = client.post("/quick", SAID, files={"photos": bad}, headers={"accept": "application/json"}).json()

        failure = newest(session, Failure)
        assert page.status_code == 200
        assert "b.jpg" in page.text
        assert f'href="/failures/{failure.id}"' in page.text
        assert told["go"] == f"/failures/{failure.id}"
        assert [one["file_name"] for one in told["refused"]] == ["b.jpg"]
        assert count(session, Photo) == 1

    @pytest.mark.parametrize(
        ("wrong", "field"),
        [
            ({"part": " "}, "part"),
            ({"happened": ""}, "happened"),
            ({"found_on": str(TODAY + timedelta(1))}, "found_on"),
        ],
    )
    def test_what_is_missing_is_said_beside_its_field(
        self, client: Client, session: Session, wrong: dict[str, str], field: str
    ) -> None:
        """Refused whole with what was typed still there; a script is told the fields."""
        page = client.post("/quick", {**SAID, **wrong})
        told = client.post("/quick", {**SAID, **wrong}, headers={"accept": "application/json"})

        assert (page.status_code, told.status_code) == (422, 422)
        assert 'value="shed"' in page.text
        assert list(told.json()["errors"]) == [field]
        assert count(session, Failure) == count(session, Part) == 0

    def test_what_a_name_means_is_told_before_sending(self, client: Client, session: Session) -> None:
        """In the record, new, or several; script comes back as text of JSON."""
        make_part(session, name="Peg", fitted_where="loom")
        assert "Peg, loom" in client.get("/quick/part?name=peg").json()["words"]
        assert "new part" in client.get("/quick/part?name=<script>").json()["words"]
        assert client.get("/quick/part?name=%00").json()["words"] == ""

    def test_part_page_leads_here_with_its_name(self, client: Client, session: Session) -> None:
        """/quick?part= fills in the part, by its number where another one bears the same name."""
        one = make_part(session, name="Peg")
        assert 'value="Peg"' in client.get(f"/quick?part={one.id}").text
        make_part(session, name="Peg")
        assert f'value="Peg · {one.id}"' in client.get(f"/quick?part={one.id}").text
        assert client.get("/quick?part=x").status_code == client.get("/quick?part=999").status_code == 200

    def test_finishing_begins_with_the_account(self, client: Client, session: Session) -> None:
        """The case offers to complete the account, with the reason for the second entry filled in."""
        client.post("/quick", SAID)
        failure = newest(session, Failure)
        assert "Complete the account" in client.get(f"/failures/{failure.id}").text
        assert "Completed after the first entry." in client.get(f"/failures/{failure.id}/correct").text


class TestBench:
    def test_unfinished_until_a_face_is_photographed(self, client: Client, session: Session) -> None:
        """What is missing next is named; once a face is photographed it waits for a verdict instead."""
        client.post("/quick", SAID)
        failure = newest(session, Failure)
        assert "missing: condition as found, pieces" in section(client, "Unfinished entries")
        assert "Lid hinge" not in section(client, "Failures without a verdict")
        piece = make_fragment(session, failure)
        assert "missing: condition as found, faces" in section(client, "Unfinished entries")
        face = make_face(session, piece)
        assert "missing: condition as found, photos of its faces" in section(client, "Unfinished entries")
        make_photo(session, face)
        assert "Lid hinge" not in section(client, "Unfinished entries")
        assert "Lid hinge" in section(client, "Failures without a verdict")

    def test_a_judged_one_is_finished(self, client: Client, session: Session) -> None:
        """A person may conclude without a photo, for instance that it can't be told any more."""
        make_person_verdict(session, make_failure(session, make_part(session, name="Gone peg")), mode="undetermined")
        assert "Gone peg" not in section(client, "Unfinished entries")

    def test_opinions_that_are_awaited(self, client: Client, session: Session) -> None:
        """Open and unanswered links, those past their day marked; answered, withdrawn and run out ones are left out."""

        def link(name: str, **more: Any) -> OpinionLink:
            failure = make_failure(session, make_part(session, name=name))
            values = {"failure_id": failure.id, "token_sha256": name, "expires_on": TODAY + timedelta(5)}
            return keep(session, OpinionLink(**{**values, **more}))

        link("No day")
        link("Late peg", for_whom="R. Vane", answer_by=TODAY - timedelta(2))
        link("Soon peg", answer_by=TODAY + timedelta(1))
        link("Withdrawn peg", revoked_at=now())
        link("Run out peg", expires_on=TODAY - timedelta(1))
        answered = link("Answered peg")
        keep(session, Opinion(link_id=answered.id, failure_id=answered.failure_id, who="R. Vane"))

        shown = section(client, "Opinions awaited")
        assert shown.index("Late peg") < shown.index("Soon peg") < shown.index("No day")
        assert "asked R. Vane" in shown
        assert "2 days ago" in shown
        assert shown.count('class="late"') == 1
        assert not [name for name in ("Withdrawn peg", "Run out peg", "Answered peg") if name in shown]

    def test_queries_do_not_grow(self, client: Client, session: Session, count_queries: Any) -> None:
        """The bench takes as many queries for ten unfinished entries as for two."""
        counts = []
        for many in (2, 8):
            for _ in range(many):
                make_fragment(session, make_failure(session))
            counts.append(count_queries(lambda: client.get("/")))
        assert counts[0] == counts[1]

    def test_a_loose_piece_is_warned_of_until_the_newest_word_on_it_is_another(
        self, client: Client, session: Session
    ) -> None:
        """Of several entries on a piece the newest counts: found since is no warning, lost since is one."""

        def lost(name: str) -> int:
            failure = make_failure(session, make_part(session, name=name))
            return make_fragment(session, failure, item_label=name, status="missing", can_harm=True).id or 0

        found_since, still = lost("Found peg"), lost("Lost peg")
        keep(session, FragmentEntry(fragment_id=found_since, status="recovered"))
        keep(session, FragmentEntry(fragment_id=still, status="missing", can_harm=True, harm_how="the belt"))

        page = client.get("/").text
        assert "Piece Found peg is missing" not in page
        assert page.count("Piece Lost peg is missing. It can jam or hurt something: the belt.") == 1
