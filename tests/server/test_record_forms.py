"""What every form of the record promises, whatever is typed into it."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session

from server.addresses import ROWS
from server.settings import Settings
from tests.server.conftest import Client, unsynced_app
from tests.server.world import FORMS, FormCase, filled, make_world, named_like, row_counts

SCRIPT = "<script>alert(1)</script>"
ESCAPED = "&lt;script&gt;alert(1)&lt;/script&gt;"
TEXT = ("StringField", "TextAreaField")
OURS = ("bench", "builds", "failures", "help", "materials", "parts", "pieces", "shelf")

every_form = pytest.mark.parametrize("case", FORMS, ids=[case.name for case in FORMS])


def test_no_form_is_left_out() -> None:
    """Every form of the record is in the list that the tests here go through."""
    posts = {row[3] for row in ROWS if row[0] == "POST" and row[2].__module__.rsplit(".", 1)[1] in OURS}

    assert posts - {"attachment_create"} == {case.name for case in FORMS}


class TestTakenForms:
    @every_form
    def test_is_shown_and_takes_what_is_right(self, client: Client, session: Session, case: FormCase) -> None:
        """A rightly filled form is stored and leads on by a redirect to a page that exists."""
        path, sent = filled(case, make_world(session))

        shown, answer = client.get(path), client.post(path, sent)

        assert (shown.status_code, answer.status_code) == (200, 303)
        assert client.get(answer.headers["location"].removeprefix("http://bench.test")).status_code == 200

    @every_form
    def test_stores_script_as_text_and_shows_it_escaped(self, client: Client, session: Session, case: FormCase) -> None:
        """Script in every text field is kept as text and never reaches a page unescaped."""
        keys = make_world(session)
        path, sent = filled(case, keys)
        scripted = {name: SCRIPT for name in named_like(case.form, *TEXT) if name != "orientation"}

        answer = client.post(path, {**sent, **scripted, "hurt_how": SCRIPT, "can_hurt": "y"})

        assert answer.status_code == 303
        pages = [
            client.get(address.format(**keys)).text
            for address in ("/", "/parts", "/parts/{part}", "/failures/{failure}", "/shelf")
        ]
        assert all(SCRIPT not in page for page in pages)
        assert not case.shown_on or ESCAPED in client.get(case.shown_on.format(**keys)).text


@dataclass(frozen=True)
class Bench:
    """A record with one of each kind that the tests of refusals share: a refusal leaves it as it was."""

    client: Client
    engine: Any
    keys: dict[str, int]

    def counts(self) -> dict[str, int]:
        with Session(self.engine) as session:
            return row_counts(session)


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory, migrated_record: Path) -> Iterator[Bench]:
    data = tmp_path_factory.mktemp("refusals")
    shutil.copy(migrated_record, data / "record.sqlite3")
    app = unsynced_app(Settings(data=data, worker=False))
    with Session(app.state.engine) as session:
        keys = make_world(session)
    client = Client(app)
    yield Bench(client, app.state.engine, keys)
    client.close()
    app.state.engine.dispose()


class TestRefusedForms:
    @every_form
    def test_gives_script_back_escaped_when_it_refuses(self, bench: Bench, case: FormCase) -> None:
        """A refused form comes back with what was typed, escaped, in every field; nothing is stored."""
        before = bench.counts()
        path, sent = filled(case, bench.keys)
        typed = named_like(case.form, *TEXT, "Quantity", "Temperature", "Day")
        # One field too long refuses the form even where script would be a lawful text.
        longest = dict.fromkeys(typed, SCRIPT) | {typed[0]: SCRIPT + "x" * 9000}

        answer = bench.client.post(path, {**sent, **longest})

        assert answer.status_code == 422
        assert SCRIPT not in answer.text
        assert answer.text.count(ESCAPED) >= len(typed)
        assert bench.counts() == before

    @every_form
    def test_refuses_too_long_a_text_beside_its_field(self, bench: Bench, case: FormCase) -> None:
        """Over-long text is refused in words beside each field, and the other fields stay filled in."""
        before = bench.counts()
        path, sent = filled(case, bench.keys)
        names = named_like(case.form, *TEXT)

        answer = bench.client.post(path, {**sent, **dict.fromkeys(names, "x" * 8001)})

        assert answer.status_code == 422
        for name in names:
            assert f'id="{name}-error"' in answer.text
        assert "x" * 8001 in answer.text
        assert bench.counts() == before

    @every_form
    def test_refuses_days_that_never_were(self, bench: Bench, case: FormCase) -> None:
        """A day such as 30 February is refused beside its field; the form stays filled in and nothing is stored."""
        before = bench.counts()
        path, sent = filled(case, bench.keys)
        days = named_like(case.form, "Day")
        if not days:
            pytest.skip("this form has no day")

        answers = [
            bench.client.post(path, {**sent, **dict.fromkeys(days, typed)})
            for typed in ("2026-02-30", "0001-01-01", "soon", "9999-12-31")
        ]

        for answer, typed in zip(answers, ("2026-02-30", "0001-01-01", "soon", "9999-12-31"), strict=True):
            assert answer.status_code == 422
            assert all(f'id="{name}-error"' in answer.text for name in days)
            assert f'value="{typed}"' in answer.text
        assert bench.counts() == before

    @every_form
    def test_refuses_unknown_keys_and_codes(self, bench: Bench, case: FormCase) -> None:
        """A choice that isn't in the list is refused in words, whatever its form."""
        before = bench.counts()
        path, sent = filled(case, bench.keys)
        choices = named_like(case.form, "Choice")
        if not choices:
            pytest.skip("this form has no choice")

        answers = [
            bench.client.post(path, {**sent, **dict.fromkeys(choices, wrong)})
            for wrong in ("99", "-1", "1 OR 1=1", "9" * 30)
        ]

        for answer in answers:
            assert answer.status_code == 422
            assert answer.text.count("Choose one from the list.") >= len(choices)
        assert bench.counts() == before

    @every_form
    def test_is_not_found_under_an_unknown_key(self, bench: Bench, case: FormCase) -> None:
        """An address of a record that isn't there says so in words, with 404."""
        if "{" not in case.path:
            pytest.skip("this form needs no record")
        _, sent = filled(case, bench.keys)
        keys = dict.fromkeys(bench.keys, 9_999)

        for wrong in (9_999, 0, 2**63):
            answer = bench.client.get(case.path.format(**dict.fromkeys(keys, wrong)))
            assert answer.status_code == 404
            assert "There is no such" in answer.text
        assert bench.client.post(case.path.format(**keys), sent).status_code == 404


class TestOddRequests:
    @every_form
    def test_takes_a_file_in_a_text_field_for_nothing(self, bench: Bench, case: FormCase) -> None:
        """A file sent under a text field's name is never a traceback."""
        path, sent = filled(case, bench.keys)
        name = named_like(case.form, *TEXT)[0]
        rest = {key: value for key, value in sent.items() if key != name}

        answer = bench.client.request("POST", path, data=rest, files={name: ("a.txt", b"text")})

        assert answer.status_code in {303, 422}

    @every_form
    def test_takes_an_empty_form_without_a_traceback(self, bench: Bench, case: FormCase) -> None:
        """A form without any field is answered as a form, not as an error of the server."""
        path, _ = filled(case, bench.keys)

        assert bench.client.post(path, {}).status_code in {303, 422}
