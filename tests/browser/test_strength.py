"""Load and strength in a real browser: from the verdict to a load, refused once, and to what came of it."""

import re
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, expect
from sqlmodel import Session

from server.app import create_app
from server.settings import Settings
from tests.browser.serving import served
from tests.browser.watch import Watch, sideways_px
from tests.server.builders import make_face, make_fragment
from tests.server.test_strength import failure_of, measured

SIZES = {"desk": (1280, 900), "phone": (390, 844)}


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a record with one measured face, 10 × 20 mm with a strip of 4 mm that was never joined."""
    data = tmp_path_factory.mktemp("strength")
    app = create_app(Settings(data=data, worker=False))
    with Session(app.state.engine) as session:
        face = make_face(session, make_fragment(session))
        measured(session, app, face)
        assert failure_of(session, face) == 1
    app.state.engine.dispose()
    with served(data) as found:
        yield found


def test_a_load_is_logged_and_held_against_the_face(address: str, browser: Browser) -> None:
    """A load without lever arm comes back with words and everything typed; mended, the page shows what came of it."""
    context = browser.new_context(viewport={"width": 390, "height": 844}, base_url=address)
    notes = Watch(address, refusals_expected=True)
    page = notes.over(context.new_page())
    page.goto("/failures/1/verdict")
    page.get_by_role("link", name="Load and strength").click()
    expect(page.locator("main")).to_contain_text("No load is logged yet")
    page.get_by_role("link", name="Log a load").click()
    page.get_by_label("Name of the load").fill("leaned on")
    page.get_by_label("Force", exact=True).fill("20 to 45 kgf")
    page.get_by_label("How it acts on the half that came off").select_option("bend")
    page.get_by_label("Pointing to, on that photo").fill("12:00")
    page.get_by_label("Entered by").fill("Runa")
    page.get_by_role("button", name="Save the load").click()
    expect(page.locator(".field.wrong .error")).to_contain_text("It bends only by its distance from the face")
    expect(page.get_by_label("Force", exact=True)).to_have_value("20 to 45 kgf")
    assert sideways_px(page) <= 0
    page.get_by_label("How far from the face it acts").fill("20 to 30")
    page.get_by_role("button", name="Save the load").click()
    expect(page.locator("#loads")).to_contain_text("bends it over, towards 12:00 on the photo")

    page.get_by_role("link", name="Give its strength").click()
    page.get_by_label("Strength of the weld").fill("9 to 11 MPa")
    page.get_by_label("Where it is from").select_option("coupon")
    page.get_by_label("Entered by").fill("Runa")
    page.get_by_role("button", name="Save").click()
    case = page.locator(".case-result")
    expect(case).to_contain_text("Borne as built")
    expect(case).to_contain_text("What it gives way to first: bending")
    # 10 MPa on 10 × 16² / 6 mm³ at 20 to 30 mm: some 140 to 210 N (statics); the range is a little wider.
    low, high = (float(v) for v in re.findall(r"(\d+) to (\d+) N", case.locator(".spans li").nth(1).inner_text())[0])
    assert 120 < low < 155
    assert 195 < high < 240
    expect(page.locator(".weld-drawing .pull-head")).to_have_count(2)
    expect(page.locator(".weld-drawing .spot")).to_have_count(1)

    page.get_by_role("link", name="Verdict").last.click()
    expect(page.locator("#evidence")).to_contain_text("that a face with every contact joined would have broken too")
    page.get_by_role("link", name="load and strength", exact=True).click()
    expect(page).to_have_url(re.compile("/failures/1/strength"))
    context.close()
    assert notes.nothing_wrong()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_its_pages_pass_axe_and_do_not_scroll_sideways(scheme: str, address: str, browser: Browser) -> None:
    """No fault of weight in either theme, no sideways scrolling at either width; follows the test above."""
    faults = []
    for size in SIZES.values():
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            base_url=address,
            color_scheme=scheme,  # type: ignore[arg-type]
            bypass_csp=True,
        )
        page = context.new_page()
        for path in ("/failures/1/strength", "/failures/1/loads/new", "/failures/1/weld", "/loads/1/correct"):
            page.goto(path, wait_until="networkidle")
            assert sideways_px(page) <= 0, path
            found = Axe().run(page).response["violations"]
            faults += [
                (path, one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in {"serious", "critical"}
            ]
        context.close()
    assert not faults
