"""The verdict's page: what is weighed, what is kept, what if, the person's word, the prior, several sites."""

import re
from typing import Any

import pytest
from fastapi import FastAPI
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import Session, col, select

from analysis.evidence.catalogue import MODES
from analysis.evidence.cautions import CAN_HURT
from server.pages import STATIC
from server.records import PersonVerdict, VerdictRecord
from server.verdict.priors import read_prior
from server.verdict.scope import read_scope
from server.verdict.verdicts import gather, weigh_scope
from server.verdict.view import BAR_WIDTH, draw_bar
from server.verdict.whole import SiteVerdict, whole_verdict
from tests.server.builders import make_face, make_failure, make_fragment, make_part, make_site
from tests.server.conftest import Client
from tests.server.evidence_builders import make_answer, make_measurement

FOOT_LINE = "it never calls a part safe.</footer>"
DELAMINATION = [("bare_roads_both", "yes"), ("one_layer_plane", "yes"), ("drawn_lips", "no"), ("whitening_most", "no")]


def delaminated(session: Session, **part: Any) -> Any:
    """Make a failure with answers that speak for layer delamination."""
    failure = make_failure(session, make_part(session, **part))
    for code, answer in DELAMINATION:
        make_answer(session, failure, code, answer)
    return failure


def page(client: Client, failure: Any, query: str = "") -> str:
    answer = client.get(f"/failures/{failure.id}/verdict{query}")
    assert answer.status_code == 200
    return str(answer.text)


class TestWeighing:
    """From the record to a verdict."""

    def test_nothing_seen_is_undetermined(self, client: Client, session: Session) -> None:
        """Without evidence no mode is named, and the page says why."""
        text = page(client, make_failure(session))

        assert '<p class="primary">Undetermined</p>' in text
        assert "Nothing has been observed yet" in text

    def test_the_latest_measurement_of_each_face_counts(self, app: FastAPI, session: Session) -> None:
        """Measuring again replaces the earlier reading; it does not count twice."""
        failure = make_failure(session)
        piece = make_fragment(session, failure)
        face, other = make_face(session, piece), make_face(session, piece, name="1b")
        make_measurement(session, app, face)
        again, second = make_measurement(session, app, face), make_measurement(session, app, other)

        seen = gather(session, read_scope(session, failure.id or 0))

        assert {entry.origin for entry in seen} == {f"measurement:{again.id}", f"measurement:{second.id}"}
        assert [entry.code for entry in seen].count("bonded_contact") == 2
        assert [entry.code for entry in seen].count("came_apart") == 1

    def test_can_not_tell_weighs_nothing(self, session: Session) -> None:
        """The verdict with "can't tell" is the verdict without the question."""
        failure = delaminated(session)
        before = weigh_scope(session, read_scope(session, failure.id)).result["probabilities"]
        make_answer(session, failure, "powder", "cant_tell")

        assert weigh_scope(session, read_scope(session, failure.id)).result["probabilities"] == before

    def test_an_answer_to_a_question_no_longer_asked_is_passed_over(self, session: Session) -> None:
        """A record made with an older list can still be weighed."""
        failure = delaminated(session)
        make_answer(session, failure, "no_longer_asked")

        assert weigh_scope(session, read_scope(session, failure.id)).result["primary"] == "layer_delamination"

    def test_each_contribution_leads_to_its_origin(self, client: Client, app: FastAPI, session: Session) -> None:
        """A bar without a way back to what was seen is only a claim."""
        failure = delaminated(session)
        measured = make_measurement(session, app, make_face(session, make_fragment(session, failure)))
        make_answer(session, failure, "powder", "no", photo_id=measured.photo_id)

        text = page(client, failure)

        assert f'href="/measurements/{measured.id}"' in text
        assert f'href="/failures/{failure.id}/observations#q-powder"' in text
        assert f'href="/photos/{measured.photo_id}/view.jpg"' in text


