"""The account of a failure, its corrections, its pieces, break sites, faces and treatments."""

from datetime import date, timedelta

import pytest
from sqlmodel import Session, select

from server.records import (
    BreakSite,
    Change,
    Face,
    Failure,
    FailureEntry,
    Fragment,
    FragmentEntry,
    Revision,
    SiteEntry,
    Treatment,
)
from tests.server.builders import (
    keep,
    make_build,
    make_change,
    make_face,
    make_failure,
    make_fragment,
    make_inspection,
    make_part,
    make_person_verdict,
    make_photo,
    make_revision,
    make_service,
    make_site,
    make_verdict,
)
from tests.server.conftest import Client
from tests.server.world import make_world


class TestWhatBroke:
    def test_a_fitting_brings_its_build_and_revision(self, client: Client, session: Session) -> None:
        """Choosing the fitting says which build and which revision broke."""
        stay = make_service(session)
        revision = session.exec(select(Revision)).one()
        make_build(session)  # another part's, which must not be taken
        sent = {"broken_one": f"service-{stay.id}", "found_on": "2026-03-01"}

        client.post(f"/parts/{revision.part_id}/failures/new", sent)

        failure = session.exec(select(Failure)).one()
        assert (failure.service_id, failure.build_id, failure.revision_id) == (stay.id, stay.build_id, revision.id)

    @pytest.mark.parametrize("kind", ["service", "build", "revision"])
    def test_another_parts_records_are_refused(self, client: Client, session: Session, kind: str) -> None:
        """A fitting, build or revision of another part can't be chosen; nothing is stored, the form stays filled in."""
        keys = make_world(session)
        other = make_part(session)
        make_revision(session, other)
        before = len(session.exec(select(Failure)).all())

        sent = {"broken_one": f"{kind}-{keys[kind]}", "found_on": "2026-03-01", "noticed_how": "it clicked"}
        answer = client.post(f"/parts/{other.id}/failures/new", sent)

        assert answer.status_code == 422
        assert "Choose one from the list." in answer.text
        assert "it clicked</textarea>" in answer.text
        assert len(session.exec(select(Failure)).all()) == before

    def test_the_original_becomes_revision_0(self, client: Client, session: Session) -> None:
        """A part without any revision can have its original's failure logged at once."""
        part = make_part(session)

        client.post(f"/parts/{part.id}/failures/new", {"broken_one": "original", "found_on": "2026-03-01"})

        revision = session.exec(select(Revision)).one()
        assert (revision.number, revision.is_original, revision.part_id) == (0, True, part.id)
        assert session.exec(select(Failure)).one().revision_id == revision.id

    def test_a_refused_form_makes_no_original(self, client: Client, session: Session) -> None:
        """Nothing is half stored: no revision 0 without its failure."""
        part = make_part(session)

        assert client.post(f"/parts/{part.id}/failures/new", {"broken_one": "original"}).status_code == 422
        assert session.exec(select(Revision)).all() == []


class TestFoundOn:
    def test_not_before_it_was_fitted(self, client: Client, session: Session) -> None:
        """A fitting can't have failed before it was one; nor a build before it was built."""
        stay = make_service(session, fitted_on=date(2026, 1, 15))
        part_id = session.exec(select(Revision)).one().part_id
        path = f"/parts/{part_id}/failures/new"

        early = client.post(path, {"broken_one": f"service-{stay.id}", "found_on": "2026-01-14"})
        unbuilt = client.post(path, {"broken_one": f"build-{stay.build_id}", "found_on": "2026-01-09"})

        assert (early.status_code, unbuilt.status_code) == (422, 422)
        assert "fitted later, on 2026-01-15" in early.text
        assert "built later, on 2026-01-10" in unbuilt.text
        assert session.exec(select(Failure)).all() == []
        assert client.post(path, {"broken_one": f"service-{stay.id}", "found_on": "2026-01-15"}).status_code == 303

    def test_not_in_the_future(self, client: Client, session: Session) -> None:
        """Nobody finds a failure tomorrow."""
        part = make_part(session)
        tomorrow = str(date.today() + timedelta(days=1))

        answer = client.post(f"/parts/{part.id}/failures/new", {"broken_one": "original", "found_on": tomorrow})

        assert answer.status_code == 422
        assert "in the future" in answer.text


