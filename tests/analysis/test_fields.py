"""Several fields to one picture, on pictures with known cuts, shifts and turns, and on pictures that others took.

The textures are scikit-image's own; the practice faces are rendered. The gel imprints of a printed surface under wear
(ETSim/WearSurfacesDatasets, MIT, commit f0153eb) may lie beside the project, else those checks are skipped: their
roads repeat so well that most shifts by whole roads look right, and dirt on the gel stays while the part moves.
"""

import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage import data
from skimage.transform import EuclideanTransform, warp

from analysis.fields.drift import Tiles
from analysis.fields.overlap import Overlap, captures, overlap
from analysis.fields.place import FieldsRefused, NoOverlap, Place, ResidualTooLarge
from analysis.fields.placing import place_all
from analysis.fields.seams import NOBODY
from analysis.fields.stitch import stitch
from analysis.imaging.photo import read_photo

FACES = Path(__file__).resolve().parents[1] / "faces"
BESIDE = Path(__file__).resolve().parents[3] / "shared" / "data"
GEL = Path(os.environ.get("LAYERWITNESS_GEL_PICTURES", BESIDE / "pla-wear-gelsight"))
GRAVEL, BRICK = (np.repeat(picture()[..., None], 3, 2) for picture in (data.gravel, data.brick))


def face(name: str = "face_04", side: int = 816) -> np.ndarray:
    return read_photo(FACES / name / "photo.jpg", max_side_px=side).srgb


def gel(name: str) -> np.ndarray:
    if not GEL.is_dir():
        pytest.skip("no pictures of worn surfaces beside the project")
    return read_photo(GEL / f"{name}mm.jpg").srgb


def seen(picture: np.ndarray, x: float, y: float, turn_deg: float, shape: tuple[int, int], seed: int = 0) -> np.ndarray:
    """What a microscope turned by `turn_deg` sees from (x, y) on, with sensor noise of 2 grey levels."""
    way = EuclideanTransform(rotation=np.radians(turn_deg), translation=(x, y))
    cut = warp(picture, way, output_shape=shape, order=3, preserve_range=True, mode="edge")
    return np.clip(cut + np.random.default_rng(seed).normal(0, 2, cut.shape), 0, 255).astype(np.uint8)


def laid(first: np.ndarray, second: np.ndarray) -> Place | None:
    found = overlap(*captures(["one", "two"], [first, second]))
    return found.tiles.placed if found else None


@given(x=st.integers(-150, 150), y=st.integers(-150, 150))
@settings(max_examples=12)
def test_a_cut_is_found_where_it_was_made(x: int, y: int) -> None:
    """Whatever the shift, two cuts of one picture lie on each other to a tenth of a pixel."""
    place = laid(GRAVEL[150:362, 150:362], GRAVEL[150 + y : 362 + y, 150 + x : 362 + x])

    shared = (1 - abs(x) / 212) * (1 - abs(y) / 212)
    assert place is not None or shared < 0.12
    if place:
        assert abs(place.shift - complex(x, y)) < 0.1
        assert abs(place.turn_deg) < 0.05


@pytest.mark.parametrize("turn_deg", [0.0, -3.0, 11.0, 90.0, 180.0])
def test_shift_between_pixels_and_turn_are_found_on_a_face(turn_deg: float) -> None:
    """A face seen again, shifted by parts of a pixel, turned and with other noise, is placed to a tenth of a pixel."""
    picture = face()
    x, y = {90.0: (520.3, 60.4), 180.0: (640.3, 470.6)}.get(turn_deg, (170.3, 60.7))
    shape = (330, 420)

    place = laid(seen(picture, 60, 50, 0, shape, 1), seen(picture, x, y, turn_deg, shape, 2))

    assert place is not None
    assert abs(place.turn - np.exp(1j * np.radians(turn_deg))) < 3e-4  # 0.02 degrees
    assert abs(place.shift - complex(x - 60, y - 50)) < 0.15


@pytest.mark.parametrize("picture", [GRAVEL, BRICK], ids=["gravel", "bricks"])
def test_what_does_not_overlap_is_never_put_together(picture: np.ndarray) -> None:
    """Cuts of one texture that share nothing are refused, though bricks repeat."""
    halves = picture[:, :250], picture[:, 262:]

    with pytest.raises((NoOverlap, ResidualTooLarge), match=r"left.*right|right.*left"):
        stitch(halves, ["left", "right"])


def test_a_capture_that_is_alone_is_named() -> None:
    """Two that hang together don't carry a stranger along."""
    with pytest.raises(NoOverlap, match=r"moon\.png"):
        stitch([GRAVEL[:300, :300], GRAVEL[:300, 120:420], face()[:300, :300]], ["a.png", "b.png", "moon.png"])


def test_a_bent_field_is_refused_with_its_residual() -> None:
    """A lens that bends by 8 px at the rim can't be mended by a turn and a shift, and nobody pretends it can."""
    rows, cols = np.mgrid[0:400, 0:400] - 200.0
    grown = 1 + 0.04 * (rows**2 + cols**2) / 200**2
    bent = warp(GRAVEL[..., 0], np.stack([256 + rows * grown, 256 + cols * grown]), preserve_range=True)
    bent = np.repeat(bent.astype(np.uint8)[..., None], 3, 2)

    with pytest.raises(ResidualTooLarge, match=r"straight\.png and bent\.png .* px apart"):
        stitch([GRAVEL[56:456, 56:456], bent], ["straight.png", "bent.png"])


