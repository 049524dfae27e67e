"""The pictures of what was found: in the right place, told apart by anyone and on grey paper, without metadata."""

import io
from itertools import combinations, pairwise
from typing import Any

import numpy as np
import pytest
from fastapi import FastAPI
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from sqlmodel import Session

from analysis.common import classes
from server.measuring.directions import directions_of
from server.measuring.overlays import bar_length_mm, face_window, flat, labels_on
from server.measuring.patterns import LOOKS, ON_SURFACE, ink, looks_of, paint
from server.measuring.strips import strips_of, ticks_of, title_of
from server.records import Measurement, Photo
from tests.server.builders import make_face, make_photo
from tests.server.conftest import Client
from tests.server.photo_builders import MAKER, RESULT, encoded, make_measurement


@pytest.fixture
def photo(session: Session, app: FastAPI) -> Photo:
    """A photo of 900 by 600 px that carries a camera's metadata."""
    return make_photo(session, app=app, data=encoded(width=900, height=600), width_px=900, height_px=600)


def seen(client: Client, path: str) -> np.ndarray[Any, Any]:
    answer = client.get(path)
    assert answer.status_code == 200
    return np.asarray(Image.open(io.BytesIO(answer.content)))


def luminance(rgb: tuple[int, int, int]) -> float:
    """Relative luminance, WCAG 2.2 (IEC 61966-2-1 curve, Rec. 709 weights)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (v / 255 for v in rgb)]
    return float(np.dot(linear, (0.2126, 0.7152, 0.0722)))


class TestPatterns:
    def test_survive_a_grey_printer(self) -> None:
        """No two classes share a pattern: their inks, as plain black and white, differ over most of a swatch."""
        inks = [ink(look.pattern, (140, 140)) for look in LOOKS.values()]
        for one, other in combinations(inks, 2):
            assert np.mean(one != other) > 0.15
        assert all(0.05 < one.mean() < 0.7 for one in inks)

    def test_colours_apart_in_grey(self) -> None:
        """Bonded, bare and void, which matter most, also differ in lightness by 1.5 to 1 or more (judgement)."""
        values = sorted(luminance(LOOKS[name].rgb) for name in ("bonded", "bare", "void"))
        assert all((high + 0.05) / (low + 0.05) > 1.5 for low, high in pairwise(values))

    def test_all_classes_but_openings(self) -> None:
        """Each class a person is told of has a look; openings and what lies outside have none."""
        coded = {look.code for look in LOOKS.values()}
        assert coded == set(classes.NAMES) - {classes.OUTSIDE, classes.OPENING}

    def test_each_class_on_its_kind_of_surface(self) -> None:
        """Every class is listed for one kind of surface and not for the other."""
        assert sorted(name for names in ON_SURFACE.values() for name in names) == sorted(LOOKS)
        assert list(looks_of("outer")) == ["rubbed"]
        assert "rubbed" not in looks_of("fracture")

    @pytest.mark.parametrize("name", LOOKS)
    def test_only_its_own_places(self, name: str) -> None:
        """A layer is transparent everywhere but on its own class, and covers all of that."""
        labels = np.repeat(np.array(sorted(classes.NAMES), np.uint8), 20)[None, :].repeat(40, 0)
        painted = paint(labels, name)[..., 3] > 0
        assert np.array_equal(painted, labels == LOOKS[name].code)

    @pytest.mark.parametrize("filament", [(250, 250, 248), (18, 18, 20)])
    @pytest.mark.parametrize("name", LOOKS)
    def test_on_any_filament(self, name: str, filament: tuple[int, int, int]) -> None:
        """On white and on black filament alike, each class's marks stand out from their surroundings.

        3 to 1 between the darkest and lightest of a layer laid on the filament: WCAG 2.2, 1.4.11 (graphics).
        """
        layer = Image.fromarray(paint(np.full((60, 60), LOOKS[name].code, np.uint8), name))
        ground = Image.new("RGB", layer.size, filament)
        ground.paste(layer, (0, 0), layer)
        colours = [luminance(rgb) for _, rgb in ground.getcolors(10_000) or []]  # type: ignore[arg-type]
        assert (max(colours) + 0.05) / (min(colours) + 0.05) > 3


class TestPlace:
    def test_map_lies_on_the_face(self, session: Session, app: FastAPI, photo: Photo) -> None:
        """A map of 3 by 2 cells of 100 px whose corner is at (200, 100) px covers just that of the photo."""
        labels = np.array([[1, 2, 3], [4, 5, 1]], np.uint8)
        found = make_measurement(session, app, photo, labels, px_per_pixel=100.0, origin_px=[200.0, 100.0])
        whole = labels_on(app.state.store, found, photo, (900, 600))
        truth = np.zeros((600, 900), np.uint8)
        truth[100:300, 200:500] = labels.repeat(100, 0).repeat(100, 1)
        assert np.array_equal(whole, truth)
        half = labels_on(app.state.store, found, photo, (450, 300))
        assert np.array_equal(half, truth[1::2, 1::2])

    def test_layer_address(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """A layer has the size of the photo's view, and its class where the map says so."""
        labels = np.array([[2, 1]], np.uint8)
        found = make_measurement(session, app, photo, labels, px_per_pixel=100.0, origin_px=[200.0, 100.0])
        layer = seen(client, f"/measurements/{found.id}/layers/bonded.png?side=1600")
        assert layer.shape == (600, 900, 4)
        there = np.argwhere(layer[..., 3] > 0)
        assert there.min(0).tolist() == [100, 200]
        assert there.max(0).tolist() == [199, 299]
        assert client.get(f"/measurements/{found.id}/layers/soul.png").status_code == 404