class TestCorrections:
    def test_of_an_account_keep_the_entry_before(self, client: Client, session: Session) -> None:
        """A correction adds an entry that names the old one; the old one stays below it, with the reason."""
        stay = make_service(session)
        failure = make_failure(session, service=stay, noticed_how="it squealed", entered_by="A")
        sent = {
            "broken_one": f"service-{stay.id}",
            "found_on": "2026-03-02",
            "noticed_how": "it clicked",
            "correction_reason": "told again",
        }

        client.post(f"/failures/{failure.id}/correct", sent)

        first, second = session.exec(select(FailureEntry).order_by(FailureEntry.id)).all()  # type: ignore[arg-type]
        page = client.get(f"/failures/{failure.id}").text
        assert (first.noticed_how, second.replaces_id) == ("it squealed", first.id)
        assert page.index("it clicked") < page.index("corrected because: told again") < page.index("it squealed")

    def test_need_their_reason(self, client: Client, session: Session) -> None:
        """Without a reason nothing is corrected."""
        keys = make_world(session)
        sent = {
            "failures": {"broken_one": f"service-{keys['service']}", "found_on": "2026-03-02"},
            "fragments": {"item_label": "1", "status": "missing"},
            "sites": {"name": "root"},
            "changes": {"what": "x"},
            "treatments": {"method": "dried", "done_on": "2026-03-03"},
        }

        for area, values in sent.items():
            key = keys[
                {
                    "failures": "failure",
                    "fragments": "fragment",
                    "sites": "site",
                    "changes": "change",
                    "treatments": "treatment",
                }[area]
            ]
            answer = client.post(f"/{area}/{key}/correct", values)
            assert answer.status_code == 422
            assert 'id="correction_reason-error"' in answer.text

    def test_of_what_broke_keep_the_words_before(self, client: Client, session: Session) -> None:
        """Where another fitting is named, the entry says which one it was before."""
        stay = make_service(session)
        later = make_service(
            session,
            make_build(session, session.exec(select(Revision)).one(), built_on=date(2026, 2, 1)),
            fitted_on=date(2026, 2, 2),
        )
        failure = make_failure(session, service=stay, case_label="A-1")
        sent = {
            "broken_one": f"service-{later.id}",
            "case_label": "A-2",
            "found_on": "2026-03-02",
            "correction_reason": "bags mixed up",
        }

        client.post(f"/failures/{failure.id}/correct", sent)

        session.expire_all()
        entry = session.exec(select(FailureEntry).order_by(FailureEntry.id.desc())).first()  # type: ignore[union-attr]
        assert entry is not None
        assert "fitted 15 Jan 2026".casefold() in entry.correction_reason.casefold()
        assert "A-1" in entry.correction_reason
        assert session.get(Failure, failure.id).service_id == later.id  # type: ignore[union-attr]

    def test_of_pieces_sites_steps_and_changes_keep_theirs(self, client: Client, session: Session) -> None:
        """Each correction is a new row that names the one it replaces, and both can be read on the case."""
        keys = make_world(session)
        client.post(
            f"/fragments/{keys['fragment']}/correct",
            {"item_label": "1b", "status": "missing", "correction_reason": "reason A"},
        )
        client.post(
            f"/sites/{keys['site']}/correct",
            {"name": "tip", "sequence": "first", "how_known": "ridges", "correction_reason": "reason B"},
        )
        client.post(
            f"/treatments/{keys['treatment']}/correct",
            {"method": "mild_detergent", "done_on": "2026-03-02", "correction_reason": "reason C"},
        )
        client.post(f"/changes/{keys['change']}/correct", {"what": "five walls", "correction_reason": "reason D"})

        page = client.get(f"/failures/{keys['failure']}").text

        for kind in (FragmentEntry, SiteEntry, Treatment, Change):
            rows = session.exec(select(kind).order_by(kind.id)).all()  # type: ignore[arg-type]
            assert [row.replaces_id for row in rows] == [None, rows[0].id]
        for words in (
            "reason A",
            "reason B",
            "reason C",
            "reason D",
            "Its label was: 1.",
            "Its name was: root of the arm.",
            "four walls",
            "five walls",
        ):
            assert words in page
        assert session.exec(select(Fragment)).one().item_label == "1b"

    def test_are_made_of_the_newest_entry_only(self, client: Client, session: Session) -> None:
        """A change or step that was corrected already isn't corrected a second time, which would fork its history."""
        change = make_change(session)
        make_change(session, session.get(Failure, change.failure_id), replaces_id=change.id)

        answer = client.post(f"/changes/{change.id}/correct", {"what": "x", "correction_reason": "y"})

        assert answer.status_code == 422
        assert "corrected already" in answer.text
        assert len(session.exec(select(Change)).all()) == 2


