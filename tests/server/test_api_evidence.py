"""The evidence in the published interface: questions, answers, verdict, what if."""

from typing import Any

import pytest
from sqlmodel import Session, select

from analysis.evidence.catalogue import load_catalogue
from server.records import Observation, VerdictRecord
from server.verdict.scope import read_scope
from server.verdict.verdicts import weigh_scope
from tests.server.builders import make_face, make_failure, make_fragment, make_photo, make_site
from tests.server.conftest import Client
from tests.server.evidence_builders import make_answer

LAYERS = [("bare_roads_both", "yes"), ("one_layer_plane", "yes"), ("drawn_lips", "no"), ("whitening_most", "no")]


def sent(*pairs: tuple[str, str], **more: Any) -> dict[str, Any]:
    return {"seen_by": "A. Bencher", "answers": [{"code": c, "answer": a, **more} for c, a in pairs]}


def test_from_questions_to_a_verdict(client: Client, session: Session) -> None:
    """The list, the answers, the verdict: the same that the page reckons."""
    failure = make_failure(session)
    here = f"/api/failures/{failure.id}"
    listed = client.get(f"{here}/observations").json()["questions"]
    assert [one["code"] for one in listed] == [entry.code for entry in load_catalogue().answers()]
    assert client.get(f"{here}/verdict").json()["primary"] == "undetermined"

    answer = client.post(f"{here}/observations", json=sent(*LAYERS))

    assert answer.status_code == 201
    held = {one["code"]: one["answer"]["answer"] for one in answer.json()["questions"] if one["answer"]}
    assert held == dict(LAYERS)
    verdict = client.get(f"{here}/verdict").json()
    assert verdict["primary"] == "layer_delamination"
    assert (
        verdict["probabilities"] == weigh_scope(session, read_scope(session, failure.id or 0)).result["probabilities"]
    )


def test_what_if_keeps_nothing(client: Client, session: Session) -> None:
    """Left out by code the answer moves the verdict; the record stays as it was."""
    failure = make_failure(session)
    for code, answer in LAYERS:
        make_answer(session, failure, code, answer)
    here = f"/api/failures/{failure.id}/verdict"

    off = client.get(f"{here}?off=bare_roads_both&off=drawn_lips").json()

    assert off["off"] == ["bare_roads_both", "drawn_lips"]
    assert "bare_roads_both" not in [line["code"] for line in off["contributions"]]
    assert off["probabilities"] != client.get(here).json()["probabilities"]
    assert session.exec(select(VerdictRecord)).all() == []


def test_clashing_answers_are_kept_and_named(client: Client, session: Session) -> None:
    """Both stay, and the answer says that they can't both be true."""
    failure = make_failure(session)
    clash = sent(("one_layer_plane", "yes"), ("several_planes", "yes"))
    answer = client.post(f"/api/failures/{failure.id}/observations", json=clash).json()
    assert [one["codes"] for one in answer["clashes"]] == [["one_layer_plane", "several_planes"]]
    assert len(session.exec(select(Observation)).all()) == 2


def test_a_correction_names_what_it_replaces(client: Client, session: Session) -> None:
    """A second answer is added beside the first."""
    failure = make_failure(session)
    for answer in ("yes", "no"):
        client.post(f"/api/failures/{failure.id}/observations", json=sent(("powder", answer)))
    first, second = session.exec(select(Observation)).all()
    assert second.replaces_id == first.id


def test_a_site_has_its_own(client: Client, session: Session) -> None:
    """An answer at a site is not one for the other site."""
    failure = make_failure(session)
    one, other = (make_site(session, failure, name=name) for name in ("root", "boss"))
    client.post(f"/api/failures/{failure.id}/observations?site={one.id}", json=sent(("powder", "yes")))
    for site, expected in ((one, ["powder"]), (other, [])):
        lines = client.get(f"/api/failures/{failure.id}/verdict?site={site.id}").json()["contributions"]
        assert [line["code"] for line in lines] == expected
    whole = client.get(f"/api/failures/{failure.id}/verdict").json()
    assert whole["order"][0] == "Which site let go first can't be told."


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (sent(("moon_phase", "yes")), "no question moon_phase"),
        (sent(("rub_area", "yes")), "no question rub_area"),
        (sent(("powder", "maybe")), "yes"),
        (sent(("powder", "yes"), ("powder", "no")), "answered twice"),
        (sent(("powder", "yes"), ("crazes", "yes"), photo_id=999), "photo 999"),
        ({**sent(("powder", "yes")), "seen_by": "  "}, "who looked"),
        ({"seen_by": "A. Bencher", "answers": []}, "answers"),
    ],
)
def test_bad_answers_are_refused_whole(client: Client, session: Session, wish: dict[str, Any], words: str) -> None:
    """All or none: 422 with what was wrong, and nothing is kept."""
    answer = client.post(f"/api/failures/{make_failure(session).id}/observations", json=wish)
    assert answer.status_code == 422
    assert words in answer.text
    assert session.exec(select(Observation)).all() == []


def test_another_failures_photo_or_site_is_none_of_this(client: Client, session: Session) -> None:
    """A photo of another failure is refused, a site of another is not found."""
    failure, other = make_failure(session), make_failure(session)
    photo = make_photo(session, make_face(session, make_fragment(session, other)))
    site = make_site(session, other)
    here = f"/api/failures/{failure.id}/observations"
    assert client.post(here, json=sent(("powder", "yes"), photo_id=photo.id)).status_code == 422
    assert client.get(f"{here}?site={site.id}").status_code == 404
