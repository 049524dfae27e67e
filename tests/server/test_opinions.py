"""Links for colleagues: what they show, what they leave out, when they close, and what comes back."""

import re
from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from server.records import Customer, Failure, Opinion, OpinionLink, Part, PersonVerdict, Photo, Revision
from tests.server import builders, evidence_builders
from tests.server.conftest import Client


@pytest.fixture
def failure(session: Session) -> Failure:
    """A case of a customer's part at a named place."""
    customer = builders.keep(session, Customer(name="Quill and Daughters"))
    part = builders.make_part(session, customer_id=customer.id, fitted_where="loft window", note="pays late")
    failure = builders.make_failure(session, part=part)
    builders.keep(session, PersonVerdict(failure_id=failure.id, mode="layer_delamination", reason="x", said_by="Ada"))
    return failure


def make_link(client: Client, failure: Failure, **sent: Any) -> str:
    """Make a link and return the path that it opens."""
    body = {"for_whom": "Ivo", "expires_on": str(date.today() + timedelta(5)), **sent}
    page = client.post(f"/failures/{failure.id}/opinions", body)
    assert page.status_code == 200, page.text
    return re.findall(r'class="token" href="http://bench\.test(/opinions/[^"]+)"', page.text)[0]


def test_link_leaves_customer_place_and_notes_out(client: Client, failure: Failure) -> None:
    """Unless ticked; the internal note never shows."""
    plain = client.get(make_link(client, failure)).text
    ticked = client.get(make_link(client, failure, shows_customer="y", shows_place="y")).text

    for words in ("Quill", "loft window", "pays late"):
        assert words not in plain
    assert "Quill" in ticked
    assert "loft window" in ticked
    assert "pays late" not in ticked


def test_link_leads_nowhere_else(client: Client, failure: Failure) -> None:
    """No address on the page but its own and the files of its looks: a colleague has this case and no way on."""
    path = make_link(client, failure)
    leads = set(re.findall(r'href="([^"#]+)"', client.get(path).text))

    assert not {address for address in leads if not address.startswith(("/static/", path))}


def test_token_is_long_and_not_kept(client: Client, session: Session, failure: Failure) -> None:
    """The record holds a hash; two links never share a token; the token is on no later page."""
    tokens = [make_link(client, failure).rsplit("/", 1)[1] for _ in range(2)]
    kept = session.exec(select(OpinionLink)).all()

    assert len(set(tokens)) == 2
    assert min(map(len, tokens)) >= 43  # 32 bytes in base64
    assert not {link.token_sha256 for link in kept} & set(tokens)
    assert not any(token in client.get(f"/failures/{failure.id}/opinions").text for token in tokens)


def test_unknown_expired_and_withdrawn_links_open_nothing(client: Client, session: Session, failure: Failure) -> None:
    """404 for one that never was, 410 with words for one that has ended; no word of the case on either."""
    expired, withdrawn = make_link(client, failure), make_link(client, failure)
    first, second = session.exec(select(OpinionLink).order_by(OpinionLink.id)).all()  # type: ignore[arg-type]
    first.expires_on = date.today() - timedelta(1)
    session.add(first)
    session.commit()
    client.post(f"/opinion-links/{second.id}/revoke")

    assert client.get("/opinions/" + "x" * 43).status_code == 404
    for path, words in ((expired, "has run out"), (withdrawn, "was withdrawn")):
        for answer in (client.get(path), client.get(f"{path}/photos/1.jpg"), client.post(path, {"who": "Ivo"})):
            assert answer.status_code == 410
            assert words in answer.text
            assert "Hinge arm" not in answer.text
    assert not session.exec(select(Opinion)).all()