class TestPieces:
    def test_labels_are_told_apart(self, client: Client, session: Session) -> None:
        """No two pieces of a failure bear one label; the next free number is proposed."""
        piece = make_fragment(session, item_label="1")
        path = f"/failures/{piece.failure_id}/fragments/new"

        answer = client.post(path, {"item_label": "1", "status": "recovered"})

        assert answer.status_code == 422
        assert "already labelled 1" in answer.text
        assert 'value="2"' in client.get(path).text

    def test_a_recovered_piece_is_not_warned_of(self, client: Client, session: Session) -> None:
        """That a piece can jam something is said of missing ones."""
        failure = make_failure(session)

        answer = client.post(
            f"/failures/{failure.id}/fragments/new", {"item_label": "1", "status": "recovered", "can_harm": "y"}
        )

        assert answer.status_code == 422
        assert 'id="can_harm-error"' in answer.text
        assert session.exec(select(Fragment)).all() == []


class TestSites:
    def test_only_one_let_go_first(self, client: Client, session: Session) -> None:
        """A second "first" is refused with the name of the one that stands."""
        site = make_site(session, name="root", sequence="first", how_known="ridges")

        answer = client.post(
            f"/failures/{site.failure_id}/sites/new", {"name": "tip", "sequence": "first", "how_known": "x"}
        )

        assert answer.status_code == 422
        assert "root is entered as the first to let go" in answer.text
        assert len(session.exec(select(BreakSite)).all()) == 1

    def test_an_order_needs_how_one_knows(self, client: Client, session: Session) -> None:
        """Unknown is an answer; an order without its reason is none."""
        path = f"/failures/{make_failure(session).id}/sites/new"

        assert 'id="how_known-error"' in client.post(path, {"name": "tip", "sequence": "later"}).text
        assert client.post(path, {"name": "tip", "sequence": "unknown"}).status_code == 303


class TestFaces:
    def test_mates_name_each_other(self, client: Client, session: Session) -> None:
        """Naming a mate on one face names it on both; parting them parts both."""
        piece = make_fragment(session)
        one = make_face(session, piece, name="1a")
        other = make_fragment(session, session.get(Failure, piece.failure_id), item_label="2")
        sent = {"name": "2a", "fragment_id": str(other.id), "surface": "fracture"}

        client.post(f"/failures/{piece.failure_id}/faces/new", {**sent, "mate_face_id": str(one.id)})

        two = session.exec(select(Face).where(Face.name == "2a")).one()
        session.refresh(one)
        assert (one.mate_face_id, two.mate_face_id) == (two.id, one.id)
        client.post(f"/faces/{two.id}/edit", {**sent, "mate_face_id": ""})
        session.expire_all()
        assert (one.mate_face_id, two.mate_face_id) == (None, None)

    def test_a_new_mate_parts_the_old_pair(self, client: Client, session: Session) -> None:
        """No face has two mates: choosing another one frees the former."""
        piece = make_fragment(session)
        faces = [make_face(session, piece, name=name) for name in ("a", "b", "c")]
        a, b, c = faces
        a.mate_face_id, b.mate_face_id = b.id, a.id
        keep(session, a)
        keep(session, b)

        client.post(
            f"/faces/{a.id}/edit",
            {"name": "a", "fragment_id": str(piece.id), "surface": "fracture", "mate_face_id": str(c.id)},
        )

        session.expire_all()
        assert (a.mate_face_id, b.mate_face_id, c.mate_face_id) == (c.id, None, a.id)

    def test_refuses_what_can_not_be_a_mate(self, client: Client, session: Session) -> None:
        """Taken faces, faces of another failure, other sites and outer surfaces are refused in words."""
        failure = make_failure(session)
        piece, root, tip = (
            make_fragment(session, failure),
            make_site(session, failure, name="root"),
            make_site(session, failure, name="tip"),
        )
        free = make_face(session, piece, site_id=root.id)
        foreign = make_face(session, name="elsewhere")
        path = f"/failures/{failure.id}/faces/new"
        sent = {"name": "x", "fragment_id": str(piece.id), "surface": "fracture"}

        stranger = client.post(path, {**sent, "mate_face_id": str(foreign.id)})
        elsewhere = client.post(path, {**sent, "mate_face_id": str(free.id), "site_id": str(tip.id)})
        outer = client.post(path, {**sent, "mate_face_id": str(free.id), "surface": "outer"})
        other_piece = client.post(path, {**sent, "fragment_id": str(foreign.fragment_id)})

        assert {answer.status_code for answer in (stranger, elsewhere, outer, other_piece)} == {422}
        assert "Choose one from the list." in stranger.text
        assert "on another break site" in elsewhere.text
        assert "no mating face" in outer.text
        assert "Choose one from the list." in other_piece.text
        assert len(session.exec(select(Face)).all()) == 2

    def test_needs_a_recovered_piece(self, client: Client, session: Session) -> None:
        """Where nothing is recovered there is no face; the page leads to the log of a piece."""
        piece = make_fragment(session, status="missing")

        page = client.get(f"/failures/{piece.failure_id}/faces/new").text

        assert "no piece of this failure is recovered yet" in page
        assert f"/failures/{piece.failure_id}/fragments/new" in page

    def test_takes_piece_and_site_from_the_address(self, client: Client, session: Session) -> None:
        """The links on the case page fill in where they stand."""
        failure = make_failure(session)
        make_fragment(session, failure)
        second, site = make_fragment(session, failure, item_label="2"), make_site(session, failure)

        page = client.get(f"/failures/{failure.id}/faces/new?piece={second.id}").text

        assert f'<option selected value="{second.id}"' in page
        assert f'<option selected value="{site.id}"' in page


