"""How long parts last: ages from stays and failures, groups, what the page says and what can't be counted."""

import re
from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import Session

from server.life.asked import Asked
from server.life.rows import Stay, read_rows
from server.life.units import Lives, days_in_use, lives_of
from server.records import Build, Failure, FailureEntry
from tests.server.builders import (
    keep,
    make_build,
    make_failure,
    make_inspection,
    make_part,
    make_person_verdict,
    make_printer,
    make_revision,
    make_service,
    make_site,
    make_spool,
    make_verdict,
)
from tests.server.conftest import Client

TODAY = date(2026, 6, 1)
# NIST/SEMATECH e-Handbook, 8.4.1.3: ten failures, and ten units still working at 500.
NIST = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]


def ago(days: int) -> date:
    """Return the day so many days before today, as the page counts it."""
    return date.today() - timedelta(days)


def lasted(session: Session, days: int, build: Build | None = None, **said: Any) -> Failure:
    """Log a build that failed after so many days."""
    build = build or make_build(session)
    service = make_service(session, build, fitted_on=ago(1000), removed_on=ago(1000 - days))
    return make_failure(session, service=service, found_on=ago(1000 - days), **said)


def holds(session: Session, days: int, build: Build | None = None) -> None:
    """Log a build that has been in use for so many days and still is."""
    make_service(session, build or make_build(session), fitted_on=ago(days))


def lives(session: Session, asked: Asked | None = None, today: date = TODAY) -> Lives:
    """Count what is logged."""
    asked = asked or Asked()
    return lives_of(read_rows(session, asked), asked, today)


class TestAges:
    def test_a_build_in_use_has_lasted_until_today(self, session: Session) -> None:
        """Still in use counts as censored, and so does one taken out without a failure."""
        make_service(session, fitted_on=date(2026, 5, 1))
        make_service(session, fitted_on=date(2026, 4, 1), removed_on=date(2026, 4, 11))
        found = lives(session).units

        assert [(unit.days, unit.in_use, unit.broke) for unit in found] == [(10, False, None), (31, True, None)]

    def test_a_failure_ends_the_days_when_it_is_found(self, session: Session) -> None:
        """Even where the removal was logged later or not at all."""
        for removed_on in (None, date(2026, 3, 5)):
            service = make_service(session, fitted_on=date(2026, 1, 15), removed_on=removed_on)
            make_failure(session, service=service, found_on=date(2026, 3, 1))

        assert [(unit.days, unit.in_use, bool(unit.broke)) for unit in lives(session).units] == [(45, False, True)] * 2

    def test_a_corrected_day_counts(self, session: Session) -> None:
        """The newest entry on a failure says when it was found."""
        service = make_service(session, fitted_on=date(2026, 1, 15))
        failure = make_failure(session, service=service, found_on=date(2026, 3, 1))
        keep(session, FailureEntry(failure_id=failure.id or 0, found_on=date(2026, 2, 15), correction_reason="slip"))

        assert lives(session).units[0].days == 31

    def test_stays_add_up(self) -> None:
        """A build that was taken out and put back has the days of both stays, none of those on the shelf."""
        stays = [Stay(date(2026, 1, 1), date(2026, 1, 11)), Stay(date(2026, 2, 1), None)]

        assert days_in_use(stays, date(2026, 2, 21)) == 30
        assert days_in_use(stays, date(2026, 1, 1)) == 0.5
        assert days_in_use(stays, date(2025, 12, 31)) is None

    def test_a_failure_without_its_build_is_that_of_the_only_one_in_use(self, session: Session) -> None:
        """Where two may be meant, neither is said to have failed, and the page says what it left out."""
        part = make_part(session)
        alone, pair = make_revision(session, part), make_revision(session, part, number=2)
        make_service(session, make_build(session, alone), fitted_on=date(2026, 1, 15))
        for _ in range(2):
            make_service(session, make_build(session, pair), fitted_on=date(2026, 1, 15))
        for revision in (alone, pair):
            make_failure(session, revision=revision, found_on=date(2026, 3, 1))
        found = lives(session)

        assert sorted((unit.days, bool(unit.broke)) for unit in found.units) == [(45, True), (137, False), (137, False)]
        assert found.left_out == {"several": 1}
        assert len(found.listed) == 2

    @pytest.mark.parametrize(
        ("case", "reason"),
        [
            ("no stay", "no_stay"),
            ("no build", "no_build"),
            ("before", "before"),
            ("again", "again"),
            ("seen", "seen_failed"),
        ],
    )
    def test_what_can_t_be_counted_is_told(self, case: str, reason: str, session: Session, client: Client) -> None:
        """Each kind of gap in the record is named on the page, and isn't taken for a build that holds."""
        if case == "no stay":
            make_failure(session, build=make_build(session))
        elif case == "no build":
            make_failure(session)
        elif case == "before":
            make_failure(session, service=make_service(session, fitted_on=date(2026, 4, 1)), found_on=date(2026, 3, 1))
        elif case == "seen":
            make_inspection(session, result="failed", done_on=date(2026, 2, 15))
        else:
            service = make_service(session)
            for _ in range(2):
                make_failure(session, service=service)
        found = lives(session)

        assert found.left_out == {reason: 1}
        assert len(found.units) == (1 if case == "again" else 0)
        assert "Not counted in the curves" in client.get("/life").text


