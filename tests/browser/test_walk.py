"""The whole job by hand, from an empty record to the printed summary, in a real browser on a served record."""

import re
from datetime import date, timedelta
from io import BytesIO

import pypdf
import pytest
from PIL import Image
from playwright.sync_api import Page, expect

from tests.browser.serving import ROOT
from tests.browser.watch import Watch, sideways_px

PHOTOS = ROOT / "server" / "demo" / "photos"
LONGEST_MEASURING_MS = 120_000  # a few seconds on a free machine; the tests' one may be busy with others


def day(days_ago: int) -> str:
    """Return a date as the browser writes it into a field."""
    return (date.today() - timedelta(days=days_ago)).isoformat()


def follow(page: Page, ending: str) -> None:
    """Click the first link whose address ends so."""
    page.locator(f"main a[href$='{ending}']").first.click()


def submit(page: Page, words: str, **fields: str) -> None:
    """Fill in the fields by name and press the button; choices are given by their words."""
    for name, value in fields.items():
        field = page.locator(f"main [name='{name}']")
        if field.evaluate("element => element.tagName") == "SELECT":
            field.select_option(label=value)
        else:
            field.fill(value)
    page.get_by_role("button", name=words, exact=True).click()


def save(page: Page, **fields: str) -> None:
    """Fill in the record's form and press its button, whatever it is called."""
    words = page.locator("form.record .actions button").inner_text()
    submit(page, words, **fields)


def arrived(page: Page, pattern: str) -> None:
    """Wait until the page's address matches."""
    expect(page).to_have_url(re.compile(pattern), timeout=15_000)


def make_part(page: Page) -> None:
    """From the bench: part, revision, build, stay in service."""
    page.goto("/")
    follow(page, "/parts/new")
    page.get_by_label("Its failure can hurt someone").check()
    save(page, name="Lamp bracket", function="Carries a lamp of 2 kg", hurt_how="The lamp can fall",
           note="pays late")  # fmt: skip
    arrived(page, r"/parts/\d+$")
    follow(page, "/revisions/new")
    save(page, what_changed="First drawing", drawn_on=day(40))
    arrived(page, r"/parts/\d+")
    follow(page, "/builds/new")
    save(page, built_on=day(39), nozzle_mm="0.8", line_width_mm="0,8", layer_height_mm="0.12 mm", wall_count="4",
           infill_percent="100", nozzle_c="437 F", orientation="zxy")  # fmt: skip
    arrived(page, r"/parts/\d+")
    follow(page, "/services/new")
    save(page, fitted_on=day(38), fit_check="flexes", highest_c="45 C", loads="20 N downward")
    arrived(page, r"/parts/\d+")
    expect(page.locator("main")).to_contain_text("225")  # 437 F, kept as Celsius


def log_failure(page: Page) -> str:
    """The failure, two pieces and a missing one, the break site, two mating faces; return the case's address."""
    follow(page, "/failures/new")
    save(page, found_on=day(2), finder="R.", noticed_how="The lamp hung low", as_found="In two, dry")
    arrived(page, r"/failures/\d+")
    case = re.sub(r"[?#].*", "", page.url)
    for label, status in (("A", "recovered"), ("B", "recovered")):
        follow(page, "/fragments/new")
        save(page, item_label=label, status=status)
        arrived(page, r"/failures/\d+")
    follow(page, "/fragments/new")
    page.locator("[name=can_harm]").check()
    save(page, item_label="C", status="missing", where_may_be="in the gear", harm_how="the gear")
    arrived(page, r"/failures/\d+")
    expect(page.get_by_text("Piece C is missing").first).to_be_visible()
    follow(page, "/sites/new")
    save(page, name="root", sequence="let go first", how_known="the only break")
    arrived(page, r"/failures/\d+")
    log_face(page, "head", "A", None)
    page.goto(case)
    log_face(page, "foot", "B", "head")
    return case


def log_face(page: Page, name: str, piece: str, mate: str | None) -> None:
    """Add a face by its name, its piece and the face it was torn from."""
    page.locator("main a[href*='/faces/new']").first.click()
    choose(page, "fragment_id", piece)
    choose(page, "site_id", "root")
    if mate:
        choose(page, "mate_face_id", mate)
    save(page, name=name)
    arrived(page, r"/(failures|faces)/\d+")


def choose(page: Page, name: str, words: str) -> None:
    """Choose the option of a select whose words hold `words`."""
    field = page.locator(f"[name='{name}']")
    label = field.locator("option", has_text=words).first.inner_text()
    field.select_option(label=label)