class TestWhatIf:
    """Switching an observation off."""

    def test_switching_off_moves_the_verdict_and_keeps_nothing(self, client: Client, session: Session) -> None:
        """The page shows both shares; the record stays as it was."""
        failure = delaminated(session)

        text = page(client, failure, "?off=bare_roads_both")

        assert "1 observation switched off" in text
        assert re.search(r"was \d+ %", text)
        assert session.exec(select(VerdictRecord)).all() == []

    def test_it_equals_never_having_looked(self, session: Session) -> None:
        """Leaving one out gives exactly the verdict of a record without it (a twin)."""
        failure, twin = delaminated(session), make_failure(session)
        for code, answer in DELAMINATION[1:]:
            make_answer(session, twin, code, answer)

        off = weigh_scope(session, read_scope(session, failure.id), ["bare_roads_both"])
        without = weigh_scope(session, read_scope(session, twin.id or 0))

        assert off.result["probabilities"] == without.result["probabilities"]

    def test_an_unknown_code_changes_nothing(self, client: Client, session: Session) -> None:
        """A code that is not in the evidence can't be switched off, whatever stands in the address."""
        text = page(client, delaminated(session), "?off=%3Cscript%3E&mode=nonsense")

        assert "switched off" not in text
        assert "<script>" not in text


class TestBars:
    """The drawing of a weight."""

    @given(st.floats(-60, 60, allow_nan=False), st.integers(2, 12))
    def test_bars_stay_in_their_box_and_keep_proportion(self, weight: float, fives: int) -> None:
        """A bar starts in the middle, ends inside, and is as long as its weight."""
        bar = draw_bar(weight, 5.0 * fives)

        assert 0 <= bar.x <= bar.x + bar.width <= BAR_WIDTH + 1e-9
        assert bar.width == pytest.approx(min(1, abs(weight) / (5.0 * fives)) * BAR_WIDTH / 2)
        assert pytest.approx(bar.x if weight >= 0 else bar.x + bar.width) == BAR_WIDTH / 2

    def test_for_and_against_differ_without_colour(self) -> None:
        """Side and pattern tell them apart on a grey print."""
        css = (STATIC / "css/verdict.css").read_text(encoding="utf-8")

        assert draw_bar(4, 10).x > draw_bar(-4, 10).x
        assert "stroke-dasharray" in re.search(r"\.against \{[^}]*\}", css).group()  # type: ignore[union-attr]
        assert "stroke-dasharray" not in re.search(r"svg\.bar \.for \{[^}]*\}", css).group()  # type: ignore[union-attr]


class TestKeep:
    """Verdicts in the record."""

    def test_a_kept_verdict_holds_its_inputs_and_version(self, client: Client, session: Session) -> None:
        """Observations, prior, result and the program's version stand together."""
        failure = delaminated(session)

        assert client.post(f"/failures/{failure.id}/verdict").status_code == 303

        record = session.exec(select(VerdictRecord)).one()
        assert record.primary == "layer_delamination"
        assert {line["code"] for line in record.given["seen"]} == {code for code, _ in DELAMINATION}
        assert sum(record.given["prior"].values()) == pytest.approx(1)
        assert record.program_version

    def test_the_same_evidence_is_kept_once_and_new_evidence_adds(self, client: Client, session: Session) -> None:
        """A second press adds nothing; a new answer makes a new verdict that names the old one."""
        failure = delaminated(session)
        for _ in range(2):
            client.post(f"/failures/{failure.id}/verdict")
        make_answer(session, failure, "overload_seen", "yes")
        assert "Something has changed since" in page(client, failure)
        client.post(f"/failures/{failure.id}/verdict")

        first, second = session.exec(select(VerdictRecord).order_by(col(VerdictRecord.id))).all()
        assert second.replaces_id == first.id
        assert len(first.given["seen"]) == len(DELAMINATION)