def test_vote_proposal_and_comment_come_back_into_the_case(
    client: Client, session: Session, failure: Failure
) -> None:
    """With name and time, tallied beside the program's place; a second answer of one person counts once."""
    path = make_link(client, failure)
    page = client.get(path).text
    votes = re.findall(r'<option value="([^"]+)">\d+\. ', page)
    client.post(path, {"who": "Ivo", "plan_key": votes[1], "proposal": "a brass sleeve", "comment": "seen it before"})
    thanks = client.post(path, {"who": "ivo", "plan_key": votes[0]})
    case = client.get(f"/failures/{failure.id}/plan").text

    assert "Thank you" in thanks.text
    assert "a brass sleeve" in case
    assert "seen it before" in case
    assert len(session.exec(select(Opinion)).all()) == 2
    assert re.search(r"<td>1</td><td>1</td>", case)


def test_empty_answer_is_sent_back(client: Client, session: Session, failure: Failure) -> None:
    """A name alone is no opinion; what was typed is still there."""
    answer = client.post(make_link(client, failure), {"who": "Ivo the smith"})

    assert answer.status_code == 422
    assert "one of them is enough" in answer.text
    assert "Ivo the smith" in answer.text
    assert not session.exec(select(Opinion)).all()


def test_photos_are_shown_without_what_the_camera_wrote(client: Client, session: Session, failure: Failure) -> None:
    """A picture by its number, made anew from pixels; its file name only where ticked; other cases' photos never."""
    face = builders.make_face(session, builders.make_fragment(session, failure))
    photo = evidence_builders.located_jpeg()
    client.post(f"/faces/{face.id}/photos", {}, files={"photos": ("garden-of-customer.jpg", photo, "image/jpeg")})
    path, named = make_link(client, failure), make_link(client, failure, shows_photo_facts="y")
    picture = client.get(f"{path}/photos/1.jpg")

    assert picture.status_code == 200
    assert b"Exif" not in picture.content
    assert evidence_builders.SECRET_CAMERA.encode() in photo
    assert evidence_builders.SECRET_CAMERA.encode() not in picture.content
    assert "garden-of-customer" not in client.get(path).text
    assert "garden-of-customer" in client.get(named).text
    assert client.get(f"{path}/photos/2.jpg").status_code == 404
    assert client.get(f"{path}/photos/0.jpg").status_code == 404


def test_shared_pages_are_not_indexed_or_cached(client: Client, failure: Failure) -> None:
    """Headers say so on the page and on its pictures."""
    answer = client.get(make_link(client, failure))

    assert "noindex" in answer.headers["X-Robots-Tag"]
    assert "no-store" in answer.headers["Cache-Control"]


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"expires_on": "2020-01-01"}, "past"),
        ({"expires_on": str(date.today() + timedelta(900))}, "a year at most"),
        ({"answer_by": str(date.today() + timedelta(90))}, "By that day the link has ended"),
        ({"for_whom": ""}, "Write something"),
    ],
)
def test_impossible_links_are_not_made(
    client: Client, session: Session, failure: Failure, wrong: dict[str, str], words: str
) -> None:
    """Each with its words, and the rest still filled in."""
    body = {"for_whom": "Ivo", "question": "Which?", "expires_on": str(date.today() + timedelta(5)), **wrong}
    answer = client.post(f"/failures/{failure.id}/opinions", body)

    assert answer.status_code == 422
    assert words in answer.text
    assert "Which?" in answer.text
    assert not session.exec(select(OpinionLink)).all()


def test_model_only_when_ticked(client: Client, session: Session, failure: Failure) -> None:
    """The model file of the broken revision, as a download, through a link that shows it and through no other."""
    revision = session.get_one(Revision, failure.revision_id)
    client.post(f"/revisions/{revision.id}/files", {"kind": "model"}, files={"file": ("arm.stl", b"solid arm")})
    closed, open_link = make_link(client, failure), make_link(client, failure, shows_model="y")

    assert client.get(f"{closed}/models/1").status_code == 404
    shown = client.get(f"{open_link}/models/1")
    assert shown.content == b"solid arm"
    assert shown.headers["Content-Disposition"].startswith("attachment")
    assert session.get_one(Part, revision.part_id)
    assert not session.exec(select(Photo)).all()
