"""The list of parts: what finds a part, in which state it is, and that the work doesn't grow with the rows."""

from datetime import date
from typing import Any
from urllib.parse import urlencode

import pytest
from sqlmodel import Session

from server.history.search import PER_PAGE
from server.records import Customer, FailureEntry
from tests.server.builders import (
    keep,
    make_build,
    make_failure,
    make_fragment,
    make_part,
    make_person_verdict,
    make_photo,
    make_revision,
    make_service,
    make_spool,
    make_verdict,
)
from tests.server.conftest import Client


def listed(client: Client, **asked: Any) -> str:
    """Return the list's page, without the form above it."""
    return client.get(f"/parts?{urlencode(asked)}").text.partition("</form>")[2]


class TestText:
    @pytest.mark.parametrize(
        "word", ["yoke", "YOKE", "lifts", "gate", "größer", "GRÖSSER", "müller", "crackled", "root.cause_100%"]
    )
    def test_finds_in_all_that_is_written_of_a_part(self, client: Client, session: Session, word: str) -> None:
        """Name, function, place, customer, revision notes and the account of a failure are searched, in any case."""
        customer = keep(session, Customer(name="Müller & Sons"))
        part = make_part(
            session, name="Yoke", function="lifts the bar", fitted_where="at the gate", customer_id=customer.id
        )
        revision = make_revision(session, part, what_changed="Größer gemacht", why="root.cause_100% known")
        make_failure(session, revision=revision, noticed_how="it crackled")
        make_part(session, name="Something else")

        page = listed(client, text=word)

        assert "Yoke" in page
        assert "Something else" not in page

    def test_asks_for_every_word_but_not_in_one_field(self, client: Client, session: Session) -> None:
        """Two words narrow down; they may stand in different fields."""
        make_part(session, name="Yoke", fitted_where="gate")
        make_part(session, name="Yoke of the cart")

        page = listed(client, text="yoke gate")

        assert "cart" not in page
        assert "1 part found" in page

    @pytest.mark.parametrize("word", ["%", "_", "'", '"', "\\", "<script>alert(1)</script>", "x" * 5000, "\x00"])
    def test_takes_any_sign_as_itself(self, client: Client, session: Session, word: str) -> None:
        """Signs that mean something to SQL or HTML are looked for like any other."""
        make_part(session, name="Plain name")

        answer = client.get(f"/parts?{urlencode({'text': word})}")

        assert answer.status_code == 200
        assert "<script>alert(1)</script>" not in answer.text
        assert ("Plain name" in answer.text) == (word == "\x00")

    def test_forgets_what_a_correction_took_back(self, client: Client, session: Session) -> None:
        """Only the account that counts now is searched."""
        failure = make_failure(session, make_part(session, name="Yoke"), noticed_how="thunder")
        keep(session, FailureEntry(failure_id=failure.id, found_on=date(2026, 3, 1), noticed_how="silence"))

        assert "Yoke" not in listed(client, text="thunder")
        assert "Yoke" in listed(client, text="silence")


class TestFilters:
    def test_material_of_any_build(self, client: Client, session: Session) -> None:
        """A part is found by the material of any of its builds."""
        revision = make_revision(session, make_part(session, name="Yoke"))
        make_build(session, revision, spool_id=make_spool(session, material="PA12").id)
        make_build(session, revision, spool_id=make_spool(session, material="ABS").id)
        make_part(session, name="Other")

        assert all("Yoke" in listed(client, material=name) for name in ("PA12", "ABS"))
        assert "Other" not in listed(client, material="ABS")

    def test_verdict_of_the_person_counts_before_the_programs(self, client: Client, session: Session) -> None:
        """Where the person concludes otherwise, the program's verdict no longer finds the part."""
        failure = make_failure(session, make_part(session, name="Yoke"))
        make_verdict(session, failure, primary="overload")

        assert "Yoke" in listed(client, verdict="overload")
        make_person_verdict(session, failure, mode="under_extrusion", reason="seen it")
        assert "Yoke" not in listed(client, verdict="overload")
        assert "Yoke" in listed(client, verdict="under_extrusion")

    def test_newest_verdict_counts(self, client: Client, session: Session) -> None:
        """A verdict that was weighed anew takes the place of the earlier one."""
        failure = make_failure(session, make_part(session, name="Yoke"))
        make_verdict(session, failure, primary="overload")
        make_verdict(session, failure, primary="undetermined")

        assert "Yoke" not in listed(client, verdict="overload")
        assert "Yoke" in listed(client, verdict="undetermined")

    def test_failed_without_a_verdict(self, client: Client, session: Session) -> None:
        """Parts whose failure nobody has judged can be asked for."""
        make_failure(session, make_part(session, name="Yoke"))
        make_verdict(session, make_failure(session, make_part(session, name="Judged")))

        page = listed(client, verdict="none")

        assert "Yoke" in page
        assert "Judged" not in page

    def test_an_old_link_with_unknown_codes_still_opens(self, client: Client, session: Session) -> None:
        """What an address can't mean is left out, not refused."""
        make_part(session, name="Yoke")

        for query in (
            {"verdict": "nonsense", "state": "x"},
            {"page": "-3"},
            {"page": "9" * 40},
            {"page": "500000"},
            {"page": "²"},
        ):
            answer = client.get(f"/parts?{urlencode(query)}")
            assert answer.status_code == 200
            assert "Yoke" in answer.text

    def test_the_form_shows_what_was_asked(self, client: Client, session: Session) -> None:
        """The address holds the whole question, so that the list can be shared as a link."""
        make_spool(session, material="ABS")

        page = client.get("/parts?text=arm&verdict=overload&material=ABS&state=failed").text

        for shown in ('value="arm"', '"overload" selected', "<option selected>ABS", '"failed" selected'):
            assert shown in page


