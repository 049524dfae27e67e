"""The log's own weights: off until enough cases and a person, named by every verdict, kept by kept ones, reversible."""

from typing import Any

import pytest
from sqlmodel import Session, col, select

from analysis.evidence.catalogue import load_catalogue
from server.records import PersonVerdict, VerdictRecord, WeightChoice
from server.verdict.logcases import read_cases
from server.verdict.scope import read_scope
from server.verdict.verdicts import weigh_scope
from server.verdict.weightsets import FILE
from tests.server.builders import keep, make_failure, make_part, make_site
from tests.server.conftest import Client
from tests.server.evidence_builders import make_answer

BOOK = load_catalogue()
CHOICE = {"chosen_by": "A. Bencher", "reason": "two years of cases", "source": "log"}


def conclude(session: Session, failure: Any, mode: str, site_id: int | None = None) -> None:
    keep(session, PersonVerdict(failure_id=failure.id, site_id=site_id, mode=mode, said_by="A. Bencher"))


def make_log(session: Session, each: int = 16) -> None:
    """Make overloads without drawn lips and weak welds with them, the other way round from the file."""
    for mode, answer in (("overload", "no"), ("layer_delamination", "yes")):
        for _ in range(each):
            failure = make_failure(session)
            make_answer(session, failure, "drawn_lips", answer)
            conclude(session, failure, mode)


def lips(session: Session) -> tuple[Any, dict[str, float]]:
    """A failure with drawn lips and nothing else, and its probabilities."""
    failure = make_failure(session)
    make_answer(session, failure, "drawn_lips", "yes")
    return failure, shares(session, failure)


def shares(session: Session, failure: Any) -> dict[str, float]:
    result = weigh_scope(session, read_scope(session, failure.id)).result
    return dict(result["probabilities"])


class TestOff:
    """Before a person switches it on."""

    def test_cases_alone_change_nothing(self, client: Client, session: Session) -> None:
        """Never silent: with cases enough the file's weights still hold, and the verdict names them."""
        failure, before = lips(session)
        make_log(session)

        assert shares(session, failure) == before
        assert FILE.replace("'", "&#39;") in client.get(f"/failures/{failure.id}/verdict").text

    @pytest.mark.parametrize("each", [0, 3, 14])
    def test_too_few_cases_can_not_be_switched_on(self, client: Client, session: Session, each: int) -> None:
        """Below the stated number there is no button, and a sent form is refused with words."""
        make_log(session, each)

        text = client.get("/settings/weights").text
        answer = client.post("/settings/weights", CHOICE)

        assert "too few cases" in text
        assert "Weigh with the log" not in text
        assert answer.status_code == 422
        assert "Nothing was changed" in answer.text
        assert session.exec(select(WeightChoice)).all() == []

    def test_one_mode_alone_is_not_enough(self, session: Session) -> None:
        """Forty cases of one mode tell no two modes apart."""
        for _ in range(40):
            failure = make_failure(session)
            make_answer(session, failure, "drawn_lips", "no")
            conclude(session, failure, "overload")

        assert not read_cases(session, BOOK).enough(BOOK.learning)


