"""From a verdict to the chosen plan, the planned build, a colleague's vote, and the first look on the bench."""

import re
from datetime import date, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.browser.test_walk import add_photo, arrived, choose, day, follow, log_face, measure, save, submit
from tests.browser.watch import Watch, sideways_px


def make_vent_lever(page: Page) -> str:
    """A part with a locked edge, a free side, a build, a hot place and a stay in service; return its address."""
    page.goto("/parts/new")
    save(page, name="Vent lever", function="Lifts the pane of a seed house")
    arrived(page, r"/parts/\d+$")
    part = page.url
    follow(page, "/locked/new")
    save(page, what="Toothed edge, 14 teeth", standing="no: it is locked", reason="the catch rides on it")
    arrived(page, r"/parts/\d+$")
    follow(page, "/locked/new")
    save(page, what="Upper side of the lever", standing="yes: it is free", kind="a thicker section", room_mm="1.5")
    arrived(page, r"/parts/\d+$")
    page.goto(f"{part}/place/new")
    save(page, highest_c="52 C", how_known="thermometer under the pane", entered_by="Tove")
    page.goto(part)
    follow(page, "/revisions/new")
    save(page, what_changed="First drawing", drawn_on=day(90))
    follow(page, "/builds/new")
    save(page, built_on=day(80), nozzle_mm="0.8", line_width_mm="0.8", layer_height_mm="0.12", wall_count="4",
         infill_percent="100", nozzle_c="235 C", fan_percent="80")  # fmt: skip
    arrived(page, r"/parts/\d+")
    follow(page, "/services/new")
    save(page, fitted_on=day(70), fit_check="works")
    arrived(page, r"/parts/\d+")
    return part


def break_and_measure(page: Page) -> str:
    """Log the failure with one piece and one face, photograph and measure it; return the case's address."""
    follow(page, "/failures/new")
    save(page, found_on=day(3), finder="Tove")
    arrived(page, r"/failures/\d+")
    case = re.sub(r"[?#].*", "", page.url)
    follow(page, "/fragments/new")
    save(page, item_label="1", status="recovered")
    follow(page, "/sites/new")
    save(page, name="root")
    log_face(page, "stump", "1", None)
    add_photo(page, case, "stump", "cleat-a.jpg")
    page.get_by_label("µm per pixel").check()
    submit(page, "Save the scale", um_per_px="15.12")
    measure(page)
    return case


def state_load_and_weld(page: Page, case: str) -> None:
    """A gust that bends it, and what the weld may have borne."""
    page.goto(f"{case}/strength")
    page.locator("main a[href*='/loads/new']").first.click()
    choose(page, "face_id", "stump")
    save(page, name="gust under the pane", force="20 to 60 N", azimuth="3:00", reach="20 to 30 mm",
         action="bends it over: pushes sideways at a distance", entered_by="Tove")  # fmt: skip
    arrived(page, r"/strength")
    page.locator("main a[href*='/weld']").first.click()
    save(page, strength="10 to 25 MPa", origin="judgement", entered_by="Tove")
    arrived(page, r"/strength")


def conclude(page: Page, case: str) -> None:
    """The person's conclusion, which the plan follows."""
    page.goto(f"{case}/verdict")
    page.locator("[name=said_by]").fill("Tove")
    submit(page, "Keep your verdict", mode="layer delamination", reason="bare roads on both sides")
    arrived(page, r"/verdict")


def choose_a_plan(page: Page, case: str) -> str:
    """State the terms, see that the toothed edge is respected, choose the best plan; return its words."""
    page.goto(f"{case}/plan")
    page.get_by_text("State or change the terms").click()
    page.get_by_label("Upper side of the lever").check()
    submit(page, "Save the terms", wanted_percent="10", thickness_mm="5", bends="bends it, mostly", mass_g="14",
           printing_h="1.5", needed_on=(date.today() + timedelta(10)).isoformat())  # fmt: skip
    arrived(page, r"/plan")
    expect(page.locator("main")).to_contain_text("gust under the pane")
    expect(page.locator("#plans .chance").first).to_contain_text("that the load exceeds the capacity")
    expect(page.locator("main")).to_contain_text("the catch rides on it")
    words = page.locator("#plans h3").first.inner_text()
    page.locator("[name=plan_key]").select_option(index=1)
    submit(page, "Make it the next build", reason="fits the time we have", chosen_by="Tove")
    arrived(page, r"/plan")
    expect(page.locator("#chosen")).to_contain_text("It is not in service yet.")
    return words


def ask_a_colleague(page: Page, case: str) -> str:
    """Make a link; return it."""
    page.goto(f"{case}/opinions")
    submit(page, "Make a link", for_whom="Odd", question="Would you thicken it?")
    link = page.locator("a.token").get_attribute("href")
    assert link
    return link


@pytest.mark.usefixtures("browser")
def test_from_verdict_to_the_next_build(watch: tuple[Page, Watch]) -> None:
    """An invented lever goes all the way; a second browser without any login votes on a phone."""
    page, notes = watch
    part = make_vent_lever(page)
    case = break_and_measure(page)
    state_load_and_weld(page, case)
    conclude(page, case)
    choose_a_plan(page, case)

    link = ask_a_colleague(page, case)
    browser = page.context.browser
    assert browser
    other = browser.new_context(viewport={"width": 390, "height": 844})
    colleague = notes.over(other.new_page())
    colleague.goto(link)
    expect(colleague.locator("main")).to_contain_text("Would you thicken it?")
    expect(colleague.locator("img").first).to_be_visible()
    assert sideways_px(colleague) <= 0
    colleague.locator("[name=plan_key]").select_option(index=1)
    submit(colleague, "Send the answer", who="Odd", comment="I would, and turn it too")
    expect(colleague.get_by_role("status")).to_contain_text("Your answer is in the case")
    other.close()

    page.goto(f"{case}/plan")
    expect(page.locator("#opinions")).to_contain_text("I would, and turn it too")
    expect(page.locator("#opinions .tally tbody")).to_contain_text("1")
    page.goto("/")
    expect(page.locator("main")).to_contain_text("Vent lever: planned build")
    page.goto(part)
    expect(page.locator(".timeline")).to_contain_text("Planned.")
