"""The list of questions: what is asked, what an accepted form adds, and that nothing is ever overwritten."""

import re
from typing import Any

import pytest
from sqlmodel import Session, col, select

from analysis.evidence.catalogue import load_catalogue
from server.records import Observation
from server.verdict.answers import current_answers
from server.verdict.scope import read_scope
from tests.server.builders import make_face, make_failure, make_fragment, make_photo, make_site
from tests.server.conftest import Client
from tests.server.evidence_builders import make_answer


def entries(session: Session) -> list[Observation]:
    session.expire_all()
    return list(session.exec(select(Observation).order_by(col(Observation.id))).all())


def address(failure: Any, site: Any = None) -> str:
    return f"/failures/{failure.id}/observations" + (f"?site={site.id}" if site else "")


class TestList:
    """The page as it is asked for."""

    def test_every_question_of_the_catalogue_is_asked_once(self, client: Client, session: Session) -> None:
        """Each answerable question stands on the page with its three answers and what to look for."""
        page = client.get(address(make_failure(session))).text

        for question in load_catalogue().answers():
            assert len(re.findall(f'type="radio" value="[a-z_]+"|name="{question.code}-answer"', page)) >= 3
            assert page.count(f'id="q-{question.code}"') == 1
            assert len(re.findall(rf'<input[^>]*name="{question.code}-answer"', page)) == 3

    def test_measures_are_not_asked(self, client: Client, session: Session) -> None:
        """A measure speaks for itself; nobody can answer it."""
        page = client.get(address(make_failure(session))).text

        measures = [o.code for o in load_catalogue().observations.values() if o.kind == "measure"]
        assert measures
        assert not [code for code in measures if f'name="{code}-answer"' in page]

    def test_a_site_of_another_failure_is_not_found(self, client: Client, session: Session) -> None:
        """A site in the address must belong to the failure."""
        failure, stranger = make_failure(session), make_site(session)

        assert client.get(address(failure, stranger)).status_code == 404
        assert client.get(f"/failures/{failure.id}/observations?site=abc").status_code == 404

    def test_photos_are_named_by_face_never_by_file(self, client: Client, session: Session) -> None:
        """A file name may tell what it should not; the choice says face and number."""
        failure = make_failure(session)
        make_photo(
            session, make_face(session, make_fragment(session, failure), name="upper half"), file_name="SECRET.jpg"
        )

        page = client.get(address(failure)).text

        assert "upper half, photo 1 (as found)" in page
        assert "SECRET" not in page


class TestKeep:
    """What a sent form does."""

    def test_only_changed_answers_are_added(self, client: Client, session: Session) -> None:
        """The whole form is sent each time; an answer that says the same adds nothing."""
        failure = make_failure(session)
        form = {"powder-answer": "yes", "powder-note": "in the corner", "seen_by": "A"}

        first = client.post(address(failure), form)
        client.post(address(failure), {**form, "crazes-answer": "no", "seen_by": "B"})

        assert first.status_code == 303
        assert [(e.code, e.answer, e.note, e.seen_by) for e in entries(session)] == [
            ("powder", "yes", "in the corner", "A"),
            ("crazes", "no", "", "B"),
        ]

    def test_a_changed_answer_names_the_old_one_and_both_are_shown(self, client: Client, session: Session) -> None:
        """Evidence is only added: the old answer stays in the record and on the page."""
        failure = make_failure(session)
        old = make_answer(session, failure, "powder", "yes", note="white dust", seen_by="A")

        client.post(address(failure), {"powder-answer": "no", "powder-note": "flour", "seen_by": "B"})

        new = entries(session)[-1]
        assert (new.answer, new.replaces_id) == ("no", old.id)
        page = client.get(address(failure)).text
        assert "white dust" in page
        assert "Answers before this one (1)" in page

    def test_who_looked_is_demanded(self, client: Client, session: Session) -> None:
        """An answer that nobody gave is no evidence; the form comes back filled in and nothing is stored."""
        failure = make_failure(session)

        answer = client.post(address(failure), {"powder-answer": "yes", "powder-note": "grey dust", "seen_by": " "})

        assert answer.status_code == 422
        assert "grey dust" in answer.text
        assert re.search(r'<input checked[^>]*name="powder-answer"[^>]*value="yes"', answer.text)
        assert entries(session) == []

    @pytest.mark.parametrize("wrong", [{"powder-answer": "maybe"}, {"powder-answer": "yes", "powder-photo": "999"}])
    def test_what_the_form_does_not_offer_is_refused(
        self, client: Client, session: Session, wrong: dict[str, str]
    ) -> None:
        """An answer or a photo outside the choices stores nothing."""
        failure = make_failure(session)

        assert client.post(address(failure), {**wrong, "seen_by": "A"}).status_code == 422
        assert entries(session) == []

    def test_a_photo_of_another_failure_can_not_be_named(self, client: Client, session: Session) -> None:
        """Answers refer to photos of their own failure only."""
        failure, elsewhere = make_failure(session), make_photo(session)

        form = {"powder-answer": "yes", "powder-photo": str(elsewhere.id), "seen_by": "A"}
        assert client.post(address(failure), form).status_code == 422

    def test_the_photo_at_the_top_holds_for_new_answers(self, client: Client, session: Session) -> None:
        """One choice for a sitting; a question's own choice goes before it."""
        failure = make_failure(session)
        face = make_face(session, make_fragment(session, failure))
        first, second = make_photo(session, face), make_photo(session, face)

        form = {"powder-answer": "yes", "crazes-answer": "no", "crazes-photo": str(second.id), "photo": str(first.id)}
        client.post(address(failure), {**form, "seen_by": "A"})

        assert {e.code: e.photo_id for e in entries(session)} == {"powder": first.id, "crazes": second.id}

    def test_script_in_a_note_is_shown_as_text(self, client: Client, session: Session) -> None:
        """What a person types never becomes part of the page."""
        failure = make_failure(session)
        client.post(address(failure), {"powder-answer": "yes", "powder-note": "<script>x</script>", "seen_by": "<b>"})

        page = client.get(address(failure)).text

        assert "<script>x" not in page
        assert "&lt;script&gt;x" in page


