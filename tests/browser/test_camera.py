"""The camera's page in a real browser: its pretended camera shows a film that was made here from a practice photo."""

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from PIL import Image, ImageFilter
from playwright.sync_api import Browser, Page, expect
from scipy import ndimage
from sqlmodel import Session

from server.app import create_app
from server.settings import Settings
from tests.browser.clip import write_y4m
from tests.browser.serving import QUIET, chromium_path, served
from tests.browser.watch import Watch, sideways_px
from tests.server.builders import make_face, make_fragment, make_photo, photo_bytes

PHOTO = Path(__file__).resolve().parents[1] / "faces" / "face_32" / "photo.jpg"
SIZE = (640, 480)
FACES = 9
PRETEND = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
STATE = "[data-part=state]"


@pytest.fixture(scope="module")
def source() -> Image.Image:
    """The middle of a practice photo: what the pretended camera looks at."""
    with Image.open(PHOTO) as photo:
        upright = photo.convert("RGB")
        left, top = (upright.width - SIZE[0]) // 2, (upright.height - SIZE[1]) // 2
        return upright.crop((left, top, left + SIZE[0], top + SIZE[1]))


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a record with a face for each test."""
    data = tmp_path_factory.mktemp("camera")
    app = create_app(Settings(data=data, worker=False))
    with Session(app.state.engine) as session:
        piece = make_fragment(session)
        for number in range(1, FACES + 1):
            make_face(session, piece, name=f"{number}a")
        make_photo(session, app=app, failure_id=piece.failure_id, data=photo_bytes())
    app.state.engine.dispose()
    with served(data) as found:
        yield found


@contextmanager
def looking_at(browser: Browser, folder: Path, frames: list[Image.Image], *more: str) -> Iterator[Browser]:
    """A browser of its own, whose camera shows the frames over and over."""
    film = write_y4m(folder / "film.y4m", frames)
    path = chromium_path()
    options = [*QUIET, *PRETEND, f"--use-file-for-fake-video-capture={film}", *more]
    started = browser.browser_type.launch(executable_path=path, args=options)
    try:
        yield started
    finally:
        started.close()


@pytest.fixture(scope="module")
def with_camera(browser: Browser, tmp_path_factory: pytest.TempPathFactory, source: Image.Image) -> Iterator[Browser]:
    """A browser whose camera looks at the practice face."""
    with looking_at(browser, tmp_path_factory.mktemp("film"), [source] * 3) as started:
        yield started


@contextmanager
def page_of(browser: Browser, address: str, **options: object) -> Iterator[tuple[Page, Watch]]:
    """A watched page; what it must keep to is checked at the end."""
    context = browser.new_context(base_url=address, **{"viewport": {"width": 1280, "height": 900}, **options})  # type: ignore[arg-type]
    notes = Watch(address)
    yield notes.over(context.new_page()), notes
    context.close()
    assert notes.nothing_wrong()


def photos_of(page: Page, face: int) -> list[Image.Image]:
    """Return the originals that the record holds of a face, as the face's page links them."""
    base = page.url.split("/faces/")[0]
    found = re.findall(r"/photos/\d+/original", httpx.get(f"{base}/faces/{face}").text)
    return [Image.open(io.BytesIO(httpx.get(base + path).content)) for path in found]


def live(page: Page, face: int) -> None:
    page.goto(f"/faces/{face}/camera")
    expect(page.locator(STATE)).to_contain_text("Live", timeout=30_000)


def test_captures_by_keys_alone_reach_the_face_as_the_camera_saw_them(
    with_camera: Browser, address: str, source: Image.Image
) -> None:
    """C twice with a freeze between: lossless pictures of the camera's own size, equal to what it looked at.

    The film keeps colour at half the resolution and both ways round to whole numbers, so grey is held to 2 of 255 in
    the mean; another part of the photo differs by much more.
    """
    with page_of(with_camera, address) as (page, _):
        live(page, 1)
        expect(page.locator(STATE)).to_contain_text("640 × 480")
        page.keyboard.press("c")
        expect(page.locator(".captures li.kept")).to_have_count(1)
        page.keyboard.press("f")
        expect(page.locator(STATE)).to_contain_text("Frozen")
        page.keyboard.press("c")
        expect(page.locator(".captures li")).to_have_count(2)
        expect(page.locator(".captures li.kept")).to_have_count(2)
        kept = photos_of(page, 1)

    wanted = np.asarray(source.convert("L"), float)
    assert kept
    for picture in kept:
        assert (picture.format, picture.size) == ("PNG", SIZE)
        seen = np.asarray(picture.convert("L"), float)
        assert abs(seen - wanted).mean() < 2
        assert abs(np.roll(seen, 8, axis=1) - wanted).mean() > 4


