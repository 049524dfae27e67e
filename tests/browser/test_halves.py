"""Two halves in one frame in a real browser: side by side, with the slider, by turns, and without a script."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi import FastAPI
from playwright.sync_api import Browser, Page, expect
from sqlmodel import Session

from server.app import create_app
from server.settings import Settings
from tests.browser.serving import served
from tests.browser.watch import sideways_px, watched
from tests.server.photo_builders import RESULT, make_measurement
from tests.server.test_halves import AFFINE, OUTLINE, pair

PAGES = ("/measurements/1", "/measurements/1/mate", "/measurements/1/gaps/1")


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a record with a pair of halves, one gap confirmed and one not, the mate measured too."""
    data = tmp_path_factory.mktemp("halves")
    app = create_app(Settings(data=data, worker=False))
    fill(app)
    app.state.engine.dispose()
    with served(data) as found:
        yield found


def fill(app: FastAPI) -> None:
    """Keep the pair."""
    gap = RESULT["walls"][0]["gaps"][0] | {"start_px": [300, 190], "end_px": [400, 190]}
    gaps = [gap | {"start_mm": at, "end_mm": at + 2, "confirmed": share} for at, share in ((1, 1.0), (5, 0.1))]
    with Session(app.state.engine) as session:
        _, mate = pair(session, app, walls=[RESULT["walls"][0] | {"gaps": gaps}], gap_agreement=0.55)
        ring = [[float(v) for v in AFFINE[:, :2] @ corner + AFFINE[:, 2]] for corner in OUTLINE]
        make_measurement(session, app, mate, result=RESULT | {"outline_px": ring})


@pytest.fixture
def page(address: str, browser: Browser) -> Iterator[Page]:
    """A watched page at phone width."""
    with watched(browser, address, (390, 844)) as seen:
        yield seen


def lefts(page: Page) -> tuple[float, float]:
    """Where the tops of the two pictures stand."""
    boxes = [page.locator(f".half.{which} img").bounding_box() for which in ("here", "there")]
    return tuple(box["y"] if box else -1.0 for box in boxes)  # type: ignore[return-value]


def test_slider_and_turns(page: Page) -> None:
    """Laid on each other the pictures share one place; the slider uncovers the lower one by key; they take turns."""
    page.goto("/measurements/1/mate", wait_until="networkidle")
    assert lefts(page)[0] != lefts(page)[1]
    page.get_by_label("one over the other").check()
    assert lefts(page)[0] == pytest.approx(lefts(page)[1], abs=1)
    page.get_by_role("slider").press("End")
    clip = "getComputedStyle(document.querySelector('.there .plate')).clipPath"
    assert page.evaluate(clip).endswith(" 0%)")
    page.get_by_role("slider").press("Home")
    assert page.evaluate(clip).endswith("100%)")
    page.get_by_label("by turns").check()
    expect(page.locator(".half.there")).to_be_hidden()
    expect(page.locator(".half.there")).to_be_visible()
    page.get_by_label("side by side").check()
    expect(page.get_by_role("slider")).to_be_hidden()
    assert sideways_px(page) <= 0


def test_without_a_script_they_stand_side_by_side(address: str, browser: Browser) -> None:
    """No control that would do nothing is shown, and both pictures and the table are."""
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    page.goto("/measurements/1/mate")
    expect(page.get_by_label("by turns")).to_be_hidden()
    for which in ("here", "there"):
        expect(page.locator(f".half.{which} img")).to_be_visible()
    expect(page.get_by_role("cell", name="no (10 % of it)")).to_be_visible()
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_fault_of_weight(scheme: str, address: str, browser: Browser) -> None:
    """On the pages of a measurement, of both halves and of one gap."""
    context = browser.new_context(base_url=address, color_scheme=scheme, bypass_csp=True)  # type: ignore[arg-type]
    page, faults = context.new_page(), []
    for path in PAGES:
        page.goto(path, wait_until="networkidle")
        found = Axe().run(page).response["violations"]
        faults += [
            (path, one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in {"serious", "critical"}
        ]
    context.close()
    assert not faults
