"""The drawings beside the questions: our own, plain SVG, within their frame, told in words as well."""

import re
from xml.etree import ElementTree

import pytest
from sqlmodel import Session

from analysis.evidence.catalogue import load_catalogue
from server.pages import STATIC
from server.verdict import sights
from server.verdict.sights import HEIGHT, SIGHTS, WIDTH
from tests.server.builders import make_failure
from tests.server.conftest import Client

CODES = sorted(SIGHTS)


def test_the_ten_hardest_to_put_in_words_have_one() -> None:
    """At least ten, and each belongs to a question that is asked."""
    assert len(SIGHTS) >= 10
    assert set(SIGHTS) <= {entry.code for entry in load_catalogue().answers()}


@pytest.mark.parametrize("code", CODES)
def test_it_is_plain_svg_within_its_frame(code: str) -> None:
    """Well-formed, shapes alone, no style, script or address; rectangles and ellipses lie inside (SVG 1.1, ch. 9)."""
    root = ElementTree.fromstring(f"<svg>{SIGHTS[code].drawing}</svg>")
    assert {child.tag for child in root} <= {"rect", "path", "ellipse", "circle"}
    for shape in root:
        assert not {"style", "href", "onclick", "fill"} & set(shape.attrib)
        if shape.tag == "rect":
            x, y, w, h = (float(shape.attrib[name]) for name in ("x", "y", "width", "height"))
            assert 0 <= x < x + w <= WIDTH
            assert 0 <= y < y + h <= HEIGHT
        if shape.tag == "ellipse":
            cx, cy, rx, ry = (float(shape.attrib[name]) for name in ("cx", "cy", "rx", "ry"))
            assert 0 <= cx - rx < cx + rx <= WIDTH
            assert 0 <= cy - ry < cy + ry <= HEIGHT


@pytest.mark.parametrize("code", CODES)
def test_every_kind_of_shape_has_its_colour(code: str) -> None:
    """A class without a rule in the sheet would be drawn black."""
    css = (STATIC / "css/verdict.css").read_text(encoding="utf-8")
    for kind in set(" ".join(re.findall(r'class="([^"]+)"', SIGHTS[code].drawing)).split()):
        assert f".sight .{kind} {{" in css


def test_mating_gaps_are_mirror_images() -> None:
    """Laid open like a book, a gap of one half lies mirrored on the other about the dashed line at 48."""
    root = ElementTree.fromstring(f"<svg>{SIGHTS['gaps_mate'].drawing}</svg>")
    (a, b) = [(float(s.attrib["x"]), float(s.attrib["width"])) for s in root if s.attrib.get("class") == "h"]
    assert a[0] + a[1] + b[0] == pytest.approx(2 * 48)


def test_the_same_every_time() -> None:
    """Drawn from fixed numbers: two drawings are one."""
    assert sights._whitening_most() == sights._whitening_most()


def test_it_stands_at_the_question_with_words(client: Client, session: Session) -> None:
    """Who can't see it hears what is drawn."""
    text = client.get(f"/failures/{make_failure(session).id}/observations").text
    for code in CODES:
        question = text[text.index(f'id="q-{code}"') :].split("</fieldset>")[0]
        assert f'aria-label="Drawing: {SIGHTS[code].words}"' in question