def test_the_picture_is_the_one_that_was_cut() -> None:
    """Six turned and shifted captures in uneven light give back the face: places, light and picture."""
    picture = face()
    spots = [(10, 15, 0), (270, 20, 1.5), (430, 12, -2), (12, 230, 0.6), (260, 250, -1), (420, 240, 2.2)]
    light = (1.0, 0.9, 1.1, 0.95, 1.05, 0.85)
    cuts = [
        np.clip(seen(picture, x, y, turn, (330, 370), n) * light[n], 0, 255).astype(np.uint8)
        for n, (x, y, turn) in enumerate(spots)
    ]

    found = stitch(cuts, [f"{n}.png" for n in range(6)])

    start = found.places[0].shift
    for place, (x, y, turn) in zip(found.places, spots, strict=True):
        assert abs(place.shift - start - complex(x - 10, y - 15)) < 0.15
        assert place.turn_deg == pytest.approx(turn, abs=0.03)
    assert found.worst_px < 0.4
    assert not found.set_aside
    evened = np.array(found.gains) * light
    assert evened == pytest.approx(np.full(6, evened.mean()), rel=0.02)
    x, y = int(start.real), int(start.imag)
    same = found.canvas.srgb[y + 10 : y + 480, x + 10 : x + 700].astype(float) / evened.mean()
    true = picture[25:495, 20:710].astype(float)
    assert np.abs(same - true).mean() < 4  # noise of 2 levels, light rounded to levels
    assert np.corrcoef(same.ravel(), true.ravel())[0, 1] > 0.99


def test_what_no_capture_shows_is_owned_by_nobody() -> None:
    """The corner between two captures laid aslant is grey and said to be empty."""
    found = stitch([GRAVEL[:250, :250], GRAVEL[100:350, 120:370]], ["a", "b"])

    assert found.canvas.srgb.shape == (350, 370, 3)
    assert found.canvas.owner[-1, 0] == NOBODY
    assert (found.canvas.srgb[-1, 0] == 128).all()
    assert (found.canvas.owner != NOBODY).mean() == pytest.approx(1 - 2 * 100 * 120 / (350 * 370), abs=1e-6)


def test_one_capture_and_a_picture_too_large_are_refused() -> None:
    """The bounds are said by number."""
    with pytest.raises(FieldsRefused, match="2 to 16 captures, not 1"):
        stitch([GRAVEL], ["a"])
    with pytest.raises(FieldsRefused, match="million pixels"):
        stitch([GRAVEL[:250, :250], GRAVEL[100:350, 120:370]], ["a", "b"], most_pixels=100_000)


def lap(first: int, second: int, shift: complex) -> Overlap:
    """An overlap whose tiles all say the same shift."""
    there = np.array([0, 50, 50 + 40j, 40j, 25 + 20j, 10 + 30j])
    keen = np.repeat(np.eye(2)[None], 6, 0)
    place = Place(1.0 + 0j, shift)
    return Overlap(first, second, Tiles(there + shift, there, np.ones(6), keen, np.ones(6, bool), place), 0.9, 0.3)


def test_a_pair_that_contradicts_all_others_is_set_aside() -> None:
    """In a ring of four, one pair that is a road off goes; of three that contradict nobody can say which is wrong."""
    ring = [lap(0, 1, 100), lap(1, 2, 100j), lap(2, 3, -100), lap(0, 3, 100j), lap(0, 2, 118 + 100j)]

    places, kept = place_all("abcd", ring, 2.0)

    assert [round(abs(p.shift - s), 6) for p, s in zip(places, (0, 100, 100 + 100j, 100j), strict=True)] == [0] * 4
    assert len(kept) == 4
    with pytest.raises(ResidualTooLarge, match=r"stay .* px apart"):
        place_all("abc", [lap(0, 1, 100), lap(1, 2, 100j), lap(0, 2, 118 + 100j)], 2.0)


@pytest.mark.parametrize("paper", ["220", "60"])
@pytest.mark.parametrize(("x", "y"), [(250, 130), (450, 10)])
def test_cuts_of_a_printed_surface_are_placed_right_or_refused(paper: str, x: int, y: int) -> None:
    """Roads that repeat lead nobody astray: cuts of one picture that share 18 or 35 % lie where they were cut."""
    picture = gel(f"pla_200g_s{paper}/0600")

    place = laid(picture[:367, :550], picture[y : y + 367, x : x + 550])

    assert place is not None
    assert abs(place.shift - complex(x, y)) < 0.1


def test_a_surface_taken_again_lies_the_same_both_ways() -> None:
    """Two real captures of a worn surface, and parts of them: there and back is where one began, to half a pixel."""
    before, after = (gel(f"pla_200g_s220/{mm}") for mm in ("0400", "0600"))
    there, back = laid(before, after), laid(after, before)
    part = laid(before[40:640, 60:900], after)

    assert there is not None
    assert back is not None
    assert part is not None
    ends = np.array([0, 999, 999 + 667j, 667j])
    assert np.abs(there.of(back.of(ends)) - ends).max() < 0.5
    assert np.abs(part.of(ends) + complex(60, 40) - there.of(ends)).max() < 1.0


def test_different_printed_surfaces_are_kept_apart() -> None:
    """Roads of 18 and of 32 px have nothing in common."""
    assert laid(gel("pla_200g_s220/0600"), gel("pla_200g_s60/0600")) is None
