"""A part's lineage: every record has its line, its sign, and its words beside the picture."""

import re
from datetime import date
from typing import Any

from sqlmodel import Session

from server.records import ChosenPlan
from tests.server.builders import (
    keep,
    make_build,
    make_change,
    make_failure,
    make_part,
    make_person_verdict,
    make_revision,
    make_service,
    make_spool,
)
from tests.server.conftest import Client


def lineage(client: Client, part_id: int | None) -> str:
    """Return the picture and its words."""
    return client.get(f"/parts/{part_id}").text.partition('<figure class="lineage')[2].partition("</figure>")[0]


def told(page: str) -> list[tuple[int, str]]:
    """Return the words line by line with their depth."""
    return [(int(depth), words) for depth, words in re.findall(r'<li class="depth-(\d)">([^<]*)</li>', page)]


def test_a_life_from_the_original_to_the_plan(client: Client, session: Session) -> None:
    """Original, failure, revision, build, stay, failure, planned build: in order, each below what it belongs to."""
    part = make_part(session, name="Yoke")
    original = make_revision(session, part, number=0, is_original=True)
    first = make_failure(session, revision=original, found_on=date(2026, 1, 1))
    revision = make_revision(session, part, drawn_on=date(2026, 1, 5))
    make_change(session, first, done_in_revision_id=revision.id)
    build = make_build(session, revision, built_on=date(2026, 1, 10), spool_id=make_spool(session).id)
    stay = make_service(session, build, fitted_on=date(2026, 1, 15))
    second = make_failure(session, service=stay, found_on=date(2026, 3, 1))
    make_person_verdict(session, second)
    plan = make_build(session, revision, built_on=None)
    keep(session, ChosenPlan(failure_id=second.id, build_id=plan.id, plan_key="a", first_look_on=date(2026, 5, 1)))

    page = lineage(client, part.id)

    assert told(page) == [
        (0, "Revision 0 (the original)"),
        (1, "Failure 1: no verdict yet, 1 Jan 2026; its change was carried out in Revision 1, 5 Jan 2026"),
        (0, "Revision 1, 5 Jan 2026"),
        (1, "Build 1, 10 Jan 2026, PETG"),
        (2, "Fitted 15 Jan 2026"),
        (2, "Failure 2: overload, 1 Mar 2026"),
        (1, "Build 2, planned"),
    ]
    assert 'role="img"' in page
    assert "2 revisions, 1 build, 2 failures" in page
    assert page.count('class="led-head"') == 1
    assert page.count('class="broke"') == 2


def test_a_part_without_a_design_has_no_picture(client: Client, session: Session) -> None:
    """Nothing is drawn where there is nothing to draw."""
    assert lineage(client, make_part(session).id) == ""


def test_nothing_runs_out_of_the_picture(client: Client, session: Session) -> None:
    """Long names are cut in the picture and whole in words; all strokes stay within."""
    part = make_part(session)
    revision = make_revision(session, part)
    failure = make_failure(session, build=make_build(session, revision), case_label="A" * 200)
    make_change(session, failure, done_in_revision_id=make_revision(session, part, number=2).id)

    page = lineage(client, part.id)

    assert "A" * 200 in page
    assert all(len(text) < 60 for text in re.findall(r"<text[^>]*>([^<]*)<", page))
    width, height = map(int, re.findall(r'viewBox="0 0 (\d+) (\d+)"', page)[0])
    for path in re.findall(r'class="(?:led|stroke)" d="([^"]*)"', page):
        across = [float(x) for x in re.findall(r"[MH](\d+)", path)]
        down = [float(y) for y in re.findall(r"(?:M\d+ |V)(\d+)", path)]
        assert max(across) <= width
        assert max(down) <= height


def test_queries_do_not_grow(client: Client, session: Session, count_queries: Any) -> None:
    """Ten builds, stays and failures take as many queries as one."""
    part = make_part(session)
    revision = make_revision(session, part)

    def one() -> None:
        make_failure(session, service=make_service(session, make_build(session, revision)))

    one()
    few = count_queries(lambda: client.get(f"/parts/{part.id}"))
    for _ in range(9):
        one()

    assert count_queries(lambda: client.get(f"/parts/{part.id}")) == few
