"""The index of words: no text breaks a search, it stays as a new index would be, and it says where the words stand."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from fastapi import FastAPI
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text
from sqlmodel import Session

from server.database import migrate, newest_step, open_engine
from server.records import (
    ChosenPlan,
    Customer,
    Failure,
    FragmentEntry,
    LoadCase,
    Observation,
    Opinion,
    OpinionLink,
    PersonVerdict,
    SiteEntry,
    Treatment,
)
from server.wordindex import schema
from server.wordindex.sources import SHIFT, SOURCES
from tests.server.builders import (
    keep,
    make_build,
    make_change,
    make_failure,
    make_fragment,
    make_inspection,
    make_locked,
    make_part,
    make_person_verdict,
    make_photo,
    make_printer,
    make_revision,
    make_service,
    make_site,
    make_spool,
)
from tests.server.conftest import Client
from tests.server.world import make_world

# What FTS5's own language is made of, besides any text at all.
SIGNS = st.sampled_from(
    ['"', "'", "*", "(", ")", "NEAR", "AND", "OR", "NOT", "^", ":", "-", "+", "{", "}", "words:", ","]
)
ANYTHING = st.lists(st.one_of(SIGNS, st.text(max_size=12)), max_size=8).map(" ".join)


def listed(client: Client, **asked: Any) -> str:
    """Return the list's page, without the form above it."""
    return client.get(f"/parts?{urlencode(asked)}").text.partition("</form>")[2]


def index_of(session: Session) -> list[tuple[Any, ...]]:
    rows = session.connection().execute(text("SELECT rowid, words, owner, failure_id FROM wordindex ORDER BY rowid"))
    return [tuple(row) for row in rows]


class TestAnyText:
    @settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(asked=ANYTHING)
    def test_never_breaks_the_search(self, client: Client, asked: str) -> None:
        """Whatever is typed or stands in an address, there is a page."""
        address = "/parts?" + urlencode({"text": asked}, errors="replace")

        assert client.get(address).status_code == 200

    @settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(word=st.text(st.characters(categories=["L", "N"]), min_size=1, max_size=20))
    def test_that_is_written_is_found(self, client: Client, session: Session, word: str) -> None:
        """A part is found by any word of letters and figures in its name, whatever the script."""
        part = make_part(session, name=word)

        assert f'href="/parts/{part.id}"' in listed(client, text=word)

    def test_beginnings_and_accents(self, client: Client, session: Session) -> None:
        """The beginning of a word is enough, and accents may be left out."""
        make_part(session, name="Béquille", function="holds the loom")

        assert "Béquille" in listed(client, text="bequ loo")
        assert "No part matches" in listed(client, text="equille")


def _account(session: Session) -> int:
    return make_failure(session, noticed_how="zirpte").id or 0


