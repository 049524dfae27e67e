"""From a verdict to the next build: terms, ranked plans, the choice, and what came of it."""

import html
import re
from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from server.records import (
    Build,
    Change,
    ChosenPlan,
    Failure,
    Inspection,
    Observation,
    Part,
    PersonVerdict,
    PlanTerms,
    Revision,
)
from tests.server import builders
from tests.server.conftest import Client

TOMORROW = date.today() + timedelta(1)


@pytest.fixture
def failure(session: Session) -> Failure:
    """A failure that a person called layer delamination, of a build whose roads and heat are known."""
    revision = builders.make_revision(session)
    build = builders.make_build(session, revision, nozzle_mm=0.4, nozzle_c=230.0, fan_percent=60.0)
    stay = builders.make_service(session, build)
    failure = builders.make_failure(session, build=build, service=stay)
    builders.keep(
        session, PersonVerdict(failure_id=failure.id, mode="layer_delamination", reason="bare", said_by="Ada")
    )
    return failure


def choice(client: Client, failure: Failure, **sent: Any) -> Any:
    """Choose the first plan on the page."""
    page = client.get(f"/failures/{failure.id}/plan").text
    first = page.split('<option value="">choose</option><option value="')[1].split('"')[0]
    body = {"plan_key": first, "reason": "least work", "first_look_on": str(TOMORROW), "chosen_by": "Ada", **sent}
    return client.post(f"/failures/{failure.id}/plan/choose", body)


def test_plans_say_what_they_rest_on(client: Client, failure: Failure) -> None:
    """The page names the verdict and who concluded it, and why no probability is given where no load was stated."""
    page = client.get(f"/failures/{failure.id}/plan").text

    assert "layer delamination, concluded by Ada" in page
    assert "No load was stated" in page
    assert "Annealing, packed in salt" in page
    assert "never calls a part safe" in page


def test_causes_that_were_found_are_planned_for(client: Client, session: Session, failure: Failure) -> None:
    """A break that began at a sharp corner brings the fillet into the list, whatever the mode."""
    where = f"/failures/{failure.id}/plan"
    assert "Fillet at the root.</strong> Say how much room" in client.get(where).text
    session.exec(select(PersonVerdict)).one().mode = "under_extrusion"
    session.commit()
    assert "Fillet at the root.</strong> It would not treat" in client.get(where).text

    builders.keep(session, Observation(failure_id=failure.id, code="sharp_corner_origin", answer="yes", seen_by="Ada"))

    assert "Fillet at the root.</strong> Say how much room" in client.get(where).text


def test_terms_are_added_and_never_overwritten(client: Client, session: Session, failure: Failure) -> None:
    """Two statements are two entries; the newest one fills the form."""
    for percent in ("10", "2.5"):
        answer = client.post(f"/failures/{failure.id}/plan", {"wanted_percent": percent, "thickness_mm": "4 mm"})
        assert answer.status_code == 303

    assert [terms.wanted for terms in session.exec(select(PlanTerms)).all()] == [0.1, 0.025]
    assert 'value="2.5"' in client.get(f"/failures/{failure.id}/plan").text


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"wanted_percent": "0"}, "out of range"),
        ({"wanted_percent": "5", "needed_on": "2020-01-01"}, "past"),
        ({"wanted_percent": "5", "thickness_mm": "4 in"}, "Give this in mm"),
        ({}, "Give the number"),
    ],
)
def test_wrong_terms_come_back_filled_in(
    client: Client, session: Session, failure: Failure, wrong: dict[str, str], words: str
) -> None:
    """Nothing is kept, the words stand at the field, and what was typed is still there."""
    answer = client.post(f"/failures/{failure.id}/plan", {"entered_by": "Grace", **wrong})

    assert answer.status_code == 422
    assert words in answer.text
    assert "Grace" in answer.text
    assert not session.exec(select(PlanTerms)).all()


