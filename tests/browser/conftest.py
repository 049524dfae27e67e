"""A browser for all tests here, and two served records: an empty one and the demo."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.serving import chromium, chromium_path, served
from tests.browser.watch import Watch

HERE = Path(__file__).resolve().parent


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark everything in this folder, and run it last.

    Last, since it takes longest, and since the browser's own event loop runs on in this thread while it is open:
    tests that start a loop of their own would be refused.
    """
    for item in items:
        if item.path.parent == HERE:
            item.add_marker(pytest.mark.browser)
    items.sort(key=lambda item: item.path.parent == HERE)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Return a Chromium. On the build machine its absence is a failure; elsewhere these tests are skipped."""
    path = chromium_path()
    if path is None:
        words = "no Chromium here: install one, or name it with CHROMIUM=/path"
        pytest.fail(words) if os.environ.get("CI") else pytest.skip(words)
    with chromium(path) as started:
        yield started


@pytest.fixture(scope="session")
def empty_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a record without a single entry; its worker runs."""
    with served(tmp_path_factory.mktemp("empty")) as address:
        yield address


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the data folder that the demo will be served from."""
    return tmp_path_factory.mktemp("demo")


@pytest.fixture(scope="session")
def demo_address(demo_folder: Path) -> Iterator[str]:
    """Serve the demo, loaded by the command a newcomer uses."""
    with served(demo_folder, "--demo") as address:
        yield address


@pytest.fixture
def watch(empty_address: str, browser: Browser) -> Iterator[tuple[Page, Watch]]:
    """Return a page at desk width on the empty record, watched, and check it at the end."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, base_url=empty_address)
    notes = Watch(empty_address)
    yield notes.over(context.new_page()), notes
    context.close()
    assert notes.nothing_wrong()