def test_a_frozen_frame_taken_twice_is_added_once(with_camera: Browser, address: str) -> None:
    """The second capture of the same still picture is told apart and makes no second photo."""
    with page_of(with_camera, address) as (page, _):
        live(page, 2)
        page.keyboard.press("f")
        page.get_by_role("button", name="Capture").click()
        expect(page.locator(".captures li.kept")).to_have_count(1)
        page.get_by_role("button", name="Capture").click()
        expect(page.locator(".captures li").first).to_contain_text("already")
        assert len(photos_of(page, 2)) == 1


def test_a_picture_whose_upload_fails_is_held_and_sent_again(with_camera: Browser, address: str) -> None:
    """With the server out of reach nothing is called kept; sent again in reach, it is; a third never waits for it."""
    context = with_camera.new_context(base_url=address)  # not watched: the console complains of the requests cut off
    page = context.new_page()
    live(page, 3)
    page.route("**/faces/3/photos", lambda route: route.abort())
    page.keyboard.press("c")
    expect(page.locator(".captures li.failed")).to_contain_text("does not answer")
    assert photos_of(page, 3) == []

    page.unroute("**/faces/3/photos")
    page.get_by_role("button", name="Send again").click()
    expect(page.locator(".captures li.kept")).to_have_count(1)
    assert len(photos_of(page, 3)) == 1
    context.close()


def test_what_the_server_refuses_is_said_in_its_words(with_camera: Browser, address: str) -> None:
    """A file that can't be used is not called kept, and the reason is the server's own."""
    with page_of(with_camera, address) as (page, notes):
        notes.refusals_expected = True
        live(page, 4)
        page.evaluate(
            "document.querySelector('face-camera').queue.add(new Blob(['no picture'], {type: 'image/png'}), 'x.png')"
        )
        expect(page.locator(".captures li.failed")).to_contain_text("Not kept: ")
        expect(page.locator(".captures li.failed .state")).to_contain_text(re.compile("JPEG|photo|picture"))
        assert photos_of(page, 4) == []
        page.get_by_role("button", name="Drop it").click()
        expect(page.locator(".captures li")).to_have_count(0)


def test_the_focus_aid_agrees_with_scipy_and_falls_when_the_picture_blurs(
    browser: Browser, tmp_path: Path, address: str, source: Image.Image
) -> None:
    """The bar's number is the variance of scipy's Laplacian in the middle; a blurred film reads lower.

    Outside: scipy.ndimage.laplace on the same pixels. 1 % is allowed for the film's rounding to whole numbers, on a
    picture as sharp as this one.
    """
    readings = []
    for name, frame in (("sharp", source), ("blurred", source.filter(ImageFilter.GaussianBlur(2)))):
        (tmp_path / name).mkdir()
        with looking_at(browser, tmp_path / name, [frame]) as started, page_of(started, address) as (page, _):
            live(page, 5)
            sharp = page.locator("[data-part=sharp]")
            expect(sharp).to_have_attribute("data-variance", re.compile(r"[\d.]+"))
            readings.append(float(sharp.get_attribute("data-variance") or 0))
            pixels = page.evaluate(
                """async () => {
                  const { sharpness, glareShare } = await import("/static/js/focus.js");
                  const canvas = document.createElement("canvas"), video = document.querySelector("video");
                  [canvas.width, canvas.height] = [480, 360];
                  const brush = canvas.getContext("2d");
                  brush.drawImage(video, 80, 60, 480, 360, 0, 0, 480, 360);
                  const image = brush.getImageData(0, 0, 480, 360);
                  const text = [...image.data].map((one) => String.fromCharCode(one)).join("");
                  return { value: sharpness(image), glare: glareShare(image), text };
                }"""
            )
        colours = np.frombuffer(pixels["text"].encode("latin-1"), np.uint8).astype(float).reshape(360, 480, 4)[..., :3]
        grey = colours @ (0.299, 0.587, 0.114)
        wanted = ndimage.laplace(grey)[1:-1, 1:-1].var()
        assert pixels["value"] == pytest.approx(wanted, rel=1e-4)
        assert readings[-1] == pytest.approx(wanted, rel=0.01)
        assert pixels["glare"] == pytest.approx((colours.min(axis=2) >= 250).mean(), abs=1e-9)

    assert readings[1] < readings[0] / 4