class TestScope:
    """Answers of a site and of the whole."""

    def test_a_sites_own_answer_goes_before_the_wholes(self, session: Session) -> None:
        """The whole's answer counts at each site until that site has its own."""
        failure = make_failure(session)
        site, other = make_site(session, failure, name="left"), make_site(session, failure, name="right")
        make_answer(session, failure, "powder", "no")
        make_answer(session, failure, "powder", "yes", site_id=site.id)

        def held(where: Any) -> str:
            return current_answers(session, read_scope(session, failure.id or 0, str(where.id)))["powder"].answer

        assert (held(site), held(other)) == ("yes", "no")

    def test_an_answer_at_a_site_stays_there(self, client: Client, session: Session) -> None:
        """What was seen at one site says nothing of the whole list."""
        failure = make_failure(session)
        site = make_site(session, failure)
        make_site(session, failure, name="other")

        answer = client.post(address(failure, site), {"powder-answer": "yes", "seen_by": "A"})

        assert answer.headers["location"].endswith(f"?site={site.id}&saved=1")
        assert entries(session)[0].site_id == site.id
        assert current_answers(session, read_scope(session, failure.id or 0)) == {}


class TestClashes:
    """Answers that can't both be true."""

    def test_both_are_kept_and_the_page_says_so_at_once(self, client: Client, session: Session) -> None:
        """One plane and several: nothing lost, clear words beside both questions and on the verdict."""
        failure = make_failure(session)
        sent = {"one_layer_plane-answer": "yes", "several_planes-answer": "yes", "seen_by": "A. Bencher"}

        answer = client.post(f"/failures/{failure.id}/observations", sent)

        assert answer.status_code == 303
        assert len(session.exec(select(Observation)).all()) == 2
        listed = client.get(answer.headers["location"]).text
        assert listed.count("can&#39;t both be true of one break") >= 3
        assert "can&#39;t both be true of one break" in client.get(f"/failures/{failure.id}/verdict").text

    def test_one_changed_and_the_words_are_gone(self, client: Client, session: Session) -> None:
        """A corrected answer ends it; the old one stays in the record."""
        failure = make_failure(session)
        for answers in (("yes", "yes"), ("yes", "no")):
            sent = dict(zip(("one_layer_plane-answer", "several_planes-answer"), answers, strict=True))
            client.post(f"/failures/{failure.id}/observations", {**sent, "seen_by": "A. Bencher"})

        assert "both be true" not in client.get(f"/failures/{failure.id}/observations").text
        assert len(session.exec(select(Observation)).all()) == 3


def test_what_the_account_says_stands_at_the_question(client: Client, session: Session) -> None:
    """Features found sound are words until someone answers; they weigh nothing by themselves."""
    failure = make_failure(session, found_sound="Screw holes and the upper hook.")

    text = client.get(f"/failures/{failure.id}/observations").text

    question = text[text.index('id="q-held_whitened"') :].split("</fieldset>")[0]
    assert "Screw holes and the upper hook." in question
    assert "Nothing has been observed yet" in client.get(f"/failures/{failure.id}/verdict").text
