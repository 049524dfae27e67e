"""A PDF from a page of ours: two engines behind one call, and a plain message where neither can work.

The first engine is PlutoPrint; WeasyPrint stands in where that has no wheel. Whatever the page asks for comes from
`resources`, never from the network or the disk: a page that names a file gets nothing.
"""

import io
import os
import sys
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from urllib.parse import urlsplit

# No such host exists (RFC 2606), so a resource that slipped through could not be fetched either.
BASE = "http://layerwitness.invalid"
FONT_ENDINGS = (".ttf", ".otf", ".ttc", ".pfb", ".t1")
# The engines keep state of their own (fonts, caches); one PDF at a time is plenty for a bench.
_LOCK = threading.Lock()


class NoPdf(RuntimeError):
    """No PDF can be made here; the message says what to do instead."""


@dataclass(frozen=True)
class Resource:
    """What stands at one address of the page."""

    data: bytes
    media_type: str


@dataclass(frozen=True)
class Pdf:
    """The finished document and its number of pages."""

    data: bytes
    pages: int


Engine = Callable[[str, Mapping[str, Resource], str], Pdf]


def make_pdf(html: str, resources: Mapping[str, Resource], paper: str = "A4") -> Pdf:
    """Return `html` as a PDF on "A4" or "Letter". Addresses in it are paths that `resources` answers.

    Raises `NoPdf` where this computer has no engine or no font (text would come out blank).
    """
    if not has_fonts():
        raise NoPdf(
            "This computer has no fonts that a PDF could be set in, so the text would be blank. Install a font package "
            "(Debian, Ubuntu: fonts-dejavu-core), or open the print page and save it as PDF from the browser."
        )
    for engine in ENGINES:
        try:
            with _LOCK:
                return engine(html, resources, paper)
        except (ImportError, OSError):
            # OSError: WeasyPrint is installed but the system's Pango isn't.
            continue
    raise NoPdf("No PDF engine works on this computer. Open the print page and save it as PDF from the browser.")


def _pluto(html: str, resources: Mapping[str, Resource], paper: str) -> Pdf:
    import plutoprint

    class Fetcher(plutoprint.ResourceFetcher):
        def fetch_url(self, url: str) -> plutoprint.ResourceData:
            found = _find(url, resources)
            # Raising would print a traceback to the log for each; an empty answer is simply not shown.
            return plutoprint.ResourceData(found.data, found.media_type, "utf-8")

    size = plutoprint.PAGE_SIZE_LETTER if paper == "Letter" else plutoprint.PAGE_SIZE_A4
    book = plutoprint.Book(size, plutoprint.PAGE_MARGINS_NORMAL)
    book.custom_resource_fetcher = Fetcher()
    book.load_html(html, base_url=BASE + "/")
    stream = io.BytesIO()
    book.write_to_pdf_stream(stream)
    return Pdf(stream.getvalue(), book.get_page_count())


def _weasy(html: str, resources: Mapping[str, Resource], paper: str) -> Pdf:
    import weasyprint
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class Fetcher(URLFetcher):  # type: ignore[misc]  # WeasyPrint has no types
        def fetch(self, url: str, headers: object = None) -> object:
            found = _find(url, resources)
            return URLFetcherResponse(url, found.data, {"Content-Type": found.media_type})

    size = weasyprint.CSS(string=f"@page {{ size: {'letter' if paper == 'Letter' else 'A4'} }}")
    document = weasyprint.HTML(string=html, base_url=BASE + "/", url_fetcher=Fetcher()).render(stylesheets=[size])
    return Pdf(document.write_pdf(), len(document.pages))


ENGINES: tuple[Engine, ...] = (_pluto, _weasy)


def _find(url: str, resources: Mapping[str, Resource]) -> Resource:
    parts = urlsplit(url)
    if f"{parts.scheme}://{parts.netloc}" != BASE:
        return Resource(b"", "text/plain")
    return resources.get(parts.path, Resource(b"", "text/plain"))


@cache
def has_fonts() -> bool:
    """Whether a font file lies in one of the places where this system keeps fonts."""
    return any(_font_files())


def _font_files() -> Iterator[str]:
    for folder in font_folders():
        for _, _, names in os.walk(folder):
            yield from (name for name in names if name.lower().endswith(FONT_ENDINGS))


def font_folders() -> list[Path]:
    """The folders in which this system keeps fonts."""
    home = Path.home()
    if sys.platform == "win32":
        return [Path(os.environ.get("WINDIR", r"C:\Windows")) / "Fonts"]
    if sys.platform == "darwin":
        return [Path("/System/Library/Fonts"), Path("/Library/Fonts"), home / "Library/Fonts"]
    return [Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), home / ".fonts", home / ".local/share/fonts"]
