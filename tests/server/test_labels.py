"""Labels: the code is read back by a reader that had no part in making it, and the page says what goes on which bag."""

import re
from urllib.parse import urlencode

import numpy as np
import numpy.typing as npt
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlmodel import Session

from server.labels.code import code_svg
from server.labels.page import SIZES, Label, pages_of
from tests.server.builders import make_failure, make_fragment, make_part
from tests.server.conftest import Client

STEP = re.compile(r"([MmhH])(-?[\d.]+)(?:[ ,]?(-?[\d.]+))?")
PIXELS = 4  # per module


def drawn(svg: bytes) -> npt.NDArray[np.uint8]:
    """Draw the code's SVG: one path of horizontal strokes, a module high, on a light ground."""
    text = svg.decode()
    side = int(re.findall(r'viewBox="0 0 (\d+) \1"', text)[0])
    modules = np.full((side, side), 255, np.uint8)
    path = next(d for d in re.findall(r' d="([^"]+)"', text) if "h" in d and "v" not in d)
    x = y = 0.0
    for kind, first, second in STEP.findall(path):
        if kind == "M":
            x, y = float(first), float(second)
        elif kind == "m":
            x, y = x + float(first), y + float(second)
        else:
            modules[int(y), round(x) : round(x + float(first))] = 0
            x += float(first)
    return np.kron(modules, np.ones((PIXELS, PIXELS), np.uint8))


def read(svg: bytes) -> str:
    found = zxingcpp.read_barcodes(drawn(svg))
    assert len(found) == 1
    return str(found[0].text)


@settings(max_examples=60, deadline=None)
@given(st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=160))
def test_every_address_is_read_back(text: str) -> None:
    """What an outside reader (zxing-cpp) finds in the drawn code is the text, for any signs an address can have."""
    assert read(code_svg(text)) == text


def test_the_margin_is_that_of_the_standard() -> None:
    """Four light modules on each side, as ISO/IEC 18004 asks for."""
    dark = np.argwhere(drawn(code_svg("http://bench.local:8321/failures/12")) == 0) // PIXELS
    side = drawn(code_svg("http://bench.local:8321/failures/12")).shape[0] // PIXELS
    assert dark.min() == 4
    assert dark.max() == side - 5


class TestPage:
    def test_code_leads_to_the_piece_on_its_case(self, client: Client, session: Session) -> None:
        """Each piece's code holds the address of the case at that piece; the case's page has that place."""
        failure = make_failure(session, make_part(session, name="Shed latch"), case_label="L-7")
        piece = make_fragment(session, failure, item_label="L-7/2", collector="O. Farrow")
        asked = urlencode({"base": "http://bench.local", "items": piece.id, "size": "a4"})
        page = client.get(f"/failures/{failure.id}/labels?{asked}")
        assert all(words in page.text for words in ("L-7/2", "Shed latch", "Failure L-7", "collected O. Farrow"))

        address = re.findall(r'src="([^"]+code\.svg[^"]+)"', page.text)[0].replace("&amp;", "&")
        code = client.get(address)
        assert code.headers["content-type"] == "image/svg+xml"
        assert read(code.content) == f"http://bench.local/failures/{failure.id}#piece-{piece.id}"
        assert f'id="piece-{piece.id}"' in client.get(f"/failures/{failure.id}").text

    def test_which_bags_there_are(self, client: Client, session: Session) -> None:
        """Recovered pieces at first; the bag with all of them where none is logged yet; nothing for a missing one."""
        failure = make_failure(session)
        assert client.get(f"/failures/{failure.id}/labels").text.count('class="label"') == 1
        make_fragment(session, failure, item_label="there")
        make_fragment(session, failure, item_label="gone", status="missing")
        page = client.get(f"/failures/{failure.id}/labels").text
        assert page.count('class="label"') == 1
        assert '<p class="item">there</p>' in page
        assert "piece gone" not in page

    @pytest.mark.parametrize(
        "base", ["", "bench.local", "ftp://x", "http://", "http://a b", "http://x?y", "http://" + "x" * 120]
    )
    def test_an_address_that_can_not_be_is_refused(self, client: Client, session: Session, base: str) -> None:
        """Said beside its field; no label is shown and no code is made."""
        failure = make_failure(session)
        page = client.get(f"/failures/{failure.id}/labels?{urlencode({'base': base, 'items': 'all', 'size': 'a4'})}")
        assert page.status_code == 422
        assert 'id="base-error"' in page.text
        assert 'class="label"' not in page.text
        assert (
            client.get(f"/failures/{failure.id}/labels/code.svg?{urlencode({'base': base, 'item': 'all'})}").status_code
            == 422
        )

    def test_what_only_this_computer_opens_is_said(self, client: Client, session: Session) -> None:
        """A code with 127.0.0.1 is of no use to a phone."""
        path = f"/failures/{make_failure(session).id}/labels?items=all&size=62x29&base="
        assert "on this computer only" in client.get(path + "http://127.0.0.1:8321").text
        assert "on this computer only" not in client.get(path + "http://bench.local").text

    def test_unknown_label_and_case(self, client: Client, session: Session) -> None:
        """Not found, in words."""
        failure = make_failure(session)
        assert client.get(f"/failures/{failure.id}/labels/code.svg?item=99&base=http://a").status_code == 404
        assert client.get("/failures/99/labels").status_code == 404


@given(st.integers(0, 60), st.integers(0, 23))
def test_no_label_is_lost_and_no_used_place_is_printed_on(many: int, used: int) -> None:
    """On sheets every label stands once, in order, after the places that are used up; no page is over-full."""
    labels = [Label(str(n), str(n), "", (), "", "") for n in range(many)]
    pages = pages_of(labels, SIZES["a4"], used)
    places = [place for page in pages for place in page]
    assert [place for place in places if place] == labels
    assert places[:used] == [None] * used
    assert all(1 <= len(page) <= 24 for page in pages)
    assert all(len(page) == 1 for page in pages_of(labels, SIZES["50x25"], 0))
