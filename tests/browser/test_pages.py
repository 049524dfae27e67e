"""Every page of the demo that a link leads to, at desk and at phone width."""

import re
from collections import Counter
from urllib.parse import urljoin, urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.browser.watch import Watch, sideways_px

ALIKE = 2  # pages of one pattern that are looked at; more would show the same template again
NO_PAGE = re.compile(r"\.(jpg|png|pdf|json|zip)$|/original$|^/files/|^/static/|^/api/")
MATERIAL = re.compile(r"^/materials/(?!own/)[^/]+")  # each is named by its code
SIZES = {"desk": (1280, 900), "phone": (390, 844)}


@pytest.fixture(scope="module")
def addresses(browser: Browser, demo_address: str) -> list[str]:
    """Return the paths of all kinds of pages."""
    return reachable(browser, demo_address)


def reachable(browser: Browser, address: str) -> list[str]:
    """Return the paths that links lead to, from the first page on, at most `ALIKE` of each pattern."""
    context = browser.new_context(base_url=address)
    page, seen, waiting = context.new_page(), Counter[str](), ["/"]
    found: list[str] = []
    while waiting:
        path = waiting.pop(0)
        pattern = pattern_of(path)
        if path in found or seen[pattern] >= ALIKE:
            continue
        seen[pattern] += 1
        found.append(path)
        page.goto(path)
        waiting += links(page, address)
    context.close()
    return found


def pattern_of(path: str) -> str:
    """Return the path without what is asked of it, each number as N: two such pages come from one template."""
    return re.sub(r"\d+", "N", MATERIAL.sub("/materials/CODE", path.split("?")[0]))


def links(page: Page, address: str) -> list[str]:
    """Return the paths on this server that the page links to as pages."""
    targets: list[str] = page.eval_on_selector_all("a[href]", "all => all.map(a => a.getAttribute('href'))")
    whole = [urlsplit(urljoin(page.url, target)) for target in targets]
    own = [parts for parts in whole if f"{parts.scheme}://{parts.netloc}" == address]
    return [parts.path + (f"?{parts.query}" if parts.query else "") for parts in own if not NO_PAGE.search(parts.path)]


def test_links_lead_to_every_kind_of_page(addresses: list[str]) -> None:
    """Whoever begins at the bench reaches each area by clicking."""
    patterns = {pattern_of(path) for path in addresses}

    wanted = {
        "/", "/parts", "/parts/new", "/parts/N", "/parts/N/edit", "/parts/N/revisions/new",
        "/parts/N/failures/new", "/revisions/N/builds/new", "/builds/N/edit", "/builds/N/services/new",
        "/services/N/inspections/new", "/shelf", "/failures/N", "/failures/N/correct",
        "/failures/N/fragments/new", "/failures/N/sites/new", "/failures/N/faces/new",
        "/failures/N/changes/new", "/failures/N/strength", "/failures/N/loads/new", "/failures/N/weld",
        "/failures/N/observations", "/failures/N/verdict", "/failures/N/summary",
        "/failures/N/summary/print", "/faces/N", "/photos/N/prepare", "/measurements/N", "/settings/prior",
        "/settings/weights", "/help", "/quick", "/faces/N/camera", "/failures/N/labels", "/life",
        "/materials", "/materials/CODE", "/materials/CODE/supply", "/materials/own/new", "/materials/own/N/edit",
        "/shelf/spools/N", "/shelf/spools/N/edit", "/shelf/spools/N/bars/new", "/bars/N/correct", "/parts/N/place",
        "/parts/N/place/new",
    }  # fmt: skip
    assert not wanted - patterns


@pytest.mark.parametrize("size", SIZES)
def test_no_page_complains_calls_out_or_scrolls_sideways(
    size: str, addresses: list[str], browser: Browser, demo_address: str
) -> None:
    """No error in the console, no request to another host, no sideways scrolling, at either width."""
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height}, base_url=demo_address)
    notes = Watch(demo_address)
    page = notes.over(context.new_page())
    too_wide = {}
    for path in addresses:
        answer = page.goto(path)
        assert answer is not None
        assert answer.ok, path
        if sideways_px(page) > 0:
            too_wide[path] = sideways_px(page)
    context.close()

    assert notes.nothing_wrong()
    assert not too_wide


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_pass_the_rules_of_accessibility(
    scheme: str, addresses: list[str], browser: Browser, demo_address: str
) -> None:
    """axe finds no fault of weight on any page, contrast included, in the light and in the dark theme."""
    context = browser.new_context(base_url=demo_address, color_scheme=scheme, bypass_csp=True)  # type: ignore[arg-type]
    page, faults, done = context.new_page(), [], set()
    for path in addresses:
        pattern = pattern_of(path)
        if pattern in done:
            continue
        done.add(pattern)
        page.goto(path)
        found = Axe().run(page).response["violations"]
        faults += [
            (path, rule["id"], rule["nodes"][0]["html"]) for rule in found if rule["impact"] in {"serious", "critical"}
        ]
    context.close()

    assert not faults


def test_pages_say_that_the_demo_is_invented(browser: Browser, demo_address: str) -> None:
    """A part of the demo is called invented on its page, and its photos are called rendered where they are shown."""
    context = browser.new_context(base_url=demo_address)
    page = context.new_page()
    page.goto("/parts/1")
    assert "invented" in page.inner_text("main").lower()
    page.goto("/faces/1")
    assert "rendered" in page.inner_text("main").lower()
    context.close()