class TestPerson:
    """The person's conclusion beside the program's."""

    def form(self, mode: str = "layer_delamination", reason: str = "", who: str = "A. Bencher") -> dict[str, str]:
        return {"mode": mode, "reason": reason, "said_by": who}

    def test_agreeing_needs_no_reason(self, client: Client, session: Session) -> None:
        """Both verdicts are kept, and the person's names the program's."""
        failure = delaminated(session)

        assert client.post(f"/failures/{failure.id}/verdict/person", self.form()).status_code == 303

        person, program = session.exec(select(PersonVerdict)).one(), session.exec(select(VerdictRecord)).one()
        assert (person.mode, person.verdict_id) == ("layer_delamination", program.id)

    @pytest.mark.parametrize("mode", ["overload", "undetermined"])
    def test_differing_demands_a_reason(self, client: Client, session: Session, mode: str) -> None:
        """Without it the page comes back filled in, and nothing is kept."""
        failure = delaminated(session)

        answer = client.post(f"/failures/{failure.id}/verdict/person", self.form(mode, " "))

        assert answer.status_code == 422
        assert "Say why you conclude otherwise" in answer.text
        assert 'value="A. Bencher"' in answer.text
        assert session.exec(select(PersonVerdict)).all() == []

    def test_a_later_word_stands_beside_the_earlier(self, client: Client, session: Session) -> None:
        """A changed mind is a new entry; the history is shown."""
        failure = delaminated(session)
        client.post(f"/failures/{failure.id}/verdict/person", self.form())
        client.post(f"/failures/{failure.id}/verdict/person", self.form("overload", "it was dropped, I saw it"))

        first, second = session.exec(select(PersonVerdict).order_by(col(PersonVerdict.id))).all()
        assert second.replaces_id == first.id
        text = page(client, failure)
        assert "it was dropped, I saw it" in text
        assert "Earlier conclusions (1)" in text

    def test_an_unknown_mode_is_refused(self, client: Client, session: Session) -> None:
        """Only the four modes and "undetermined" can be concluded."""
        answer = client.post(f"/failures/{delaminated(session).id}/verdict/person", self.form("magic", "because"))

        assert answer.status_code == 422


class TestCautions:
    """Rule: a part that can hurt someone carries its cautions."""

    def test_every_caution_stands_on_the_page(self, client: Client, session: Session) -> None:
        """All sentences, and how it could hurt."""
        text = page(client, delaminated(session, can_hurt=True, hurt_how="the stand folds"))

        assert "the stand folds" in text
        assert "licensed professional" in text
        for sentence in CAN_HURT:
            assert sentence in text

    def test_no_page_calls_a_part_safe(self, client: Client, session: Session) -> None:
        """The word is used only to say that it is never said."""
        for can_hurt in (True, False):
            text = page(client, delaminated(session, can_hurt=can_hurt))
            said = [line for line in text.splitlines() if re.search(r"\bsafe\b", line)]
            assert len(said) == 1
            assert said[0].endswith(FOOT_LINE)


class TestPrior:
    """The named setting."""

    def sent(self, shares: tuple[str, str, str, str]) -> dict[str, str]:
        return {"name": "our log", "reason": "2024 to 2026", **dict(zip(MODES, shares, strict=True))}

    def test_shares_that_sum_to_one_are_set_as_they_are(self, client: Client, session: Session) -> None:
        """Name, reason and shares hold for every later verdict."""
        answer = client.post("/settings/prior", self.sent(("0.4", "0.3", "0.2", "0.1")))

        assert answer.headers["location"] == "/settings/prior?done=kept"
        prior = read_prior(session)
        assert (prior.name, prior.shares) == (
            "our log",
            pytest.approx(dict(zip(MODES, (0.4, 0.3, 0.2, 0.1), strict=True))),
        )

    def test_counts_are_scaled_and_the_page_says_so(self, client: Client, session: Session) -> None:
        """Twelve of twenty is 0.6; the person is told."""
        answer = client.post("/settings/prior", self.sent(("12", "4", "2", "2")))

        assert read_prior(session).shares["layer_delamination"] == pytest.approx(0.6)
        assert "divided by their sum" in client.get(answer.headers["location"]).text

    @pytest.mark.parametrize("wrong", ["0", "-0.1", "", "many", "0,0"])
    def test_nothing_at_or_below_zero(self, client: Client, session: Session, wrong: str) -> None:
        """A mode at 0 could never be found; the form comes back filled in and the old prior stays."""
        answer = client.post("/settings/prior", self.sent(("0.5", wrong, "0.3", "0.2")))

        assert answer.status_code == 422
        assert 'value="our log"' in answer.text
        assert read_prior(session).name != "our log"

    def test_the_verdict_follows_the_prior_and_names_it(self, client: Client, session: Session) -> None:
        """Reference values D8 (own worked example): with likelihoods alike, the shares are the prior's."""
        failure = make_failure(session)
        client.post("/settings/prior", self.sent(("0.4", "0.3", "0.2", "0.1")))

        result = weigh_scope(session, read_scope(session, failure.id or 0)).result

        assert result["probabilities"] == pytest.approx(dict(zip(MODES, (0.4, 0.3, 0.2, 0.1), strict=True)))
        assert result["primary"] == "undetermined"
        assert "our log" in page(client, failure)

    def test_the_shipped_prior_comes_back(self, client: Client, session: Session) -> None:
        """One button undoes a bench's own prior."""
        client.post("/settings/prior", self.sent(("0.4", "0.3", "0.2", "0.1")))
        client.post("/settings/prior", {"shipped": "yes"})

        assert read_prior(session).name != "our log"


