"""Marks in a real browser: set by tap and by key, undone, measured with, and the old number beside the new."""

import re
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from sqlmodel import Session

from server.app import create_app
from server.measuring import examinations, jobs
from server.settings import Settings
from tests.browser.serving import served
from tests.browser.watch import sideways_px, watched
from tests.server.photo_builders import make_real_photo, order_real

SECONDS_TO_MEASURE = 120_000  # ms; on a machine busy with others


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a record with one practice face, measured."""
    data = tmp_path_factory.mktemp("marks")
    app = create_app(Settings(data=data, worker=False))
    with Session(app.state.engine) as session:
        order_real(session, make_real_photo(session, app, "face_12"), "face_12")
    job = jobs.claim(app.state.engine, 60)
    assert job
    examinations.run_job(app.state.engine, app.state.store, app.state.settings, job)
    app.state.engine.dispose()
    with served(data) as found:
        yield found


@pytest.fixture(params=[(1280, 900), (390, 844)], ids=["desk", "phone"])
def page(address: str, browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A watched page."""
    with watched(browser, address, request.param) as seen:
        yield seen


def tap(page: Page, across: float, down: float) -> None:
    """Tap the picture at a share of its width and height."""
    box = page.locator("svg.canvas").bounding_box()
    assert box
    page.locator("svg.canvas").click(position={"x": box["width"] * across, "y": box["height"] * down})


def test_marked_and_measured_again(page: Page) -> None:
    """Two taps and a key set three marks, a tap on one takes it away, undo brings it back; then both numbers show."""
    page.goto("/measurements/1")
    page.get_by_role("link", name="Say what you see").click()
    expect(page.locator("[data-tools]")).to_be_visible()
    text = page.get_by_label("Marks", exact=True)
    tap(page, 0.4, 0.35)
    page.locator("[name=mark-kind][value=bare]").check()
    tap(page, 0.6, 0.6)
    expect(text).to_have_value(re.compile(r"^[\d.]+, [\d.]+, bonded\n[\d.]+, [\d.]+, bare$"))
    tap(page, 0.4, 0.35)
    expect(text).to_have_value(re.compile(r"^[\d.]+, [\d.]+, bare$"))
    page.get_by_role("button", name="Undo").click()
    page.locator("svg.canvas").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("u")
    expect(text).to_have_value(re.compile(r"bonded\n.*bare\n.*unknown$"))
    expect(page.locator("svg.canvas .mark.casing")).to_have_count(3)
    page.get_by_role("button", name="Measure again with these marks").click()

    expect(page).to_have_url(re.compile(r"/measurements/([2-9])$"), timeout=SECONDS_TO_MEASURE)
    expect(page.get_by_role("heading", name="What the marks changed")).to_be_visible()
    expect(page.locator(".moved")).to_contain_text("Bonded share of the face")
    expect(page.locator(".layer-marks .mark.casing")).to_have_count(3)
    assert sideways_px(page) <= 0


def test_without_a_script_marks_are_written(address: str, browser: Browser) -> None:
    """The picture carries a rule to read places from; a mistake comes back with its words and what was written."""
    context = browser.new_context(base_url=address, java_script_enabled=False)
    page = context.new_page()
    page.goto("/measurements/1/marks")
    expect(page.locator("[data-rule]")).to_be_visible()
    page.get_by_label("Marks", exact=True).fill("800, 600, torn")
    page.get_by_role("button", name="Measure again").click()
    expect(page.get_by_role("alert")).to_contain_text("is not a mark")
    page.get_by_label("Marks", exact=True).fill("800, 600, bare")
    page.get_by_role("button", name="Measure again").click()
    expect(page).to_have_url(re.compile(r"/(jobs|measurements)/\d+$"))
    context.close()


def test_axe_finds_no_fault_of_weight(address: str, browser: Browser) -> None:
    """In either theme."""
    faults = []
    for scheme in ("light", "dark"):
        context = browser.new_context(base_url=address, color_scheme=scheme, bypass_csp=True)  # type: ignore[arg-type]
        page = context.new_page()
        page.goto("/measurements/1/marks", wait_until="networkidle")
        found = Axe().run(page).response["violations"]
        faults += [
            (scheme, one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in {"serious", "critical"}
        ]
        context.close()
    assert not faults