class TestState:
    def state(self, client: Client, session: Session, name: str = "Yoke") -> str:
        """Return the one state under which the part is found."""
        codes = ("no_build", "built", "in_service", "failed", "removed")
        found = [code for code in codes if name in listed(client, state=code)]
        assert len(found) == 1
        return found[0]

    def test_runs_through_a_life(self, client: Client, session: Session) -> None:
        """Not built, built, in service, failed, built again, in service, removed: each as soon as it is so."""
        part = make_part(session, name="Yoke")
        assert self.state(client, session) == "no_build"
        revision = make_revision(session, part)
        assert self.state(client, session) == "no_build"
        build = make_build(session, revision)
        assert self.state(client, session) == "built"
        stay = make_service(session, build)
        assert self.state(client, session) == "in_service"
        make_failure(session, service=stay)
        assert self.state(client, session) == "failed"
        again = make_build(session, make_revision(session, part, number=2), built_on=date(2026, 4, 1))
        assert self.state(client, session) == "built"
        second = make_service(session, again, fitted_on=date(2026, 4, 2))
        assert self.state(client, session) == "in_service"
        second.removed_on = date(2026, 5, 1)
        keep(session, second)
        assert self.state(client, session) == "removed"

    def test_an_original_that_broke_has_failed(self, client: Client, session: Session) -> None:
        """A failure of the part that is to be replaced counts although nothing is built."""
        make_failure(
            session, revision=make_revision(session, make_part(session, name="Yoke"), number=0, is_original=True)
        )

        assert self.state(client, session) == "failed"

    def test_a_spare_on_the_shelf_does_not_hide_the_one_in_use(self, client: Client, session: Session) -> None:
        """A newer build that is not fitted leaves the part in service."""
        revision = make_revision(session, make_part(session, name="Yoke"))
        make_service(session, make_build(session, revision))
        make_build(session, revision)

        assert self.state(client, session) == "in_service"

    def test_a_failure_of_an_unknown_build_fails_the_builds_made_before_it(
        self, client: Client, session: Session
    ) -> None:
        """Where only the revision is known, the build in use at that time is taken to be the one."""
        revision = make_revision(session, make_part(session, name="Yoke"))
        make_service(session, make_build(session, revision))
        make_failure(session, revision=revision, found_on=date(2026, 2, 1))
        assert self.state(client, session) == "failed"

        later = make_build(session, revision, built_on=date(2026, 2, 10))
        make_service(session, later, fitted_on=date(2026, 2, 11))
        assert self.state(client, session) == "in_service"


class TestPages:
    def test_each_part_stands_on_one_page(self, client: Client, session: Session) -> None:
        """Pages follow each other without a part lost or shown twice, and keep what was asked."""
        names = [f"Lever {number:03d}" for number in range(2 * PER_PAGE + 1)]
        for name in names:
            make_part(session, name=name)

        pages = [client.get(f"/parts?text=lever&page={page}").text for page in (1, 2, 3)]

        shown = [name for page in pages for name in names if f">{name}</a>" in page]
        assert sorted(shown) == names
        assert "/parts?text=lever&amp;page=2" in pages[0]
        assert 'rel="next"' not in pages[2]

    def test_queries_do_not_grow_with_rows(self, client: Client, session: Session, count_queries: Any) -> None:
        """Twenty parts with failures, photos, verdicts and missing pieces take as many queries as two."""

        def one() -> None:
            customer = keep(session, Customer(name="C"))
            revision = make_revision(session, make_part(session, customer_id=customer.id))
            failure = make_failure(session, build=make_build(session, revision, spool_id=make_spool(session).id))
            piece = make_fragment(session, failure, status="missing", can_harm=True)
            make_photo(session, failure_id=failure.id)
            make_verdict(session, failure)
            make_person_verdict(session, failure)
            assert piece.id

        for _ in range(2):
            one()
        few = {path: count_queries(lambda path=path: client.get(path)) for path in ("/parts", "/", "/failures/new")}
        for _ in range(18):
            one()
        many = {path: count_queries(lambda path=path: client.get(path)) for path in few}

        assert many == few
        assert all(count <= 30 for count in many.values())