class TestTreatments:
    def test_warns_until_there_is_a_photo_as_found(self, client: Client, session: Session) -> None:
        """Before cleaning, a photo as found; a photo after treatment is none."""
        piece = make_fragment(session)
        face = make_face(session, piece)
        path = f"/fragments/{piece.id}/treatments/new"

        assert "No photo of this piece as found" in client.get(path).text
        make_photo(session, face, stage="after_treatment")
        assert "No photo of this piece as found" in client.get(path).text
        make_photo(session, face)
        assert "No photo of this piece as found" not in client.get(path).text

    def test_gives_the_order_of_work(self, client: Client, session: Session) -> None:
        """Photos first, dry brush or mild detergent, no solvent, dry, photos again."""
        page = client.get(f"/fragments/{make_fragment(session).id}/treatments/new").text

        assert all(words in page for words in ("dry brush", "mild detergent", "No solvent", "hides whitening"))

    def test_another_step_says_what_it_was(self, client: Client, session: Session) -> None:
        """ "Other" alone says nothing."""
        path = f"/fragments/{make_fragment(session).id}/treatments/new"

        assert 'id="detail-error"' in client.post(path, {"method": "other", "done_on": "2026-03-02"}).text
        assert session.exec(select(Treatment)).all() == []


class TestCasePage:
    def test_leads_through_the_work(self, client: Client, session: Session) -> None:
        """What is still to do is named in working order."""
        failure = make_failure(session)
        path = f"/failures/{failure.id}"

        def next_step() -> str:
            return client.get(path).text.partition("<strong>Next: ")[2].partition(".</strong>")[0]

        assert next_step() == "Pieces"
        piece = make_fragment(session, failure)
        assert next_step() == "Break sites"
        make_site(session, failure)
        assert next_step() == "Faces and photos"
        face = make_face(session, piece)
        assert next_step() == "Faces and photos"
        make_photo(session, face)
        assert next_step() == "Measurements"

    def test_queries_do_not_grow_with_the_case(self, client: Client, session: Session, count_queries) -> None:  # type: ignore[no-untyped-def]
        """A case of many pieces, sites, faces and photos takes as many queries as one of few."""
        failure = make_failure(session)

        def one(number: int) -> None:
            piece = make_fragment(session, failure, item_label=str(number))
            make_photo(
                session, make_face(session, piece, site_id=make_site(session, failure, name=f"site {number}").id)
            )
            make_change(session, failure)
            make_verdict(session, failure)

        one(1)
        few = count_queries(lambda: client.get(f"/failures/{failure.id}"))
        for number in range(2, 9):
            one(number)

        assert count_queries(lambda: client.get(f"/failures/{failure.id}")) == few


class TestBench:
    def test_is_empty_at_first(self, client: Client) -> None:
        """The first visit says what this is and where to begin."""
        page = client.get("/").text

        assert "An empty bench" in page
        assert "/parts/new" in page

    def test_shows_what_waits(self, client: Client, session: Session) -> None:
        """Inspections due, failures without a verdict; what is done or far off is left out."""
        today = date.today()
        stay = make_service(session)
        due = make_inspection(session, stay, due_on=today - timedelta(days=3))
        soon = make_inspection(session, stay, due_on=today + timedelta(days=14))
        make_inspection(session, stay, due_on=today + timedelta(days=15))
        make_inspection(session, stay, due_on=today, done_on=today, result="sound")
        waiting = make_failure(session, make_part(session, name="Waiting yoke"), case_label="W-1")
        make_photo(session, make_face(session, make_fragment(session, waiting)))
        judged = make_failure(session, case_label="J-1")
        make_verdict(session, judged)
        said = make_failure(session, case_label="S-1")
        make_person_verdict(session, said)

        page = client.get("/").text

        assert page.count("/inspections/") == 2
        assert f"/inspections/{due.id}/edit" in page
        assert f"/inspections/{soon.id}/edit" in page
        assert "3 days ago" in page
        unjudged = page.partition("Failures without a verdict")[2].partition("</section>")[0]
        assert f"/failures/{waiting.id}" in unjudged
        assert "W-1" in unjudged
        assert "J-1" not in unjudged
        assert "S-1" not in unjudged
