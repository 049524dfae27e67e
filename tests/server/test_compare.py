"""One place of a part across its revisions."""

from typing import Any
from urllib.parse import quote

from sqlmodel import Session

from tests.server.builders import (
    make_face,
    make_failure,
    make_fragment,
    make_part,
    make_person_verdict,
    make_photo,
    make_revision,
    make_site,
)
from tests.server.conftest import Client


def test_stands_side_by_side(client: Client, session: Session, count_queries: Any) -> None:
    """A site of the same name in two revisions shows both, without others; queries don't grow with them."""
    part = make_part(session)
    path = f"/parts/{part.id}/compare?feature="

    def broke(number: int, site: str = "Root") -> None:
        failure = make_failure(session, revision=make_revision(session, part, number=number))
        place = make_site(session, failure, name=site)
        make_photo(session, make_face(session, make_fragment(session, failure), name=f"{number}a", site_id=place.id))
        make_person_verdict(session, failure)

    broke(1)
    few = count_queries(lambda: client.get(path))
    broke(2, "root")
    broke(3, "tip")
    page = client.get(path + "ROOT").text

    assert "<h2>Revision 1</h2>" in page
    assert "<h2>Revision 2</h2>" in page
    assert "<h2>Revision 3</h2>" not in page
    assert page.count("not measured yet") == 2
    assert page.count("overload") == 2
    assert count_queries(lambda: client.get(path + "root")) == few


def test_takes_any_feature(client: Client, session: Session) -> None:
    """A feature that isn't there shows what is; a part without faces says so."""
    part = make_part(session)
    address = f"/parts/{part.id}/compare?feature={quote('<x>&%00')}"

    assert "No face of this part" in client.get(address).text
    make_face(session, make_fragment(session, make_failure(session, part)), name="1a")
    assert "<h2>Revision 1</h2>" in client.get(address).text
