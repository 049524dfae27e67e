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
from server.measuring.overlays import bar_length_mm, face_window, flat, labels_on
from server.measuring.patterns import LOOKS, ink, paint
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

    @pytest.mark.parametrize("name", LOOKS)
    def test_only_its_own_places(self, name: str) -> None:
        """A layer is transparent everywhere but on its own class, and covers all of that."""
        labels = np.repeat(np.arange(6, dtype=np.uint8), 20)[None, :].repeat(40, 0)
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
            assert f'id="show-{name}"' in page

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
        """A measurement of an outer surface shows its photo without the switches of a fracture face."""
        result = RESULT | {"surface": "outer", "walls": [], "bonded_share_of_face": None, "rub_area_mm2": 3.25}
        labels = np.zeros((1, 1), np.uint8)
        found = make_measurement(session, app, photo, labels, result=result, strips=[])
        page = client.get(f"/measurements/{found.id}").text
        assert "3.2 mm²" in page
        assert 'id="show-bonded"' not in page


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
