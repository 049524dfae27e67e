"""The count by hand in a real browser: by keys alone, taken up again after a reload, and without a script."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from sqlmodel import Session

from server.app import create_app
from server.counting import counts as counting
from server.settings import Settings
from tests.browser.serving import served
from tests.browser.watch import sideways_px, watched
from tests.server.count_builders import make_face_to_count

FACE = "face_06"
STATE = "[data-state]"


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a record with five photos of one practice face, each with scale and outline; the fourth is counted once."""
    data = tmp_path_factory.mktemp("count")
    fill(data)
    with served(data) as found:
        yield found


def fill(data: Path) -> None:
    """Keep the face's photo five times, each on a face of its own: every test counts another."""
    app = create_app(Settings(data=data, worker=False))
    with Session(app.state.engine) as session:
        photos = [make_face_to_count(session, app, FACE) for _ in range(5)]
        ground = counting.ground_of(session, photos[3])
        assert ground is not None
        draft = counting.start(session, photos[3], ground, 6, 2)
        counting.keep_marks(session, draft, dict.fromkeys(range(len(draft.codes)), "b"))
        counting.finish(session, draft, "R.", "")
        counting.start(session, photos[3], ground, 6, 2)
    app.state.engine.dispose()


@pytest.fixture
def page(address: str, browser: Browser) -> Iterator[Page]:
    """A watched page at phone width."""
    with watched(browser, address, (390, 844)) as seen:
        yield seen


def begin(page: Page, photo: int) -> int:
    """Begin a count of two fields of about nine points by keys alone; return how many points it has."""
    page.goto(f"/photos/{photo}/count")
    page.get_by_label("Points per field").focus()
    page.keyboard.press("Control+A")
    page.keyboard.type("9")
    page.keyboard.press("Tab")
    page.keyboard.press("Control+A")
    page.keyboard.type("2")
    page.keyboard.press("Enter")
    expect(page.locator("[data-board]")).to_be_focused()
    return int(page.locator("progress").get_attribute("max") or 0)


def keys(page: Page, pressed: str) -> None:
    """Press the keys and wait until the server has them."""
    for key in pressed:
        page.keyboard.press(key)
    expect(page.locator("[data-kept]")).to_have_text("All saved.")


def test_counting_by_keys_alone_with_a_reload_between(page: Page) -> None:
    """Begin, judge, undo, reload, judge the rest and finish: no mouse, and nothing that was judged is asked again."""
    points = begin(page, 1)
    keys(page, "bex")
    page.keyboard.press("Backspace")
    expect(page.locator(STATE)).to_contain_text("Undone. Point 3")
    keys(page, "u")
    expect(page.locator("[data-news=judged]")).to_have_text("3")

    page.reload()
    expect(page.locator(STATE)).not_to_contain_text(re.compile(r"Point [123] of \d+, field 1"))
    expect(page.locator("[data-news=judged]")).to_have_text("3")
    keys(page, "b" * (points - 3))
    expect(page.locator(STATE)).to_contain_text("All points are judged")
    page.keyboard.press("Enter")
    page.keyboard.type("R.")
    page.keyboard.press("Enter")

    expect(page).to_have_url(re.compile(r"/counts/\d+$"))
    share = round((points - 2) / (points - 1) * 100)
    expect(page.locator(".value")).to_have_text(f"{share} %")
    expect(page.locator("main")).to_contain_text("by R.")
    assert sideways_px(page) <= 0


def test_judgements_that_the_server_did_not_get_survive_a_reload(address: str, browser: Browser) -> None:
    """With the server out of reach the judging goes on; after a reload in reach all of it is kept."""
    context = browser.new_context(base_url=address)  # not watched: the console complains of the requests cut off here
    page = context.new_page()
    begin(page, 2)
    keys(page, "b")
    page.route("**/marks", lambda route: route.abort())
    for key in "ev":
        page.keyboard.press(key)
    expect(page.locator("[data-kept]")).to_contain_text("not saved yet")
    page.unroute("**/marks")
    page.reload()
    expect(page.locator("[data-kept]")).to_have_text("All saved.")
    expect(page.locator("[data-news=judged]")).to_have_text("3")
    context.close()


def test_buttons_have_names_and_the_pages_pass_axe(address: str, browser: Browser) -> None:
    """Every button has a name to be read out; axe finds no fault of weight in either theme, under way and after."""
    for scheme in ("light", "dark"):
        context = browser.new_context(base_url=address, color_scheme=scheme, bypass_csp=True)  # type: ignore[arg-type]
        page, faults = context.new_page(), []
        for path in ("/photos/5/count", "/photos/4/count", "/counts/1"):
            page.goto(path, wait_until="networkidle")
            found = Axe().run(page).response["violations"]
            faults += [
                (path, one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in {"serious", "critical"}
            ]
        page.goto("/photos/4/count")
        for words in ("bonded", "bare", "void", "can't tell", "on the boundary", "Undo", "Previous point", "Enlarge"):
            expect(page.locator("point-counter").get_by_role("button", name=words, exact=True)).to_be_visible()
        context.close()
        assert not faults


def test_without_a_script_a_field_at_a_time(address: str, browser: Browser) -> None:
    """Radios for each point of a field; saving leads to the next field, then the count can be finished."""
    context = browser.new_context(base_url=address, java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto("/photos/3/count")
    page.locator("[name=points_per_field]").fill("9")
    page.locator("[name=field_count]").fill("2")
    page.get_by_role("button", name="Begin counting").click()
    for number in (1, 2):
        expect(page.locator("form.plain h2")).to_have_text(f"Field {number} of 2")
        for row in page.locator(".rows li").all():
            row.get_by_label("bare").check()
        page.get_by_role("button", name="Save and go on").click()
    page.get_by_role("button", name="Finish the count").click()
    expect(page.locator(".value")).to_have_text("0 %")
    context.close()
