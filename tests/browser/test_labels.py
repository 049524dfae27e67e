"""Labels as they come out of a printer: their size on paper, and their codes read at a label printer's resolution."""

import io
from collections.abc import Iterator

import numpy as np
import pypdf
import pytest
import zxingcpp
from PIL import Image
from playwright.sync_api import Browser
from sqlmodel import Session

from server.app import create_app
from server.settings import Settings
from tests.browser.serving import served
from tests.browser.watch import Watch, sideways_px
from tests.server.builders import make_failure, make_fragment, make_part

PAPER_MM = {"62x29": (62, 29), "89x36": (89, 36), "50x25": (50, 25), "a4": (210, 297)}
PIECES = 3
BASE = "http://bench-under-the-stairs.local:8321"
LONG = "Shed lid hinge, left, with the long arm and the brass bush"
DOTS_PER_INCH, CSS_PER_INCH = (
    203,
    96,
)  # 8 dots a mm: the coarser of the usual thermal printers; common practice, no source


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a case of three pieces, with long names, as names are."""
    data = tmp_path_factory.mktemp("labels")
    app = create_app(Settings(data=data, worker=False))
    with Session(app.state.engine) as session:
        failure = make_failure(session, make_part(session, name=LONG), case_label="2026-0147")
        for number in range(1, PIECES + 1):
            make_fragment(session, failure, item_label=f"2026-0147/{number}", collector="Oswin Farrow-Pellingham")
    app.state.engine.dispose()
    with served(data) as found:
        yield found


def page_of(size: str, used: int = 0) -> str:
    items = "".join(f"&items={n}" for n in ("all", *range(1, PIECES + 1)))
    return f"/failures/1/labels?size={size}&base={BASE}&used={used}{items}"


@pytest.mark.parametrize("size", PAPER_MM)
def test_printed_codes_are_read_and_pages_have_the_labels_size(size: str, address: str, browser: Browser) -> None:
    """In black and white at 203 dots an inch each code reads as the address of its piece; the paper is the label's."""
    context = browser.new_context(base_url=address, device_scale_factor=DOTS_PER_INCH / CSS_PER_INCH)
    notes = Watch(address)
    page = notes.over(context.new_page())
    page.goto(page_of(size, used=2), wait_until="networkidle")
    read = []
    for label in page.locator("article.label").all():
        with Image.open(io.BytesIO(label.screenshot())) as picture:
            dots = np.where(np.asarray(picture.convert("L")) < 128, 0, 255).astype(np.uint8)
        read += [found.text for found in zxingcpp.read_barcodes(dots)]
        too_tall = label.evaluate("one => one.querySelector('.told').scrollHeight - one.clientHeight")
        assert too_tall <= 0
    pdf = pypdf.PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    context.close()

    case = f"{BASE}/failures/1"
    assert read == [case, *(f"{case}#piece-{n}" for n in range(1, PIECES + 1))]
    assert len(pdf.pages) == (1 if size == "a4" else PIECES + 1)
    for sheet in pdf.pages:
        box = sheet.mediabox
        assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx(PAPER_MM[size], abs=0.5)
    text = pdf.pages[-1].extract_text()
    assert f"2026-0147/{PIECES}" in text
    assert "Show the labels" not in text
    assert notes.nothing_wrong()


def test_the_page_fits_a_phone(address: str, browser: Browser) -> None:
    """Choosing labels on a phone needs no sideways scrolling of the page."""
    context = browser.new_context(base_url=address, viewport={"width": 390, "height": 844})
    page = context.new_page()
    for size in PAPER_MM:
        page.goto(page_of(size))
        assert sideways_px(page) <= 0
    assert page.get_by_role("button", name="Print").is_visible()
    context.close()
