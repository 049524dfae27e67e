"""One case from undetermined to a verdict in a real browser, by answering only what the program asks for."""

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from sqlmodel import Session

from server.app import create_app
from server.settings import Settings
from tests.browser.serving import served
from tests.browser.watch import sideways_px, watched
from tests.server.builders import make_failure, make_part

MOST_LOOKS = 8
# What a person would find on each part, by the features that fractography handbooks give (from memory); a question
# that is not listed can't be told.
LAYERS = {
    "bare_roads_both": "yes", "one_layer_plane": "yes", "load_across_layers": "yes", "came_apart": "yes",
    "whitening_last_ligament": "yes", "ordinary_load": "yes", "whitening_most": "no", "glossy_patch": "no",
    "thin_roads": "no", "gaps_mate": "no", "bound_before": "no", "rub_at_break": "no", "drawn_lips": "no",
    "roads_crossed": "no", "held_whitened": "no", "powder": "no", "overload_seen": "no",
}  # fmt: skip
TORN = {
    "whitening_most": "yes", "drawn_lips": "yes", "roads_crossed": "yes", "several_planes": "yes",
    "overload_seen": "yes", "held_whitened": "yes", "came_apart": "yes", "bare_roads_both": "no", "thin_roads": "no",
    "glossy_patch": "no", "gaps_mate": "no", "bound_before": "no", "rub_at_break": "no", "powder": "no",
}  # fmt: skip


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a record with broken parts of which nothing is known yet."""
    data = tmp_path_factory.mktemp("looks")
    app = create_app(Settings(data=data, worker=False))
    with Session(app.state.engine) as session:
        for _ in range(5):
            make_failure(session, make_part(session, name="Reed hook"), found_sound="Screw holes.")
    app.state.engine.dispose()
    with served(data) as found:
        yield found


@pytest.fixture(params=[(1280, 900), (390, 844)], ids=["desk", "phone"])
def page(address: str, browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    """A watched page."""
    with watched(browser, address, request.param) as seen:
        yield seen


def number(page: Page, first: int) -> int:
    """A failure of its own for each width, so that one walk doesn't find the other's answers."""
    return first + (page.viewport_size or {"width": 0})["width"] // 1280


def answer_what_is_asked(page: Page, truth: dict[str, str]) -> str:
    """Follow the best look that is a question, answer it truthfully, keep it, and come back to the verdict."""
    look = page.locator(".looks a[href*='#q-']").first
    code = (look.get_attribute("href") or "").split("#q-")[1]
    look.click()
    question = page.locator(f"#q-{code}")
    expect(question).to_be_in_viewport()
    question.locator(f"input[value={truth.get(code, 'cant_tell')}]").check()
    page.get_by_label("Who looked").fill("A. Bencher")
    page.get_by_role("button", name="Keep the answers").click()
    page.get_by_role("link", name="Weigh it: to the verdict").click()
    page.wait_for_url("**/verdict")
    return code


@pytest.mark.parametrize(
    ("truth", "mode", "first"), [(LAYERS, "Layer delamination", 1), (TORN, "Overload", 3)], ids=["layers", "torn"]
)
def test_from_undetermined_to_a_verdict(page: Page, truth: dict[str, str], mode: str, first: int) -> None:
    """The looks asked for lead to the mode that the handbooks' features mean, and each answer can be clicked to."""
    failure = number(page, first)
    page.goto(f"/failures/{failure}/verdict")
    expect(page.locator(".primary")).to_have_text("Undetermined")
    asked: list[str] = []
    while page.locator(".primary").inner_text() == "Undetermined" and len(asked) < MOST_LOOKS:
        asked.append(answer_what_is_asked(page, truth))
        assert sideways_px(page) <= 0

    expect(page.locator(".primary")).to_contain_text(mode)
    assert len(set(asked)) == len(asked) > 1
    for code in asked:
        expect(page.locator(f"#e-{code} a[href$='#q-{code}']")).to_be_visible()
    telling = page.locator(".line").first
    telling.get_by_role("link", name="what if without?").click()
    expect(page.get_by_role("status").first).to_contain_text("1 observation switched off")
    page.get_by_role("link", name="Switch all on again").click()
    page.get_by_role("button", name="Keep this verdict").click()
    expect(page.locator("#kept")).to_contain_text("It is made from what is known now.")


def test_answers_that_can_not_both_be_true(address: str, browser: Browser) -> None:
    """Said at once beside both, nothing lost, and gone when one is changed."""
    context = browser.new_context(base_url=address)
    page = context.new_page()
    page.goto("/failures/5/observations")
    for code in ("one_layer_plane", "several_planes"):
        page.locator(f"#q-{code} input[value=yes]").check()
    page.get_by_label("Who looked").fill("A. Bencher")
    page.get_by_role("button", name="Keep the answers").click()
    expect(page.locator("#q-several_planes .error")).to_contain_text("can't both be true")
    expect(page.locator("#q-one_layer_plane input[value=yes]")).to_be_checked()
    faults = [f for f in Axe().run(_unguarded(browser, address, page.url)).response["violations"] if _is_grave(f)]
    assert not faults
    page.locator("#q-several_planes input[value=no]").check()
    page.get_by_label("Who looked").fill("A. Bencher")
    page.get_by_role("button", name="Keep the answers").click()
    expect(page.get_by_role("status").filter(has_text="both be true")).to_have_count(0)
    context.close()


@pytest.mark.parametrize("path", ["/failures/5/observations", "/failures/5/verdict", "/settings/weights"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_fault_of_weight(address: str, browser: Browser, path: str, scheme: str) -> None:
    """Questions with drawings, verdict and weights, in either theme."""
    page = _unguarded(browser, address, path, scheme)
    faults = [(f["id"], f["nodes"][0]["html"]) for f in Axe().run(page).response["violations"] if _is_grave(f)]
    assert not faults


def _unguarded(browser: Browser, address: str, path: str, scheme: str = "light") -> Page:
    context = browser.new_context(base_url=address, color_scheme=scheme, bypass_csp=True)  # type: ignore[arg-type]
    page = context.new_page()
    page.goto(path, wait_until="networkidle")
    return page


def _is_grave(fault: dict[str, object]) -> bool:
    return fault["impact"] in {"serious", "critical"}
