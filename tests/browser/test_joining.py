"""Several photos to one picture in a real browser: added, chosen, made by the worker, looked at, withdrawn."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from skimage import data
from sqlmodel import Session

from server.app import create_app
from server.settings import Settings
from tests.analysis.rendered_focus import series
from tests.browser.serving import served
from tests.browser.watch import sideways_px, watched
from tests.server.builders import make_face, make_fragment
from tests.server.test_joinings import png

SECONDS_TO_MAKE = 120_000  # ms; on a machine busy with others
GRAVEL = data.gravel()


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a record with two faces and no photo; its worker runs."""
    folder = tmp_path_factory.mktemp("joining")
    app = create_app(Settings(data=folder, worker=False))
    with Session(app.state.engine) as session:
        piece = make_fragment(session)
        make_face(session, piece, name="wide one")
        make_face(session, piece, name="deep one")
    app.state.engine.dispose()
    with served(folder) as found:
        yield found


@pytest.fixture
def page(address: str, browser: Browser) -> Iterator[Page]:
    """A watched page."""
    with watched(browser, address, (1280, 900)) as seen:
        yield seen


def add_and_choose(page: Page, face_id: int, pictures: dict[str, np.ndarray], folder: Path) -> None:
    """Add the pictures to the face and tick all of them for one picture."""
    for name, picture in pictures.items():
        (folder / name).write_bytes(png(picture))
    page.goto(f"/faces/{face_id}")
    page.get_by_label("Choose files").set_input_files([folder / name for name in pictures])
    page.get_by_role("button", name="Add photos").click()
    page.get_by_role("link", name="Make one picture of several photos").click()
    for name in pictures:
        page.get_by_label(name).check()


def looks_well(page: Page) -> None:
    """No sideways scrolling at either width, nothing for axe to complain of."""
    for width, height in ((390, 844), (1280, 900)):
        page.set_viewport_size({"width": width, "height": height})
        assert sideways_px(page) == 0
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()


def test_fields_become_one_picture_and_are_withdrawn(page: Page, tmp_path: Path) -> None:
    """Two fields are added, chosen and made one; the seams can be hidden; withdrawn, it leaves the face."""
    fields = {"left.png": GRAVEL[:240, :240], "right.png": GRAVEL[30:270, 130:370]}
    add_and_choose(page, 1, fields, tmp_path)
    looks_well(page)

    page.get_by_role("button", name="Make one picture").click()
    expect(page.get_by_role("heading", name="One picture of 2 fields")).to_be_visible(timeout=SECONDS_TO_MAKE)
    looks_well(page)
    seams = page.get_by_alt_text("Seams between the fields, as lines")
    expect(seams).to_be_visible()
    page.get_by_label("Seams", exact=True).uncheck()
    expect(seams).to_be_hidden()

    page.get_by_label("Why").fill("the second field is blurred")
    page.get_by_role("button", name="Withdraw").click()
    expect(page.get_by_role("button", name="Put it back")).to_be_visible()
    page.goto("/faces/1")
    expect(page.get_by_text("one picture of 2 fields.png")).to_have_count(0)
    expect(page.get_by_text("left.png", exact=True)).to_be_visible()


def test_a_focus_series_becomes_a_sharp_picture_with_heights(page: Page, tmp_path: Path) -> None:
    """Seven slices are merged; what belongs to a focus series is asked only for one, and heights are told in mm."""
    texture = GRAVEL[:180, :240]
    depth = np.where(np.indices(texture.shape)[1] < 130, 2.5, 4.5)
    slices = {f"slice {n}.png": one for n, one in enumerate(series(texture, depth, 7)[0])}
    add_and_choose(page, 2, slices, tmp_path)
    expect(page.get_by_label("Step of the focus")).to_be_hidden()
    page.get_by_label("a focus series").check()
    page.get_by_label("Step of the focus").fill("50")

    page.get_by_role("button", name="Make one picture").click()
    expect(page.get_by_role("heading", name="One sharp picture of 7 photos")).to_be_visible(timeout=SECONDS_TO_MAKE)
    expect(page.get_by_alt_text("Heights of the face")).to_be_visible()
    expect(page.locator("figcaption", has_text="Height above the lowest focus")).to_contain_text("mm")
    looks_well(page)
