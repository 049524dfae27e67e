"""Quick entry in a real browser at a phone's size: under a minute's work, and nothing lost where sending fails."""

import io
import re

import httpx
from axe_playwright_python.sync_playwright import Axe
from PIL import Image
from playwright.sync_api import Browser, FilePayload, Page, expect

from tests.browser.watch import Watch, sideways_px

PHONE = {"width": 390, "height": 844}


def shot(name: str, shade: int) -> FilePayload:
    file = io.BytesIO()
    Image.new("RGB", (640, 480), (shade, 80, 60)).save(file, "JPEG")
    return {"name": name, "mimeType": "image/jpeg", "buffer": file.getvalue()}


def fill(page: Page, part: str) -> None:
    """Enter a broken part as a person would: photos first, then three fields."""
    page.goto("/quick")
    page.get_by_label("Take one").set_input_files(shot("a.jpg", 10))
    page.get_by_label("Take one").set_input_files(shot("b.jpg", 20))
    page.get_by_label("Choose", exact=True).set_input_files([shot("c.jpg", 30)])
    page.get_by_label("Which part").fill(part)
    page.get_by_label("What happened").fill("Snapped while the lid was opened.")
    page.get_by_label("Where it was found").fill("garden shed")


def photos_there(address: str, path: str) -> int:
    return len(re.findall(r"/photos/\d+/original", httpx.get(f"{address}{path}/photos").text))


def test_logged_on_a_phone_and_found_unfinished_on_the_bench(empty_address: str, browser: Browser) -> None:
    """Photos taken one after the other add up; one is removed; the case opens, and the bench says what it lacks."""
    context = browser.new_context(viewport=PHONE, base_url=empty_address, has_touch=True, is_mobile=True)
    notes = Watch(empty_address)
    page = notes.over(context.new_page())
    fill(page, "Shed lid hinge")
    expect(page.locator(".shots li")).to_have_count(3)
    page.get_by_role("button", name="Remove b.jpg").click()
    expect(page.locator("[data-part=known]")).to_contain_text("becomes a new part")
    assert sideways_px(page) <= 0
    page.get_by_role("button", name="Log it").click()

    expect(page).to_have_url(re.compile(r"/failures/\d+$"))
    assert photos_there(empty_address, page.url.removeprefix(empty_address)) == 2
    page.goto("/")
    expect(page.locator("section", has=page.get_by_role("heading", name="Unfinished entries"))).to_contain_text(
        "Shed lid hinge"
    )
    context.close()
    assert notes.nothing_wrong()


def test_out_of_reach_everything_stays_and_goes_later(empty_address: str, browser: Browser) -> None:
    """The server can't be reached: words and photos stay, and go whole afterwards; a reloaded page keeps its words."""
    context = browser.new_context(
        viewport=PHONE, base_url=empty_address
    )  # not watched: requests are cut off on purpose
    page = context.new_page()
    fill(page, "Shed latch")
    page.route("**/quick", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    page.get_by_role("button", name="Log it").click()
    expect(page.locator("[data-part=trouble]")).to_contain_text("does not answer")
    expect(page.locator(".shots li")).to_have_count(3)
    page.unroute("**/quick")
    page.get_by_role("button", name="Log it").click()
    expect(page).to_have_url(re.compile(r"/failures/\d+$"))
    assert photos_there(empty_address, page.url.removeprefix(empty_address)) == 3

    page.goto("/quick")
    expect(page.get_by_label("Which part")).to_have_value("")
    page.get_by_label("What happened").fill("It fell.")
    page.reload()
    expect(page.get_by_label("What happened")).to_have_value("It fell.")
    context.close()


def test_what_is_missing_is_marked_and_the_photos_stay(empty_address: str, browser: Browser) -> None:
    """A refused entry marks the field in place; the photos need not be chosen again."""
    context = browser.new_context(viewport=PHONE, base_url=empty_address)
    notes = Watch(empty_address, refusals_expected=True)
    page = notes.over(context.new_page())
    fill(page, "")
    page.get_by_role("button", name="Log it").click()
    expect(page.locator(".field.wrong")).to_have_count(1)
    expect(page.locator(".field.wrong")).to_contain_text("Write something here.")
    expect(page.get_by_label("Which part")).to_have_attribute("aria-invalid", "true")
    expect(page.locator(".shots li")).to_have_count(3)
    context.close()
    assert notes.nothing_wrong()


def test_without_a_script_the_form_does_the_same(empty_address: str, browser: Browser) -> None:
    """Plain fields and a plain sending."""
    context = browser.new_context(viewport=PHONE, base_url=empty_address, java_script_enabled=False)
    page = context.new_page()
    page.goto("/quick")
    page.get_by_label("Choose", exact=True).set_input_files([shot("d.jpg", 40), shot("e.jpg", 50)])
    page.get_by_label("Which part").fill("Shed knob")
    page.get_by_label("What happened").fill("Came off.")
    page.get_by_role("button", name="Log it").click()
    expect(page).to_have_url(re.compile(r"/failures/\d+$"))
    assert photos_there(empty_address, page.url.removeprefix(empty_address)) == 2
    context.close()


def test_the_filled_form_passes_axe(empty_address: str, browser: Browser) -> None:
    """With photos and a marked field, in both themes: no fault of weight."""
    for scheme in ("light", "dark"):
        context = browser.new_context(viewport=PHONE, base_url=empty_address, color_scheme=scheme, bypass_csp=True)  # type: ignore[arg-type]
        page = context.new_page()
        fill(page, "")
        page.get_by_role("button", name="Log it").click()
        expect(page.locator(".field.wrong")).to_have_count(1)
        found = Axe().run(page).response["violations"]
        context.close()
        assert not [(one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in {"serious", "critical"}]
