"""README's pictures, taken from the demo: `make pictures`, or python -m tests.browser.make_screenshots.

With a folder as argument, it takes every kind of page there instead, at desk and at phone width, light and dark.
"""

import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser

from tests.browser.serving import ROOT, chromium, chromium_path, served
from tests.browser.test_pages import SIZES

PICTURES = ROOT / "docs" / "pictures"
COLOURS = 192  # pages have few colours, photos many: this keeps a picture under a megabyte without visible steps
MEASUREMENT, VERDICT, SUMMARY = "/measurements/2", "/failures/2/verdict", "/failures/2/summary/print"
DOWN_TO_THE_WALLS_PX = 2050


def shoot(
    browser: Browser, address: str, path: str, size: str, place: Path, scheme: str = "light", height_px: int = -1
) -> None:
    """Take a picture of the page at `path`: of the window, of `height_px` from the top, or with 0 of the whole."""
    width, height = SIZES[size]
    context = browser.new_context(
        viewport={"width": width, "height": height_px if height_px > 0 else height},
        base_url=address,
        color_scheme=scheme,
        device_scale_factor=1,  # type: ignore[arg-type]
    )
    page = context.new_page()
    page.goto(path, wait_until="networkidle")
    place.parent.mkdir(parents=True, exist_ok=True)
    page.screenshot(path=place, full_page=height_px == 0)
    context.close()
    with Image.open(place) as picture:
        picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(place, optimize=True)


def take_readme_pictures(browser: Browser, address: str) -> None:
    """Take the three pictures that README shows."""
    shoot(browser, address, MEASUREMENT, "desk", PICTURES / "measurement.png", height_px=DOWN_TO_THE_WALLS_PX)
    shoot(browser, address, VERDICT, "desk", PICTURES / "verdict.png")
    shoot(browser, address, SUMMARY, "phone", PICTURES / "summary-phone.png")


def take_all(browser: Browser, address: str, folder: Path) -> None:
    """Take every kind of page, for looking at before a release."""
    from tests.browser.test_pages import reachable

    for path in reachable(browser, address):
        name = path.strip("/").replace("/", "-").replace("?", "_") or "bench"
        for size in SIZES:
            for scheme in ("light", "dark"):
                shoot(browser, address, path, size, folder / f"{name}.{size}.{scheme}.png", scheme, height_px=0)


def main() -> int:
    """Serve the demo, take the pictures, say where they are."""
    path = chromium_path()
    if path is None:
        print("No Chromium here: install one, or name it with CHROMIUM=/path", file=sys.stderr)
        return 2
    with (
        tempfile.TemporaryDirectory() as folder,
        served(Path(folder) / "data", "--demo") as address,
        chromium(path) as browser,
    ):
        if len(sys.argv) > 1:
            take_all(browser, address, Path(sys.argv[1]))
        else:
            take_readme_pictures(browser, address)
    return 0


if __name__ == "__main__":
    sys.exit(main())
