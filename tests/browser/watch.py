"""What every page has to keep to while a test drives it: no error in the console, no request to another host."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from playwright.sync_api import Browser, ConsoleMessage, Page, Request


@dataclass
class Watch:
    """Notes of one page's misconduct."""

    address: str
    errors: list[str] = field(default_factory=list)
    foreign: list[str] = field(default_factory=list)
    refusals_expected: bool = False  # a refused form is an error to the console, but not to us

    def over(self, page: Page) -> Page:
        """Begin to watch the page."""
        page.on("console", self._console)
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("request", self._request)
        return page

    def _console(self, message: ConsoleMessage) -> None:
        if message.type in {"error", "warning"} and not (self.refusals_expected and "422" in message.text):
            self.errors.append(f"{message.text} at {message.location.get('url', '')}")

    def _request(self, request: Request) -> None:
        parts = urlsplit(request.url)
        if parts.scheme not in {"data", "blob"} and f"{parts.scheme}://{parts.netloc}" != self.address:
            self.foreign.append(request.url)

    def nothing_wrong(self) -> bool:
        """Say whether there is nothing to complain of; the complaint is the assertion's text."""
        assert not self.errors, self.errors
        assert not self.foreign, self.foreign
        return True


def sideways_px(page: Page) -> int:
    """Return by how many pixels the page can be scrolled sideways."""
    width: int = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    return width


@contextmanager
def watched(browser: Browser, address: str, size: tuple[int, int]) -> Iterator[Page]:
    """Open a page of that width and height on the record at `address`, and hold it to the rules at the end."""
    width, height = size
    context = browser.new_context(viewport={"width": width, "height": height}, base_url=address)
    notes = Watch(address)
    yield notes.over(context.new_page())
    context.close()
    assert notes.nothing_wrong()