def test_locked_room_excludes_a_change_by_its_name(client: Client, session: Session, failure: Failure) -> None:
    """A fillet at a corner that is locked is left out with the reason that was entered; elsewhere it would not help."""
    part = session.get_one(Part, session.get_one(Revision, failure.revision_id).part_id)
    here = builders.make_locked(
        session, part, what="root corner", reason="a wheel rolls in it", kind="inner corner"
    )
    client.post(f"/failures/{failure.id}/plan", {"wanted_percent": "5", "at_break": str(here.id)})
    page = client.get(f"/failures/{failure.id}/plan").text

    assert "Fillet at the root.</strong> It needs room at root corner, which is locked (a wheel rolls in it)." in page


def test_chosen_plan_becomes_the_next_build(client: Client, session: Session, failure: Failure) -> None:
    """A planned build with the changed setting, the changes with their reasons, and the first look on the bench."""
    assert choice(client, failure).status_code == 303

    plan = session.exec(select(ChosenPlan)).one()
    build = session.get_one(Build, plan.build_id)
    assert build.built_on is None
    assert build.note.startswith("Planned.")
    assert build.layer_height_mm is not None
    assert {change.done_in_revision_id for change in session.exec(select(Change)).all()} == {build.revision_id}
    bench = client.get("/").text
    assert f"planned build {build.id}" in bench
    assert "first look" in bench


def test_first_look_turns_into_an_inspection_at_fitting(client: Client, session: Session, failure: Failure) -> None:
    """Fitting the planned build plans the inspection that was promised, once."""
    choice(client, failure)
    plan = session.exec(select(ChosenPlan)).one()
    fitted = str(date.today())
    for _ in range(2):
        client.post(f"/builds/{plan.build_id}/services/new", {"fitted_on": fitted})

    assert [look.due_on for look in session.exec(select(Inspection)).all()] == [TOMORROW]
    assert "not fitted yet" not in client.get("/").text


def test_choice_without_reason_or_plan_loses_nothing(client: Client, session: Session, failure: Failure) -> None:
    """Refused with what was typed still there."""
    without_reason = choice(client, failure, reason="")
    without_plan = choice(client, failure, plan_key="nothing", reason="the light one")

    assert (without_reason.status_code, without_plan.status_code) == (422, 422)
    assert "the light one" in without_plan.text
    assert not session.exec(select(ChosenPlan)).all()
    assert not session.exec(select(Change)).all()


def test_prediction_stands_beside_what_happened(client: Client, session: Session, failure: Failure) -> None:
    """First open, then a look that found nothing, then the next failure of the same build."""
    choice(client, failure)
    plan = session.exec(select(ChosenPlan)).one()
    where = f"/failures/{failure.id}/plan"
    assert "It is not in service yet." in client.get(where).text

    build = session.get_one(Build, plan.build_id)
    stay = builders.make_service(session, build, fitted_on=date.today() - timedelta(40))
    builders.make_inspection(
        session, stay, due_on=date.today(), done_on=date.today() - timedelta(10), result="sound"
    )
    assert "30 days after fitting, no damage was seen" in client.get(where).text

    builders.make_failure(session, service=stay, found_on=date.today())
    page = client.get(where).text
    assert "broke again" in page
    assert "40 days after fitting" in page


def test_published_interface_gives_the_same_ranking(client: Client, failure: Failure) -> None:
    """The plans under /api are those of the page, with the choice and its state."""
    choice(client, failure)
    told = client.get(f"/api/failures/{failure.id}/plans").json()
    page = client.get(f"/failures/{failure.id}/plan").text

    keys = re.findall(r'<option value="([^"]+)">\d+\. ', page)
    assert [html.escape(plan["key"]) for plan in told["plans"]] == keys
    assert (told["primary"], told["reaches"]) == ("layer_delamination", None)
    assert [one["outcome"] for one in told["chosen"]] == ["open"]


def test_undetermined_verdict_plans_for_what_is_in_question(client: Client, session: Session) -> None:
    """Without a conclusion the page says which modes are open and treats those; it never says that nothing helps."""
    failure = builders.make_failure(session)
    page = client.get(f"/failures/{failure.id}/plan").text

    assert "Still in question" in page
    assert "layer delamination, under-extrusion, overload, interference rub" in page
    assert "is the answer" not in page
    assert "<h3>" in page