class TestPage:
    def test_the_handbook_s_sample_through_the_whole_house(self, session: Session, client: Client) -> None:
        """NIST/SEMATECH e-Handbook 8.4.1.3, logged as builds: shape 1.72 and scale 606.5 on page and interface."""
        for days in NIST:
            lasted(session, days)
        for _ in range(10):
            holds(session, 500)
        group = client.get("/api/life").json()["groups"][0]
        page = client.get("/life").text

        assert (group["builds"], group["failures"]) == (20, 10)
        assert group["weibull"]["shape"] == pytest.approx(1.7208, abs=1e-4)
        assert group["weibull"]["scale_days"] == pytest.approx(606.5275, abs=1e-3)
        assert "1.72 (95 %" in page
        assert "607 days" in page
        assert "Ageing can’t be told from chance" in page

    def test_few_failures_are_warned_of_and_ten_are_not(self, session: Session, client: Client) -> None:
        """The bar stands on the page."""
        for days in NIST[:9]:
            lasted(session, days)

        assert "Few failures say little. With fewer than 10" in client.get("/life").text
        lasted(session, NIST[9])
        assert "Few failures say little" not in client.get("/life").text

    def test_what_wears_out_early_or_late_is_said_in_words(self, session: Session, client: Client) -> None:
        """Failures close together after long use wear out; failures bunched after fitting are early ones."""
        worn, brittle = make_spool(session, material="worn"), make_spool(session, material="brittle")
        for days in range(400, 424, 2):
            lasted(session, days, make_build(session, spool_id=worn.id))
        for days in (1, 1, 1, 2, 2, 3, 5, 9, 20, 60, 200, 700):
            lasted(session, days, make_build(session, spool_id=brittle.id))

        assert "Wears out" in client.get("/life?material=worn").text
        assert "Early failures" in client.get("/life?material=brittle").text

    def test_groups_are_compared_by_the_log_rank_test(self, session: Session, client: Client) -> None:
        """Freireich's remission times as two materials: chi-square 16.79, as R and SAS print it."""
        one, other = make_spool(session, material="6-MP"), make_spool(session, material="placebo")
        for weeks in (6, 6, 6, 7, 10, 13, 16, 22, 23):
            lasted(session, weeks, make_build(session, spool_id=one.id))
        for weeks in (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35):
            holds(session, weeks, make_build(session, spool_id=one.id))
        for weeks in (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23):
            lasted(session, weeks, make_build(session, spool_id=other.id))
        test = client.get("/api/life?group=material").json()["log_rank"]

        assert test["chi2"] == pytest.approx(16.793, abs=5e-4)
        assert (test["df"], test["rough"]) == (1, False)
        page = client.get("/life?group=material").text
        assert "chi-square 16.79, 1 degree of freedom, p below 0.001. That is seldom chance alone." in page
        assert page.count('class="band') == 4  # two groups, wide and narrow

    def test_each_curve_is_told_apart_without_colour(self, session: Session, client: Client) -> None:
        """Letter, dash and mark differ from group to group."""
        for name in "abcdef":
            lasted(session, 10, make_build(session, printer_id=make_printer(session, name=name).id))
        page = client.get("/life?group=printer").text
        keys = re.findall(r'<path class="line" d="M2 9H44" stroke-dasharray="([^"]+)"', page)

        assert len(set(keys)) == 5
        assert re.findall(r"<strong>([A-E])</strong> [abcde]\b", page) == list("ABCDE") * 2
        assert "1 more group with no more failures" in page

    def test_kinds_of_failure_share_their_builds(self, session: Session, client: Client) -> None:
        """By verdict, a failure of another kind ends the watch without one of this kind; a person's verdict counts."""
        make_verdict(session, lasted(session, 10), primary="overload")
        changed = lasted(session, 20)
        make_verdict(session, changed, primary="overload")
        make_person_verdict(session, changed, mode="under_extrusion")
        found = {group["name"]: group for group in client.get("/api/life?group=mode").json()["groups"]}

        assert {name: (group["builds"], group["failures"]) for name, group in found.items()} == {
            "overload": (2, 1),
            "under-extrusion": (2, 1),
        }
        assert found["under-extrusion"]["curve"][0]["at_risk"] == 1
        assert "No test of separate groups fits them" in client.get("/life?group=mode").text

    def test_the_same_place_across_revisions(self, session: Session, client: Client) -> None:
        """Of a part, by revision, only breaks at one place count; the others are censored."""
        part = make_part(session)
        for number, place in ((1, "Inner corner"), (2, "inner corner"), (3, "cord hole")):
            revision = make_revision(session, part, number=number)
            make_site(session, lasted(session, 50 * number, make_build(session, revision)), name=place)
        lasted(session, 5)
        asked = f"group=revision&part={part.id}&feature=inner+corner"
        found = client.get(f"/api/life?{asked}").json()

        assert [(group["name"], group["failures"]) for group in found["groups"]] == [
            ("revision 1", 1),
            ("revision 2", 1),
            ("revision 3", 0),
        ]
        assert len(found["failure_ids"]) == 2
        assert client.get(f"/life?{asked}").text.count("of <a href=") == 2

    @pytest.mark.parametrize("what", ["material", "printer", "spool", "mode"])
    def test_all_failures_of_one_kind_as_a_list(self, what: str, session: Session, client: Client) -> None:
        """Narrowed down, the list links to those failures and to no other."""
        spool, printer = make_spool(session, material="ASA"), make_printer(session)
        own = lasted(session, 10, make_build(session, spool_id=spool.id, printer_id=printer.id))
        other = lasted(session, 10, make_build(session, spool_id=make_spool(session).id))
        make_verdict(session, own, primary="overload")
        value = {"material": "ASA", "printer": printer.id, "spool": spool.id, "mode": "overload"}[what]
        page = client.get(f"/life?{what}={value}").text

        assert f"/failures/{own.id}" in page
        assert f"/failures/{other.id}" not in page

    @pytest.mark.parametrize(
        "query",
        [
            "", "?group=x&material=none&printer=-1&spool=abc&revision=x&mode=x&page=999999999999",
            "?feature=%00&part=999999", "?printer=99999999999999999999", "?group=mode&revision=0", "?page=0",
        ],
    )  # fmt: skip
    def test_an_empty_record_and_an_old_link_answer(self, query: str, client: Client) -> None:
        """What an address can't mean is left out; nothing is drawn from nothing."""
        answer = client.get(f"/life{query}")

        assert answer.status_code == 200
        assert '<svg class="curves' not in answer.text
        assert "None." in answer.text

    def test_the_choice_stands_in_the_address(self, session: Session, client: Client) -> None:
        """A link opens with the same fields filled in, and what a person typed is escaped."""
        page = client.get('/life?group=printer&mode=overload&feature="><b>').text

        assert '<option value="printer" selected>' in page
        assert '<option value="overload" selected>' in page
        assert "<b>" not in page

    def test_under_extrusion_by_printer_and_month(self, session: Session, client: Client) -> None:
        """Counted by the month of printing among failures with a cause; undetermined counts as neither."""
        printer = make_printer(session, name="tall one")
        for mode in ("under_extrusion", "overload", "overload", "undetermined", ""):
            build = make_build(session, printer_id=printer.id, built_on=date(2026, 1, 20))
            failure = lasted(session, 10, build)
            if mode:
                make_verdict(session, failure, primary=mode)
        page = client.get("/life").text

        # Clopper and Pearson for 1 of 3: 0.0084 to 0.9057 (the beta distribution's quantiles).
        assert "1 of 3 (33 %; 95 %: 1 to 91 %)" in page
        assert '<th scope="row">Jan 2026</th><td class="num">1</td><td class="num">2</td><td class="num">2</td>' in page
        assert ">1/3</text>" in page

    def test_queries_do_not_grow_with_the_record(self, session: Session, client: Client, count_queries: Any) -> None:
        """Page and interface read as often for thirty builds as for two."""

        def fill(n: int) -> None:
            for days in range(1, n):
                failure = lasted(session, days, make_build(session, spool_id=make_spool(session).id))
                make_verdict(session, failure)
                make_site(session, failure)

        for address in ("/life?group=spool", "/api/life?group=mode"):
            fill(3)
            few = count_queries(lambda address=address: client.get(address))
            fill(15)
            assert count_queries(lambda address=address: client.get(address)) == few

    def test_wrong_questions_to_the_interface_are_refused(self, client: Client) -> None:
        """A program hears of its slip; a page would leave it out."""
        assert client.get("/api/life?group=customer").status_code == 422
        assert client.get("/api/life?printer=-1").status_code == 422