def site_verdict(number: int, primary: str, shares: tuple[float, ...], sequence: str = "unknown") -> SiteVerdict:
    result = {
        "primary": primary,
        "probabilities": dict(zip(MODES, shares, strict=True)),
        "contributing": [],
        "undetermined_because": "open",
    }
    return SiteVerdict(number, f"site {number}", sequence, "", result)


class TestSeveralSites:
    """One verdict for each site and one for the whole."""

    def test_the_first_to_let_go_decides(self) -> None:
        """What happened later is a consequence."""
        one = site_verdict(1, "overload", (0.02, 0.03, 0.9, 0.05), "first")
        two = site_verdict(2, "layer_delamination", (0.9, 0.04, 0.03, 0.03), "later")

        whole = whole_verdict([one, two], 0.6)

        assert (whole["primary"], whole["rests_on"]) == ("overload", [1])
        assert whole["probabilities"] == one.result["probabilities"]

    def test_unknown_order_and_different_modes_stay_undetermined(self) -> None:
        """Law of total probability over equal chances: (0.9 + 0.04) / 2 = 0.47, below the bar."""
        one = site_verdict(1, "overload", (0.02, 0.03, 0.9, 0.05))
        two = site_verdict(2, "layer_delamination", (0.9, 0.03, 0.04, 0.03))

        whole = whole_verdict([one, two], 0.6)

        assert whole["primary"] == "undetermined"
        assert whole["probabilities"]["overload"] == pytest.approx(0.47)
        assert "not known which site let go first" in whole["undetermined_because"]

    def test_unknown_order_matters_not_where_all_agree(self) -> None:
        """Whichever was first, it was the same mode."""
        sites = [site_verdict(n, "overload", (0.05, 0.05, 0.85, 0.05)) for n in (1, 2, 3)]

        assert whole_verdict(sites, 0.6)["primary"] == "overload"

    def test_a_later_site_does_not_count(self) -> None:
        """A site known to have followed can't have been the cause."""
        sites = [
            site_verdict(1, "overload", (0.05, 0.05, 0.85, 0.05)),
            site_verdict(2, "layer_delamination", (0.9, 0.04, 0.03, 0.03), "later"),
        ]

        assert whole_verdict(sites, 0.6)["rests_on"] == [1]

    @given(st.lists(st.lists(st.floats(0.01, 1), min_size=4, max_size=4), min_size=1, max_size=5))
    def test_shares_stay_shares(self, raw: list[list[float]]) -> None:
        """Whatever the sites say, the whole's probabilities sum to 1."""
        sites = [site_verdict(n, "undetermined", tuple(v / sum(row) for v in row)) for n, row in enumerate(raw)]

        whole = whole_verdict(sites, 0.6)

        assert sum(whole["probabilities"].values()) == pytest.approx(1, abs=5e-4)
        assert whole["primary"] == "undetermined"

    def test_keeping_the_whole_keeps_each_site(self, client: Client, app: FastAPI, session: Session) -> None:
        """The record then holds all that the whole was reckoned from; a site's faces are its own."""
        failure = make_failure(session)
        piece = make_fragment(session, failure)
        sites = [make_site(session, failure, name=name) for name in ("left", "right")]
        for site in sites:
            make_measurement(session, app, make_face(session, piece, site_id=site.id, name=f"at {site.name}"))

        client.post(f"/failures/{failure.id}/verdict")

        records = session.exec(select(VerdictRecord)).all()
        assert {record.site_id for record in records} == {None, *(site.id for site in sites)}
        assert all(len({line["origin"] for line in r.given["seen"]}) == 1 for r in records if r.site_id)
        assert "left" in page(client, failure)
        assert page(client, failure, f"?site={sites[0].id}").count('class="line"') > 2

    def test_queries_do_not_grow_with_answers(self, client: Client, session: Session, count_queries: Any) -> None:
        """Weighing ten answers asks the database no more than weighing two."""
        few, many = make_failure(session), make_failure(session)
        codes = [
            "powder",
            "crazes",
            "beach_marks",
            "drawn_lips",
            "thin_roads",
            "heat_marks",
            "glossy_patch",
            "wet_filament",
        ]
        for code in codes[:2]:
            make_answer(session, few, code, "no")
        for code in codes:
            make_answer(session, many, code, "no")

        keys = [int(few.id or 0), int(many.id or 0)]

        def asked(key: int) -> int:
            session.expire_all()
            return int(count_queries(lambda: weigh_scope(session, read_scope(session, key))))

        assert asked(keys[1]) == asked(keys[0])

    def test_what_broke_first_what_followed_and_why_is_told(self, client: Client, session: Session) -> None:
        """The whole's page names the order with how it is known, each site's load and faces, and why one followed."""
        failure = make_failure(session)
        first = make_site(session, failure, name="root", sequence="first", how_known="dirt on its face only")
        later = make_site(
            session, failure, name="boss", sequence="later", how_known="clean and whitened",
            why_followed="with the root gone the screw took it all", load_words="bent outwards",
        )  # fmt: skip
        make_face(session, make_fragment(session, failure), name="2b", site_id=later.id)
        make_answer(session, failure, "bare_roads_both", "yes", site_id=first.id)

        text = page(client, failure)

        assert "Root let go first (dirt on its face only)" in text
        assert "Boss followed (clean and whitened), because: with the root gone the screw took it all" in text
        assert "Load here: bent outwards" in text
        assert "Faces: 2b." in text

    def test_an_order_that_can_not_be_told_is_said(self) -> None:
        """Without a first site the whole says so, whatever is known of the others."""
        sites = [
            site_verdict(1, "overload", (0.02, 0.03, 0.9, 0.05)),
            site_verdict(2, "overload", (0.1, 0.1, 0.7, 0.1)),
        ]

        assert whole_verdict(sites, 0.6)["order"][0] == "Which site let go first can't be told."

    def test_an_incidental_finding_at_any_site_reaches_the_whole(self, client: Client, session: Session) -> None:
        """A rub at the later site is to be mended too, and leads to the page where the change is written down."""
        failure = make_failure(session)
        first = make_site(session, failure, name="root", sequence="first", how_known="dirt")
        later = make_site(session, failure, name="boss", sequence="later", how_known="clean")
        for site in (first, later):
            for code, answer in [*DELAMINATION, ("load_across_layers", "yes"), ("came_apart", "yes")]:
                make_answer(session, failure, code, answer, site_id=site.id)
        make_answer(session, failure, "rub_at_break", "no", site_id=later.id)
        make_answer(session, failure, "glossy_patch", "yes", site_id=later.id)

        text = page(client, failure)

        assert "Found besides" in text
        assert f'href="/failures/{failure.id}/changes/new"' in text
        assert client.get(f"/failures/{failure.id}/summary").text.count("is to be mended in the next build") == 1


class TestCausesOnThePage:
    """What may have prepared the break."""

    def test_each_part_leads_to_its_answer_and_the_open_ones_to_their_questions(
        self, client: Client, session: Session
    ) -> None:
        """Fatigue by two answers, each with its weight; moisture not looked at yet."""
        failure = make_failure(session)
        make_answer(session, failure, "beach_marks", "yes")
        make_answer(session, failure, "ordinary_load", "yes")

        causes = page(client, failure).split('<section id="causes">')[1].split("</section>")[0]

        assert causes.count("+13.0 dB") == 1
        assert causes.count("+3.0 dB") == 1
        assert causes.count("+16.0 dB") >= 1
        for code in ("beach_marks", "wet_filament"):
            assert f'href="/failures/{failure.id}/observations#q-{code}"' in causes