class TestFlat:
    def test_no_metadata(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """The picture for print holds photo, classes and a foot, and nothing that the camera wrote."""
        found = make_measurement(session, app, photo)
        answer = client.get(f"/measurements/{found.id}/overlay.jpg")
        image = Image.open(io.BytesIO(answer.content))
        assert image.width == pytest.approx(1500, abs=2)  # the face, 70 px by 40 px, with its margin
        assert image.height > 1500 * 50 / 81 + 40
        assert not image.getexif()
        assert MAKER.encode() not in answer.content

    def test_scale_bar(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """At 10 µm per px a photo of 900 px is 9 mm wide; shown 1500 px wide its bar of 2 mm is 333 px long."""
        whole = RESULT | {"outline_px": [[0, 0], [899, 0], [899, 599], [0, 599]]}
        found = make_measurement(session, app, photo, result=whole)
        foot = seen(client, f"/measurements/{found.id}/overlay.jpg")[1002:].mean(2)
        dark = (foot < 90).astype(int)
        runs = [len(run) for row in dark for run in "".join(map(str, row)).split("0")]
        assert max(runs) == pytest.approx(2.0 / 9.0 * 1500, abs=9)

    @given(st.floats(0.05, 500))
    def test_bar_is_round(self, width_mm: float) -> None:
        """The bar is 1, 2 or 5 times a power of ten and takes a tenth to a quarter of the picture."""
        bar = bar_length_mm(width_mm)
        assert f"{bar:.0e}"[0] in "125"
        assert 0.1 - 1e-9 <= bar / width_mm <= 0.25 + 1e-9


class TestStrips:
    def test_gap_places(self, session: Session, app: FastAPI, photo: Photo) -> None:
        """A gap from 3.1 to 5.1 of 20 mm begins at 15.5 % and takes 10 %; its length stands above it."""
        strip = strips_of(make_measurement(session, app, photo))[0]
        (gap,) = strip.gaps
        assert (gap.left, gap.width, gap.label) == ("15.50%", "10.00%", "2.0")
        assert strip.gap_words == ["2.0 mm, from 3.1 to 5.1 mm"]
        assert strip.is_broken

    @pytest.mark.parametrize("end_mm", [22.0, 2.0])
    def test_gap_over_the_start(self, session: Session, app: FastAPI, photo: Photo, end_mm: float) -> None:
        """A gap across the start point is drawn at both ends and labelled once, however its end is written."""
        wall = RESULT["walls"][0] | {"gaps": [{"start_mm": 17.0, "end_mm": end_mm, "length_mm": 5.0}]}
        found = make_measurement(session, app, photo, result=RESULT | {"walls": [wall]})
        gaps = strips_of(found)[0].gaps
        assert {(gap.left, gap.width) for gap in gaps} == {("85.00%", "15.00%"), ("0.00%", "10.00%")}
        assert [gap.label for gap in gaps if gap.label] == ["5.0"]

    @given(st.floats(0.5, 800), st.floats(0.1, 1))
    def test_ticks(self, longest_mm: float, share: float) -> None:
        """Ticks lie on the strip, at least one has its number, and never more than nine have."""
        ticks = ticks_of(longest_mm * share, longest_mm)
        assert all(float(tick.left[:-1]) <= share * 100 + 0.01 for tick in ticks)
        assert 1 <= sum(bool(tick.label) for tick in ticks) <= 9

    def test_titles(self) -> None:
        """Walls are counted from the edge, holes from one."""
        assert title_of({"outline": "outer", "index": 0}) == "Outer wall 1 (at the edge)"
        assert title_of({"outline": "hole1", "index": 2}) == "Hole 2, wall 3"

    def test_pictures(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """A strip comes as photo and as classes, wide and narrow; one that isn't there is not found."""
        found = make_measurement(session, app, photo)
        base = f"/measurements/{found.id}/strips"
        assert seen(client, f"{base}/0.png").shape == (52, 2480, 3)
        assert seen(client, f"{base}/0.png?kind=classes&width=narrow").shape == (52, 720, 4)
        assert client.get(f"{base}/1.png").status_code == 404
        assert client.get(f"{base}/0.png?width=vast").status_code == 404


class TestPage:
    def test_shows(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """The page shows value, interval and bounds, a reason for what is null, warnings, and text as text."""
        found = make_measurement(session, app, photo)
        page = client.get(f"/measurements/{found.id}").text
        for words in (
            "40 %", "30 % to 50 % (90 % interval)", "36 % if all that is unknown were bare", "46 % if all of it",
            "The break runs across the layers.", "The light is too flat.", "half of it lies in &lt;shadow&gt;",
            "Outer wall 1", "2.0 mm, from 3.1 to 5.1 mm", "2 mm",
        ):  # fmt: skip
            assert words in page
        for name in LOOKS:
            assert (f'id="show-{name}"' in page) == (name != "rubbed")

    def test_earlier_ones(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """Measuring again adds; the earlier page stays as it was and points to the newer one."""
        first, second = (make_measurement(session, app, photo) for _ in range(2))
        page = client.get(f"/measurements/{first.id}").text
        assert "earlier measurement" in page
        assert f"/measurements/{second.id}" in page
        assert "earlier measurement" not in client.get(f"/measurements/{second.id}").text

    def test_download(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """The result comes as it was stored."""
        found = make_measurement(session, app, photo)
        assert client.get(f"/measurements/{found.id}/result.json").json() == RESULT

    def test_outer_surface(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """An outer surface shows its patch, scratches, layer lines and the angle; nothing of a fracture face."""
        page = client.get(f"/measurements/{outer(session, app, photo).id}").text
        for words in (
            "3.2 mm²",
            "100°",
            "88°, across them",
            "0.20 mm",
            "at 12°",
            "0.125 of those across",
            "show-rubbed",
            "show-scratches",
        ):
            assert words in page
        for name in ("bonded", "bare", "void", "unknown", "outline"):
            assert f'id="show-{name}"' not in page
        assert "Bonded share" not in page

    def test_outer_surface_without_a_patch(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """Where no patch was found the page says so, and why there is no direction of scratches."""
        none = {"rub_area_mm2": 0.0, "scratch_deg": None, "scratch_to_lines_deg": None, "rub_outline_px": []}
        why = {"scratch_deg": "no rubbed patch was found", "scratch_to_lines_deg": "no rubbed patch was found"}
        page = client.get(f"/measurements/{outer(session, app, photo, reasons=why, **none).id}").text
        assert "no rubbed patch" in page
        assert page.count("no rubbed patch was found") == 2
        assert "show-scratches" not in page
        assert "show-layer-lines" in page


OUTER: dict[str, Any] = {
    "surface": "outer", "walls": [], "bonded_share_of_face": None, "outline_px": [], "rub_area_mm2": 3.25,
    "scratch_deg": 100.0, "layer_line_deg": 12.0, "layer_line_period_mm": 0.2, "scratch_to_lines_deg": 88.0,
    "slopes_along_to_across": 0.125,
    "rub_outline_px": [[300, 200], [500, 200], [500, 400], [300, 400]], "reasons": {}, "warnings": [],
}  # fmt: skip


def outer(session: Session, app: FastAPI, photo: Photo, **changes: Any) -> Measurement:
    """Keep a measurement of an outer surface whose patch takes 200 px each way from (300, 200) on."""
    labels = np.zeros((60, 90), np.uint8)
    labels[20:40, 30:50] = classes.RUBBED
    return make_measurement(session, app, photo, labels, result=RESULT | OUTER | changes, strips=[])


class TestOuterSurface:
    def test_patch_is_drawn(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """The layer covers the patch and nothing else; a class of fracture faces has no layer here."""
        found = outer(session, app, photo)
        layer = seen(client, f"/measurements/{found.id}/layers/rubbed.png")
        there = np.argwhere(layer[..., 3] > 0)
        assert there.min(0).tolist() == [200, 300]
        assert there.max(0).tolist() == [399, 499]
        assert client.get(f"/measurements/{found.id}/layers/bonded.png").status_code == 404

    def test_directions(self, session: Session, app: FastAPI, photo: Photo) -> None:
        """The arrow lies along the scratches and the rails along the layer lines, both through the patch's middle."""
        scratches, lines = directions_of(outer(session, app, photo).result, photo)
        assert (scratches.sign, lines.sign) == ("arrow", "rails")
        for one, deg in ((scratches, 100.0), (lines, 12.0)):
            ends = np.array(one.lines_px[0])
            x, y = ends[1] - ends[0]
            assert np.degrees(np.arctan2(y, x)) % 180 == pytest.approx(deg)
        assert np.mean(scratches.lines_px[0], axis=0) == pytest.approx([400, 300])
        assert np.mean(np.array(lines.lines_px).reshape(-1, 2), axis=0) == pytest.approx([400, 300])

    def test_print_lists_only_what_is_there(self, session: Session, app: FastAPI, photo: Photo) -> None:
        """The flattened picture has the patch's colour and none of bonded or bare, in picture and legend."""
        picture = flat(app.state.settings, app.state.store, outer(session, app, photo), photo)
        pixels = np.asarray(Image.open(io.BytesIO(picture))).astype(int)

        def near(name: str) -> int:
            return int((np.abs(pixels - LOOKS[name].rgb).max(2) < 25).sum())

        assert near("rubbed") > 500
        assert near("bonded") + near("bare") == 0


def test_an_outer_surface_has_no_outline(session: Session, app: FastAPI) -> None:
    """The flattened picture of an outer surface is made too, without an outline to draw."""
    photo = make_photo(session, make_face(session, surface="outer"), app)
    found = make_measurement(session, app, photo, result={"surface": "outer", "outline_px": [], "holes_px": []})
    picture = Image.open(io.BytesIO(flat(app.state.settings, app.state.store, found, photo)))
    assert picture.height > picture.width * photo.height_px / photo.width_px


@given(st.integers(0, 40), st.integers(0, 30), st.integers(3, 50), st.integers(3, 40))
def test_print_shows_the_whole_face(x: int, y: int, width: int, height: int) -> None:
    """The part shown in print holds the outline with a margin, and never leaves the photo."""
    photo = Photo(sha256="", file_name="", media_type="", size_bytes=1, width_px=100, height_px=80)
    ring = [[x, y], [x + width, y], [x + width, y + height], [x, y + height]]
    found = Measurement(photo_id=1, scale_id=1, result={"outline_px": ring})
    left, top, right, bottom = face_window(found, photo)
    assert 0 <= left <= x
    assert 0 <= top <= y
    assert x + width < right <= 100
    assert y + height < bottom <= 80