class TestFoundIn:
    """Every text that is written is found, says where it stands, and leads there."""

    def found(self, client: Client, word: str = "zirpte") -> str:
        page = listed(client, text=word)
        assert "<mark>zirpte</mark>" in page
        return page

    @pytest.mark.parametrize(
        ("write", "where", "anchor"),
        [
            (lambda s: make_locked(s, what="zirpte"), "Locked and free", "/parts/1#locked"),
            (lambda s: make_revision(s, why="zirpte"), "Revision", "/parts/1#revision-1"),
            (lambda s: make_build(s, note="zirpte"), "Build", "/parts/1#build-1"),
            (lambda s: make_service(s, chemicals="zirpte"), "Service", "/parts/1#service-1"),
            (lambda s: make_inspection(s, note="zirpte"), "Inspection", "/parts/1#inspection-1"),
            (_account, "Account of the failure 1", "/failures/1"),
            (lambda s: make_fragment(s, where_may_be="zirpte"), "Piece, failure 1", "/failures/1#pieces"),
            (lambda s: make_site(s, how_known="zirpte"), "Break site, failure 1", "/failures/1#sites"),
            (lambda s: make_change(s, why="zirpte"), "Change for the next build, failure 1", "/failures/1#change"),
            (lambda s: make_person_verdict(s, reason="zirpte"), "Reason of a person", "/failures/1/verdict#person"),
            (lambda s: make_photo(s, note="zirpte"), "Photo of a face, failure 1", "/photos/1/prepare"),
            (
                lambda s: make_photo(s, failure_id=make_failure(s).id, note="zirpte"),
                "Photo as found",
                "/failures/1/photos",
            ),
        ],
    )
    def test_names_the_place(
        self, client: Client, session: Session, write: Callable[[Session], Any], where: str, anchor: str
    ) -> None:
        """The text's record is named, and the link leads to where it is read."""
        write(session)

        page = self.found(client)

        assert where in page
        assert f'href="{anchor}"' in page
        assert ">internal<" not in page

    def test_internal_notes_say_so(self, client: Client, session: Session) -> None:
        """Notes that no customer gets to read are found, and marked."""
        make_part(session, note="zirpte")

        page = self.found(client)

        assert "Note on the part" in page
        assert page.count(">internal<") == 1

    def test_notes_on_what_is_seen_are_internal(self, client: Client, session: Session) -> None:
        """An observation's note and a colleague's opinion lead to their pages and are marked."""
        failure = make_failure(session)
        keep(session, Observation(failure_id=failure.id, code="whitening", answer="yes", note="zirpte"))
        link = OpinionLink(failure_id=failure.id, token_sha256="x", expires_on=date(2030, 1, 1))
        link = keep(session, link)
        keep(session, Opinion(link_id=link.id, failure_id=failure.id, who="O.", comment="zirpte"))

        page = self.found(client)

        assert f"/failures/{failure.id}/observations" in page
        assert f"/failures/{failure.id}/opinions" in page
        assert page.count(">internal<") == 2

    def test_what_parts_share(self, client: Client, session: Session) -> None:
        """Words of a customer, a spool or a printer find every part of theirs, and lead to the shelf."""
        customer = keep(session, Customer(name="Zirpte & Co"))
        spool, printer = make_spool(session, lot="zirpte"), make_printer(session, name="zirpte")
        for name in ("Yoke", "Pawl"):
            part = make_part(session, name=name, customer_id=customer.id)
            make_build(session, make_revision(session, part), spool_id=spool.id, printer_id=printer.id)
        make_part(session, name="Bystander")

        page = listed(client, text="zirpte")

        assert "2 parts found" in page
        for target in (
            f"/shelf/customers/{customer.id}/edit",
            f"/shelf/spools/{spool.id}",
            f"/shelf/printers/{printer.id}/edit",
        ):
            assert page.count(f'href="{target}"') == 2

    def test_many_places_are_counted(self, client: Client, session: Session) -> None:
        """Three places are named, the rest counted."""
        revision = make_revision(session)
        for _ in range(7):
            make_build(session, revision, note="zirpte")

        assert "and in 4 more" in self.found(client)

    def test_writing_is_shown_as_writing(self, client: Client, session: Session) -> None:
        """Marks around a word don't let tags through."""
        make_part(session, name="<b>zirpte</b><script>")

        assert "&lt;b&gt;<mark>zirpte</mark>&lt;/b&gt;&lt;script&gt;" in listed(client, text="zirpte")

    def test_queries_do_not_grow_with_places(self, client: Client, session: Session, count_queries: Any) -> None:
        """Twenty parts with the words in many places take as many queries as one."""

        def one() -> None:
            build = make_build(session, spool_id=make_spool(session, lot="zirpte").id, note="zirpte")
            make_failure(session, build=build, noticed_how="zirpte")

        one()
        few = count_queries(lambda: client.get("/parts?text=zirpte"))
        for _ in range(19):
            one()

        assert count_queries(lambda: client.get("/parts?text=zirpte")) == few