def add_photo(page: Page, case: str, face: str, file: str) -> None:
    """Upload a photo to the face."""
    page.goto(case)
    page.get_by_role("link", name=face, exact=True).first.click()
    arrived(page, r"/faces/\d+$")
    page.locator("#photos-files").set_input_files(PHOTOS / file)
    page.get_by_label("Computed, not taken with a camera").check()
    page.get_by_role("button", name="Add photos").click()
    expect(page.locator("#photos")).to_contain_text(file)
    page.locator("#photos a[href$='/prepare']").first.click()
    arrived(page, r"/photos/\d+/prepare")
    expect(page.locator("[data-tools]")).to_be_visible()  # the editor's script has begun


def give_scale_by_two_points(page: Page) -> None:
    """A line over 1000 px that is 10.97 mm long."""
    page.get_by_label("two points").check()
    submit(page, "Save the scale", x1_px="100", y1_px="600", x2_px="1100", y2_px="600", distance_mm="10.97")
    expect(page.locator("#scale")).to_contain_text("10.97 µm per pixel")


def find_and_drag_outline(page: Page) -> None:
    """Found by the program, then one corner dragged by mouse, then one moved by the arrow keys."""
    page.get_by_label("µm per pixel").check()
    submit(page, "Save the scale", um_per_px="15.12")
    page.get_by_role("button", name="Find the outline").click()
    handle = page.locator("g.handle.outer").first
    expect(handle).to_be_visible(timeout=60_000)
    corners = page.locator("[name=outer_px]")
    before = corners.input_value()
    handle.scroll_into_view_if_needed()
    box = handle.locator(".dot").bounding_box()
    assert box
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 10, y + 4, steps=4)  # a shorter way would be taken for a press
    page.mouse.up()
    dragged = corners.input_value()
    assert dragged != before
    page.get_by_role("button", name="Undo").click()
    assert corners.input_value() == before
    page.get_by_role("button", name="Redo").click()
    assert corners.input_value() == dragged
    page.get_by_role("button", name="Save the outline").click()
    expect(page.locator("#outline")).to_contain_text("Saved:")


def measure(page: Page) -> None:
    """Order the measuring, see its progress, and end on what was found."""
    page.get_by_role("button", name="Save all and measure").click()
    arrived(page, r"/(jobs|measurements)/\d+")
    expect(page).to_have_url(re.compile(r"/measurements/\d+"), timeout=LONGEST_MEASURING_MS)
    expect(page.locator("main")).to_contain_text("Bonded share of the face")
    layers = page.locator("svg image[href*='/layers/'], img[src*='/layers/']")
    assert layers.count() >= 3
    strips = page.locator("svg image[href*='/strips/'], img[src*='/strips/']")
    assert strips.count() >= 1


def observe(page: Page, case: str) -> None:
    """Answer some of the questions."""
    page.goto(f"{case}/observations")
    page.locator("[name=seen_by]").fill("R.")
    seen = {"bare_roads_both": "yes", "one_layer_plane": "yes", "whitening_most": "no", "overload_seen": "no",
            "ordinary_load": "yes", "drawn_lips": "no", "load_across_layers": "yes"}  # fmt: skip
    for code, answer in seen.items():
        page.locator(f"#q-{code} input[value={answer}]").check()
    page.get_by_role("button", name="Keep the answers").click()
    expect(page.get_by_role("status").first).to_contain_text(f"{len(seen)} answers kept")


def conclude(page: Page, case: str) -> None:
    """Keep the program's verdict, differ from it, and give the reason that is then asked for."""
    page.goto(f"{case}/verdict")
    expect(page.locator(".primary")).to_contain_text("Layer delamination")
    page.get_by_role("button", name="Keep this verdict").click()
    submit(page, "Keep your verdict", mode="overload", said_by="R.")
    expect(page.locator("#person")).to_contain_text("Say why you conclude otherwise")
    submit(page, "Keep your verdict", mode="overload", said_by="R.", reason="A ladder fell on it")
    expect(page.locator("#person")).to_contain_text("A ladder fell on it")


def change(page: Page, case: str) -> None:
    """Say what is to be different in the next build."""
    page.goto(case)
    follow(page, "/changes/new")
    save(page, what="Lay it flat", why="The layers parted")
    arrived(page, r"/failures/\d+")