class TestOn:
    """Switched on."""

    def test_the_verdict_follows_the_log_and_names_it(self, client: Client, session: Session) -> None:
        """Beta mean by hand: (20 * 0.60 + 0) / 36 and (20 * 0.08 + 16) / 36; drawn lips now speak for a weak weld."""
        make_log(session)
        failure, before = lips(session)

        assert client.post("/settings/weights", CHOICE).status_code == 303

        after = shares(session, failure)
        assert before["overload"] > before["layer_delamination"]
        assert after["layer_delamination"] / after["overload"] == pytest.approx((1.6 + 16) / 12, rel=0.01)
        text = client.get(f"/failures/{failure.id}/verdict").text
        assert "the log&#39;s weights of" in text
        assert "(32 cases)" in text

    def test_later_cases_change_nothing_until_counted_anew(self, client: Client, session: Session) -> None:
        """The counts are those of the day of the choice: a verdict never moves by itself."""
        make_log(session)
        client.post("/settings/weights", CHOICE)
        failure, before = lips(session)
        make_log(session)

        assert shares(session, failure) == before
        client.post("/settings/weights", CHOICE)
        assert shares(session, failure) != before

    def test_kept_verdicts_keep_their_weights_and_back_is_back(self, client: Client, session: Session) -> None:
        """Reversible: the file's weights give the old verdict again, and each kept one says what made it."""
        make_log(session)
        failure, before = lips(session)
        client.post(f"/failures/{failure.id}/verdict")
        client.post("/settings/weights", CHOICE)
        client.post(f"/failures/{failure.id}/verdict")
        client.post("/settings/weights", {**CHOICE, "source": "file"})

        assert shares(session, failure) == before
        first, second = session.exec(select(VerdictRecord).order_by(col(VerdictRecord.id))).all()
        assert first.given["weights"] == {"source": "file"}
        assert (second.given["weights"]["source"], second.given["weights"]["cases"]) == ("log", 32)
        assert "Something has changed since" in client.get(f"/failures/{failure.id}/verdict").text
        kept = session.exec(select(WeightChoice).order_by(col(WeightChoice.id))).all()
        assert [(choice.source, choice.replaces_id) for choice in kept] == [("log", None), ("file", kept[0].id)]

    def test_a_name_is_asked_for(self, client: Client, session: Session) -> None:
        """Nobody is nobody: the form comes back filled in."""
        make_log(session)

        answer = client.post("/settings/weights", {**CHOICE, "chosen_by": " "})

        assert answer.status_code == 422
        assert "two years of cases" in answer.text
        assert session.exec(select(WeightChoice)).all() == []

    def test_the_page_shows_both_with_counts(self, client: Client, session: Session) -> None:
        """File 60 %, log 0 of 16, together 33 %: side by side, and how each does on cases kept out."""
        make_log(session)

        text = client.get("/settings/weights").text

        section = text[text.index("<h3>Drawn lips") :].split("</section>")[0]
        for cell in ("60 %", "0 of 16", "33 %", "16 of 16"):
            assert cell in section
        assert "kept out of the counts that judge it" in text


class TestWhatCounts:
    """Which breaks are cases."""

    def test_demo_undetermined_and_mixed_are_left_out_by_name(self, client: Client, session: Session) -> None:
        """Invented, open and mixed breaks teach nothing; the page says how many."""
        demo = make_failure(session, make_part(session, is_demo=True))
        undecided, several = make_failure(session), make_failure(session)
        for name in ("root", "boss"):
            make_site(session, several, name=name)
        for failure, mode in ((demo, "overload"), (undecided, "undetermined"), (several, "overload")):
            make_answer(session, failure, "drawn_lips", "yes")
            conclude(session, failure, mode)

        log = read_cases(session, BOOK)

        assert log.cases == ()
        assert log.left_out == {"demo": 1, "undetermined": 1, "mixed": 1, "empty": 0}
        assert "of the invented demo" in client.get("/settings/weights").text

    def test_the_newest_conclusion_counts_once(self, session: Session) -> None:
        """A corrected conclusion replaces the earlier one in the counts."""
        failure = make_failure(session)
        make_answer(session, failure, "drawn_lips", "yes")
        for mode in ("overload", "layer_delamination"):
            conclude(session, failure, mode)

        assert [case.mode for case in read_cases(session, BOOK).cases] == ["layer_delamination"]

    def test_each_site_is_a_case_with_its_own_answers(self, session: Session) -> None:
        """Two sites with two conclusions are two cases."""
        failure = make_failure(session)
        for name, answer, mode in (("root", "yes", "overload"), ("boss", "no", "layer_delamination")):
            site = make_site(session, failure, name=name)
            make_answer(session, failure, "drawn_lips", answer, site_id=site.id)
            conclude(session, failure, mode, site.id)

        found = {case.mode: case.seen[0].answer for case in read_cases(session, BOOK).cases}

        assert found == {"overload": "yes", "layer_delamination": "no"}