def test_glare_is_warned_of_by_its_share(browser: Browser, tmp_path: Path, address: str, source: Image.Image) -> None:
    """A white patch on a tenth of the middle half reads as about 10 % and is warned of; a white margin is not."""
    frame = source.point(lambda value: min(value, 200))
    frame.paste((255, 255, 255), (0, 0, SIZE[0], 60))
    frame.paste((255, 255, 255), (240, 160, 336, 240))
    with looking_at(browser, tmp_path, [frame]) as started, page_of(started, address) as (page, _):
        live(page, 6)
        expect(page.locator("[data-part=glareWarning]")).to_be_visible()
        share = float(page.locator("[data-part=glareWords]").inner_text().split()[0])

    assert share == pytest.approx(10, abs=0.6)


def test_a_chosen_size_is_used_and_remembered(with_camera: Browser, address: str) -> None:
    """The picture has a size the camera was asked for, on the next visit as well."""
    with page_of(with_camera, address) as (page, _):
        live(page, 7)
        assert page.locator("[data-part=device] option").count() >= 1
        page.locator("[data-part=size]").select_option("640x480")
        expect(page.locator(STATE)).to_contain_text("Live, 640 × 480")
        live(page, 7)
        expect(page.locator("[data-part=size]")).to_have_value("640x480")


def test_without_a_camera_the_page_says_so_and_offers_files(browser: Browser, address: str) -> None:
    """No camera plugged in: what is wrong, what to do, and the file picker, which a phone answers with its camera."""
    with page_of(browser, address, permissions=["camera"]) as (page, _):
        page.goto("/faces/8/camera")
        expect(page.locator("[data-part=problem]")).to_contain_text("No camera is plugged in")
        expect(page.locator("[data-part=live]")).to_be_hidden()
        assert page.locator("input[type=file][capture=environment]").count() == 1


def test_a_refused_camera_says_where_to_allow_it(browser: Browser, tmp_path: Path, address: str) -> None:
    """The browser was told no: the page says how to allow it."""
    path = chromium_path()
    started = browser.browser_type.launch(
        executable_path=path, args=[*QUIET, "--use-fake-device-for-media-stream", "--deny-permission-prompts"]
    )
    with page_of(started, address) as (page, _):
        page.goto("/faces/8/camera")
        expect(page.locator("[data-part=problem]")).to_contain_text("Allow it at the sign beside the address")
    started.close()


def test_over_plain_http_from_elsewhere_the_page_says_why_and_how(
    browser: Browser, tmp_path: Path, address: str, source: Image.Image
) -> None:
    """Under another name than localhost and without https the browser gives no camera: why, and the way round."""
    port = urlsplit(address).port
    rule = "--host-resolver-rules=MAP bench.example 127.0.0.1"
    with (
        looking_at(browser, tmp_path, [source], rule) as started,
        page_of(started, f"http://bench.example:{port}") as (page, _),
    ):
        page.goto("/faces/8/camera")
        problem = page.locator("[data-part=problem]")
        expect(problem).to_contain_text("only to pages of the same computer or over https")
        expect(problem).to_contain_text(f"http://127.0.0.1:{port}/faces/8/camera")
        expect(page.locator("input[type=file][capture=environment]")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_live_page_passes_axe_and_fits_a_phone(scheme: str, with_camera: Browser, address: str) -> None:
    """Live and with a capture, in both themes: no fault of weight, no sideways scrolling at 390 px, every key named."""
    options = {"color_scheme": scheme, "bypass_csp": True, "viewport": {"width": 390, "height": 844}}
    with page_of(with_camera, address, **options) as (page, _):
        live(page, 9)
        page.keyboard.press("c")
        expect(page.locator(".captures li.kept")).to_have_count(1)
        faults = [
            (one["id"], one["nodes"][0]["html"])
            for one in Axe().run(page).response["violations"]
            if one["impact"] in {"serious", "critical"}
        ]
        assert not faults
        assert sideways_px(page) <= 0
        for key in "CFGB":
            expect(page.locator("kbd", has_text=re.compile(f"^{key}$"))).to_be_visible()