def word_and_print(page: Page, case: str) -> pypdf.PdfReader:
    """Word the summary, look at the page for printing, download the PDF and open it again."""
    page.goto(f"{case}/summary")
    submit(page, "Keep this wording", came_back="The bracket, in two pieces.", prepared_by="The test bench")
    page.goto(f"{case}/summary/print")
    expect(page.locator("body")).to_contain_text("in two pieces")
    answer = page.request.get(f"{case}/summary.pdf")
    assert answer.ok
    assert answer.headers["content-type"] == "application/pdf"
    return pypdf.PdfReader(BytesIO(answer.body()))


def check_pdf(pdf: pypdf.PdfReader) -> None:
    """One or two pages with the wording, the cautions and the photo; nothing internal."""
    assert 1 <= len(pdf.pages) <= 2
    text = " ".join(" ".join(page.extract_text().split()) for page in pdf.pages)
    for words in ("Lamp bracket", "in two pieces", "Lay it flat", "licensed", "The test bench"):
        assert words in text, words
    for words in ("pays late", "cleat-a.jpg"):
        assert words not in text, words
    pictures = [Image.open(BytesIO(picture.data)) for page in pdf.pages for picture in page.images]
    assert max(picture.width for picture in pictures) >= 400


@pytest.mark.usefixtures("browser")
def test_the_whole_job(watch: tuple[Page, Watch]) -> None:
    """One sitting, from an empty record to a PDF, without an error in the console or a request to another host."""
    page, notes = watch
    make_part(page)
    part = page.url.split("#")[0]
    case = log_failure(page)
    add_photo(page, case, "foot", "cleat-b.jpg")
    give_scale_by_two_points(page)
    add_photo(page, case, "head", "cleat-a.jpg")
    find_and_drag_outline(page)
    choose(page, "mate_photo_id", "cleat-b.jpg")
    measure(page)
    observe(page, case)
    notes.refusals_expected = True
    conclude(page, case)
    notes.refusals_expected = False
    change(page, case)
    page.goto(part)
    for words in ("First drawing", "overload", "Lay it flat", "layer delamination"):
        expect(page.locator(".timeline")).to_contain_text(words)
    check_pdf(word_and_print(page, case))
    page.goto("/parts?q=lamp")
    expect(page.locator("main")).to_contain_text("Lamp bracket")


def test_the_outline_can_be_drawn_and_moved_by_keyboard_alone(watch: tuple[Page, Watch]) -> None:
    """Tab reaches the photo, keys draw a shape, its corners are reached and moved, and it is saved."""
    page, _ = watch
    make_part(page)
    case = log_failure(page)
    add_photo(page, case, "head", "stop.jpg")
    page.locator("[name=editor-tool][value=outer]").focus()
    page.keyboard.press("Space")
    for _ in range(40):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('svg.canvas')"):
            break
    assert page.evaluate("document.activeElement.matches('svg.canvas')")
    for keys in (["Space"], ["Shift+ArrowRight"] * 4 + ["Space"], ["Shift+ArrowDown"] * 4 + ["Space"], ["Enter"]):
        for key in keys:
            page.keyboard.press(key)
    corners = page.locator("[name=outer_px]")
    drawn = corners.input_value()
    assert len(drawn.split("\n")) == 3
    for _ in range(5):
        if page.evaluate("document.activeElement.matches('.handle')"):
            break
        page.keyboard.press("Tab")
    page.keyboard.press("n")
    page.keyboard.press("Shift+ArrowLeft")
    assert corners.input_value() != drawn
    page.get_by_role("button", name="Save the outline").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#outline")).to_contain_text("Saved: 3 corners")


def test_the_outline_editor_fits_a_phone_and_takes_a_finger(watch: tuple[Page, Watch]) -> None:
    """At 390 px nothing scrolls sideways, and corners are set by touch."""
    page, notes = watch
    make_part(page)
    case = log_failure(page)
    add_photo(page, case, "head", "stop.jpg")
    browser = page.context.browser
    assert browser
    phone = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    small = notes.over(phone.new_page())
    small.goto(page.url)
    expect(small.locator("[data-tools]")).to_be_visible()
    assert sideways_px(small) <= 0
    small.get_by_label("draws the outline").check()
    canvas = small.locator("svg.canvas")
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    assert box
    for across, down in ((0.3, 0.3), (0.7, 0.3), (0.7, 0.7), (0.3, 0.7)):
        small.touchscreen.tap(box["x"] + box["width"] * across, box["y"] + box["height"] * down)
    small.get_by_role("button", name="Close the shape").click()
    assert len(small.locator("[name=outer_px]").input_value().split("\n")) == 4
    phone.close()