class TestStaysRight:
    def corrected(self, session: Session, keys: dict[str, int]) -> None:
        """Correct, edit and take away something of every kind that can be."""
        failure, piece = keys["failure"], keys["fragment"]
        keep(session, FragmentEntry(fragment_id=piece, status="missing", description="corrected"))
        keep(session, SiteEntry(site_id=keys["site"], how_known="corrected"))
        change = make_change(session, session.get(Failure, failure))
        keep(session, type(change)(failure_id=failure, what="corrected", replaces_id=change.id))
        keep(
            session,
            Treatment(fragment_id=piece, method="dried", done_on=date(2026, 3, 3), replaces_id=keys["treatment"]),
        )
        for said in ("first", "second"):
            keep(session, PersonVerdict(failure_id=failure, mode="overload", reason=said))
        load = LoadCase(failure_id=failure, name="pull", force_low_n=1, force_high_n=2, action="pull", tilt_deg=0)
        load = keep(session, load)
        keep(
            session,
            ChosenPlan(
                failure_id=failure, build_id=keys["build"], plan_key="a", reason="cheap", first_look_on=date(2026, 5, 1)
            ),
        )
        again = make_part(session, name="Gone soon", note="gone soon")
        again.name, again.note = "Still here", ""
        keep(session, again)
        session.delete(load)
        session.commit()

    def test_after_every_kind_of_change(self, session: Session) -> None:
        """New, corrected, edited and deleted entries leave the index as one that is made anew."""
        self.corrected(session, make_world(session, note="internal"))
        kept = index_of(session)

        schema.put_on(session.connection(), newest_step())

        assert kept == index_of(session)
        said = "\n".join(str(row[1]) for row in kept)
        assert "second" in said
        assert "first" not in said
        assert "gone soon" not in said

    def test_every_kind_can_be_numbered(self) -> None:
        """Each kind has a number of its own that fits beside the record's."""
        codes = [source.code for source in SOURCES]

        assert len(set(codes)) == len(codes)
        assert all(0 < code < SHIFT for code in codes)

    def test_an_old_record_is_indexed_when_it_is_brought_up_to_date(self, tmp_path: Path) -> None:
        """Texts written before there was an index are found after migrating; a lost trigger is put back."""
        engine = open_engine(f"sqlite:///{tmp_path / 'old.sqlite3'}")
        migrate(engine, "0003")
        with engine.begin() as connection:
            connection.execute(
                text(
                    "INSERT INTO part (id, name, function, fitted_where, access, can_hurt, hurt_how, note, is_demo,"
                    " entered_at) VALUES (1, 'Arm', '', '', '', 0, '', '', 0, '2026-01-01 00:00:00')"
                )
            )
        migrate(engine)
        with engine.begin() as connection:
            assert connection.execute(
                text("SELECT owner FROM wordindex WHERE wordindex MATCH 'arm'")
            ).scalars().all() == ["p1"]
            connection.execute(text("DROP TRIGGER wordindex_1_0_update"))
            connection.execute(text("UPDATE part SET name = 'Leg'"))
        migrate(engine)
        with engine.connect() as connection:
            assert connection.execute(
                text("SELECT owner FROM wordindex WHERE wordindex MATCH 'leg'")
            ).scalars().all() == ["p1"]
        engine.dispose()


class TestSharedFilters:
    def test_what_broke_with_which_printing(self, client: Client, session: Session) -> None:
        """With a verdict or days, printer and spool are those of the broken build."""
        printer, other = make_printer(session, name="tall"), make_printer(session, name="flat")
        for name, broken, later in (("Yoke", printer, other), ("Pawl", other, printer)):
            revision = make_revision(session, make_part(session, name=name))
            failure = make_failure(
                session, build=make_build(session, revision, printer_id=broken.id), found_on=date(2026, 3, 1)
            )
            make_person_verdict(session, failure)
            make_build(session, revision, printer_id=later.id)

        assert "2 parts found" in listed(client, printer=printer.id)
        assert "2 parts found" in listed(client, verdict="overload")
        for asked in ({"verdict": "overload"}, {"since": "2026-03-01"}, {"until": "2026-03-01"}):
            page = listed(client, printer=printer.id, **asked)
            assert "Yoke" in page
            assert "Pawl" not in page

    def test_days_customer_and_spool(self, client: Client, session: Session) -> None:
        """Only failures within the days count, by the account that counts now."""
        customer, spool = keep(session, Customer(name="C")), make_spool(session)
        part = make_part(session, name="Yoke", customer_id=customer.id)
        build = make_build(session, make_revision(session, part), spool_id=spool.id)
        make_failure(session, build=build, found_on=date(2026, 3, 10))
        asked = {"customer": customer.id, "spool": spool.id}

        assert "Yoke" in listed(client, **asked, since="2026-03-10", until="2026-03-10")
        assert "No part matches" in listed(client, **asked, since="2026-03-11")
        assert "No part matches" in listed(client, **asked, until="2026-03-09")
        assert "No part matches" in listed(client, customer=customer.id + 1)

    @settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    @given(value=st.text(max_size=20), name=st.sampled_from(["printer", "spool", "customer", "since", "until", "page"]))
    def test_an_odd_address_is_still_a_page(self, client: Client, app: FastAPI, value: str, name: str) -> None:
        """What can't be meant is left out."""
        assert client.get("/parts?" + urlencode({name: value}, errors="replace")).status_code == 200

    def test_the_link_is_the_whole_question(self, client: Client, session: Session) -> None:
        """The list says the address under which others see the same list."""
        make_part(session, name="Yoke")

        page = listed(client, text="yoke", state="no_build", verdict="", printer="")

        assert 'href="/parts?text=yoke&amp;state=no_build"' in page
