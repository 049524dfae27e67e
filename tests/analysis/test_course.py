"""How the break went over the face: known ways are found, chance is called chance, whatever the photo's lie.

Truth: faces drawn here with a torn share that rises in a known direction, and the practice face whose renderer let
overload set in along a known direction. The reading that turns a rise of tearing into a course is common practice, no
source; what is checked is the arithmetic, and how often it speaks without ground.
"""

import io
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from scipy import ndimage, stats

from analysis.course.course import Course, Way, find_course, find_way, way_of
from analysis.course.patches import Patches, contact_and_torn, cut_patches
from analysis.course.report import course_json, reach, through
from analysis.course.trend import DRAWS, chance_shuffled, fit_trend
from analysis.examine import ExamineRequest, examine
from analysis.imaging.photo import PhotoLimits, read_photo
from analysis.imaging.scale import scale_from_um_per_px
from analysis.outlines.outline import check_outline
from analysis.reading.half import Half, Roads, read_half
from analysis.roads.walls import find_walls
from analysis.roads.workview import Workview
from analysis.training.relight import relit
from analysis.welds.bonding import Reading, read_face
from tests.analysis.drawn_face import ROAD_PHOTO_PX, circle, reading_of, view_of

FACES = Path(__file__).parents[1] / "faces"
CENTRE = (420.0, 420.0)
RADIUS = 380.0
PATCH = 0.6  # of a road: how large the drawn specks of torn and untorn contact are


def _face() -> Workview:
    return view_of(circle(CENTRE, RADIUS))


def _drawn(view: Workview, deg: float, rise: float, seed: int, blotch_roads: float = PATCH) -> Reading:
    """A face on which contact tore with a probability that rises by `rise` from one side to the other.

    The specks lie on a grid that turns along with `deg`, so that two directions of one seed are one face, turned.
    """
    rows, cols = view.inside.shape
    x, y = view.from_photo(np.array(CENTRE))
    col, row = np.meshgrid(np.arange(cols) - x, np.arange(rows) - y)
    radius = RADIUS / view.step
    turn = np.radians(deg)
    along, across = col * np.cos(turn) + row * np.sin(turn), row * np.cos(turn) - col * np.sin(turn)
    size = int(2.2 * radius / (blotch_roads * view.road_px)) + 3
    field = np.random.default_rng(seed).standard_normal((size, size))
    at = [v / (blotch_roads * view.road_px) + size / 2 for v in (across, along)]
    speck = stats.norm.cdf(ndimage.map_coordinates(field, at, order=0, mode="nearest"))
    return reading_of(view, np.where(speck < 0.5 + rise / 2 * along / radius, 0, 1))


def _off(first: float, second: float) -> float:
    return abs((first - second + 180) % 360 - 180)


def _holds(way: Way, deg: float) -> bool:
    low, high = way.interval_deg
    return any(low <= deg + turn <= high for turn in (-360, 0, 360))


class TestDrawn:
    @pytest.mark.parametrize("deg", [0.0, 77.0, 200.0, 310.0])
    def test_a_known_direction_is_found(self, deg: float) -> None:
        """A clear rise is seen in every one of ten faces, within 45 degrees, and nine intervals hold it."""
        view = _face()
        ways = [way_of(view, _drawn(view, deg, 0.7, seed), view.inside) for seed in range(10)]
        found = [way for way in ways if isinstance(way, Way)]
        assert len(found) == 10
        assert all(_off(way.deg, deg) < 45 for way in found)
        assert sum(_holds(way, deg) for way in found) >= 9

    def test_none_is_said_without_a_gradient(self) -> None:
        """Of sixty faces without any rise, specks or blotches, at most one in ten is given a direction."""
        view = _face()
        said = [
            isinstance(way_of(view, _drawn(view, 30, 0, seed, blotch), view.inside), Way)
            for blotch in (PATCH, 2.0, 4.0)
            for seed in range(20)
        ]
        assert sum(said) <= 6

    def test_all_torn_tells_no_beginning_from_an_end(self) -> None:
        """A face that tore nearly everywhere, or nowhere, is given no course."""
        view = _face()
        for kind in (0, 1):
            whole = reading_of(view, np.full(view.inside.shape, kind))
            assert way_of(view, whole, view.inside) == "course_even"

    def test_a_handful_of_patches_is_too_few(self) -> None:
        """A face of a few roads is given no course."""
        view = view_of(circle((80, 80), 1.8 * ROAD_PHOTO_PX))
        assert way_of(view, reading_of(view, np.zeros(view.inside.shape, int)), view.inside) == "course_small"

    def test_what_cant_be_told_is_left_out(self) -> None:
        """Whatever is read under a greasy patch, the course stays the same to the last digit."""
        view = _face()
        reading = _drawn(view, 120, 0.7, 1)
        known = view.inside.copy()
        known[: known.shape[0] // 3] = False
        other = replace(
            reading, classes=np.where(known[..., None], reading.classes, reading.classes[..., [1, 0, 2, 3]])
        )
        first, second = way_of(view, reading, known), way_of(view, other, known)
        assert isinstance(first, Way)
        assert isinstance(second, Way)
        assert first.deg == second.deg
        assert first.interval_deg == second.interval_deg

    @settings(max_examples=12, deadline=None)
    @given(st.floats(0, 360), st.integers(0, 4))
    def test_turning_the_face_turns_the_direction(self, turn: float, seed: int) -> None:
        """One face drawn at two angles: the direction turns along, to within what the patches' grid allows."""
        view = _face()
        here, there = (way_of(view, _drawn(view, deg, 0.8, seed), view.inside) for deg in (0.0, turn))
        assert isinstance(here, Way)
        assert isinstance(there, Way)
        assert _off(there.deg - turn, here.deg) < 15

    def test_mirroring_mirrors_it(self) -> None:
        """Left for right: the direction's mirror image, within what the patches' grid allows."""
        view = _face()
        reading = _drawn(view, 40, 0.7, 3)
        here = way_of(view, reading, view.inside)
        there = way_of(view, replace(reading, classes=reading.classes[:, ::-1]), view.inside[:, ::-1])
        assert isinstance(here, Way)
        assert isinstance(there, Way)
        assert _off(180 - here.deg, there.deg) < 10

    def test_origin_and_hinge_lie_at_opposite_ends(self) -> None:
        """The origin lies on the untorn side, the hinge across the way on the torn side, walls are met from outside."""
        view = _face()
        reading = _drawn(view, 90, 0.8, 5)  # downward on the photo
        field = find_walls(view, 2, view.road_px)
        numbers = view.inside.astype(np.int32)
        numbers[: numbers.shape[0] // 2] *= 2
        course = find_course(view, reading, view.inside, field, numbers)
        assert isinstance(course, Course)
        middle = view.inside.shape[0] / 2
        assert course.origin.middle_mm[1] / view.mm_per_px < middle - 0.3 * RADIUS / view.step
        assert course.hinge_px is not None
        assert course.hinge_px[:, 1].mean() > middle + 0.3 * RADIUS / view.step
        assert abs(np.diff(course.hinge_px, axis=0)[0] @ [0, 1]) < 0.3 * abs(
            np.diff(course.hinge_px, axis=0)[0] @ [1, 0]
        )
        assert course.torn_by_fifths == sorted(course.torn_by_fifths)
        assert [one.index for one in course.planes] == [2, 1]
        assert course.planes_sure is not None
        assert course.planes_sure > 0.95
        assert [(one.name, one.index) for one in course.roads] == [("outer", 0), ("outer", 1), ("filling", None)]


def _patches(seed: int, count: int = 30) -> Patches:
    rng = np.random.default_rng(seed)
    return Patches(rng.uniform(0, 10, (count, 2)), rng.uniform(0, 1, count), rng.uniform(0.5, 1, count), 1.0)


class TestArithmetic:
    @given(st.floats(-0.1, 0.1), st.floats(-0.1, 0.1), st.integers(0, 50))
    def test_a_plane_is_found_exactly(self, along: float, down: float, seed: int) -> None:
        """Patches that lie on a plane give its slope, and all their variance is explained."""
        patches = _patches(seed)
        flat = replace(patches, torn=0.5 + patches.xy_mm @ [along, down])
        trend = fit_trend(flat)
        assert trend.slope == pytest.approx([along, down], abs=1e-9)
        assert np.ptp(flat.torn) < 1e-3 or trend.explained == pytest.approx(1, abs=1e-6)

    def test_the_share_explained_is_the_squared_multiple_correlation(self) -> None:
        """Against numpy's correlation of the values with the values fitted by scipy's least squares (equal weights)."""
        patches = replace(_patches(4), contact_mm2=np.ones(30))
        planes = np.c_[np.ones(30), patches.xy_mm]
        fitted = planes @ np.linalg.pinv(planes) @ patches.torn
        assert fit_trend(patches).explained == pytest.approx(np.corrcoef(fitted, patches.torn)[0, 1] ** 2)

    @pytest.mark.parametrize("seed", range(3))
    def test_shuffling_gives_the_probability_that_scipy_gives(self, seed: int) -> None:
        """scipy.stats.permutation_test on the same statistic, to within both tests' sampling."""
        patches = _patches(seed)
        tested = stats.permutation_test(
            (patches.torn,),
            lambda torn: fit_trend(replace(patches, torn=torn)).explained,
            permutation_type="pairings",
            alternative="greater",
            n_resamples=DRAWS,
            rng=np.random.default_rng(9),
        )
        spread = np.sqrt(0.25 / DRAWS * 2)
        assert chance_shuffled(patches, 0.05)[0] == pytest.approx(tested.pvalue, abs=4 * spread)

    def test_shuffled_chance_is_as_rare_as_it_says(self) -> None:
        """Of 200 sets of independent patches about one in twenty passes the bar (binomial, 99.9 % interval)."""
        passed = sum(chance_shuffled(_patches(seed, 20), 0.05, 199)[0] <= 0.05 for seed in range(200))
        low, high = stats.binom.interval(0.999, 200, 0.05)
        assert low <= passed <= high

    def test_a_mirrored_half_is_laid_back(self) -> None:
        """A direction on a mate that is this face mirrored left for right and turned comes back as its mirror image."""
        turn = np.radians(30)
        affine = np.array([[np.cos(turn), -np.sin(turn), 5.0], [np.sin(turn), np.cos(turn), 9.0]]) @ np.diag([-1, 1, 1])
        told = through({"value": 100.0, "interval": [80.0, 130.0]}, affine)
        assert told["value"] == pytest.approx(180 - (100 - 30))
        assert told["interval"] == pytest.approx([80.0, 130.0])

    @pytest.mark.parametrize(("other", "agrees"), [(40.0, True), (350.0, True), (190.0, False)])
    def test_two_halves_agree_where_their_intervals_reach_each_other(self, other: float, agrees: bool) -> None:
        """Round the circle, with the half widths added in quadrature."""
        spans = [{"value": deg, "interval": [deg - 30, deg + 30]} for deg in (10.0, other)]
        assert reach(*spans) is agrees


def _photo(name: str, change: Any = None) -> tuple[Half, dict[str, Any]]:
    """A practice face inside its true outline; `change` turns photo and outline alike: (picture, points) -> both."""
    folder = FACES / name
    known, truth = (json.loads((folder / f"{kind}.json").read_text()) for kind in ("input", "truth"))
    picture = Image.open(folder / "photo.jpg").convert("RGB")
    points = np.array(truth["photo"]["outline_px"])
    holes = [np.array(hole) for hole in truth["photo"]["holes_px"]]
    if change:
        picture, points, holes = change(picture, points, holes)
    file = io.BytesIO()
    picture.save(file, "PNG")
    photo = read_photo(file.getvalue(), PhotoLimits())
    outline = check_outline(points, holes, photo.facts.width_px, photo.facts.height_px)
    roads = Roads(
        known["line_width_mm"], known["layer_height_mm"], known.get("wall_count"), known.get("contact_band_mm"), None
    )
    return read_half(photo, scale_from_um_per_px(known["um_per_px"]), outline, roads), known


def _quarter(picture: Image.Image, points: np.ndarray, holes: list[np.ndarray]) -> Any:
    turned = picture.transpose(Image.Transpose.ROTATE_270)  # clockwise
    return turned, *_moved(lambda p: np.c_[picture.height - 1 - p[:, 1], p[:, 0]], points, holes)


def _mirror(picture: Image.Image, points: np.ndarray, holes: list[np.ndarray]) -> Any:
    turned = picture.transpose(Image.Transpose.FLIP_LEFT_RIGHT)
    return turned, *_moved(lambda p: np.c_[picture.width - 1 - p[:, 0], p[:, 1]], points, holes)


def _moved(how: Any, points: np.ndarray, holes: list[np.ndarray]) -> tuple[np.ndarray, list[np.ndarray]]:
    return how(points), [how(hole) for hole in holes]


@pytest.fixture(scope="module")
def half() -> Half:
    """Face 37, read by its true outline."""
    return _photo("face_37")[0]


@pytest.fixture(scope="module")
def way(half: Half) -> Way:
    """Its course."""
    found = way_of(half.view, half.reading, half.known)
    assert isinstance(found, Way)
    return found


class TestPhoto:
    """Face 37: overload set in along a direction that its truth holds (`crack_dir_rad`, turned by the camera)."""

    def test_the_renderers_direction_lies_in_the_interval(self, way: Way) -> None:
        """Where the renderer let overload set in, and where its mask of torn contact rises to."""
        truth = json.loads((FACES / "face_37" / "truth.json").read_text())
        crack, turn = truth["spec"]["crack_dir_rad"], np.radians(truth["photo"]["camera"]["rotation_deg"])
        assert _holds(way, float(np.degrees(crack + turn) % 360))
        masks = [np.asarray(Image.open(FACES / "face_37" / "masks" / f"{n}.png")) > 0 for n in ("nominal", "bonded")]
        row, col = np.nonzero(masks[0])
        planes = np.c_[np.ones(len(row)), col, row]
        slope = np.linalg.lstsq(planes, masks[1][row, col].astype(float), rcond=None)[0][1:]
        assert _holds(way, float(np.degrees(np.arctan2(slope[1], slope[0])) % 360))

    def test_a_quarter_turn_of_the_photo_turns_the_direction(self, way: Way) -> None:
        """The photo turned clockwise by 90 degrees."""
        half = _photo("face_37", _quarter)[0]
        turned = way_of(half.view, half.reading, half.known)
        assert isinstance(turned, Way)
        assert _off(turned.deg, way.deg + 90) < 10

    def test_a_mirrored_photo_mirrors_the_direction(self, way: Way) -> None:
        """The photo left for right."""
        half = _photo("face_37", _mirror)[0]
        turned = way_of(half.view, half.reading, half.known)
        assert isinstance(turned, Way)
        assert _off(turned.deg, 180 - way.deg) < 10

    @pytest.mark.parametrize("seed", range(3))
    def test_other_light_leaves_the_direction_within_its_interval(self, half: Half, way: Way, seed: int) -> None:
        """Other contrast, uneven light, another strength of colour, noise: still within, or none."""
        view = relit(half.view, np.random.default_rng(seed))
        reading = read_face(view, half.walls, 0.25, 0.45)
        other = find_way(cut_patches(view, *contact_and_torn(reading, half.known)))
        assert isinstance(other, str) or _holds(way, other.deg)

    def test_places_scale_with_the_photo(self, half: Half) -> None:
        """Half the photo's size and twice its um per px: the same direction, the same places at half the px."""
        known = json.loads((FACES / "face_37" / "input.json").read_text())
        picture = Image.open(FACES / "face_37" / "photo.jpg").convert("RGB")
        small = picture.resize((picture.width // 2, picture.height // 2), Image.Resampling.BOX)
        file = io.BytesIO()
        small.save(file, "PNG")
        found = []
        for photo, factor in (((FACES / "face_37" / "photo.jpg").read_bytes(), 1), (file.getvalue(), 2)):
            ring = [
                [(x + 0.5) / factor - 0.5, (y + 0.5) / factor - 0.5] for x, y in half.view.to_photo(half.view.outer_px)
            ]
            result = examine(
                ExamineRequest(
                    photo, known["um_per_px"] * factor, known["line_width_mm"], known["layer_height_mm"],
                    wall_count=known["wall_count"], outline={"outline_px": ring},
                )
            ).result  # fmt: skip
            assert result["course"] is not None
            found.append(result["course"])
        first, second = found
        assert _off(first["direction_deg"]["value"], second["direction_deg"]["value"]) < 15
        there = np.array(second["origin"]["centre_px"]) * 2
        assert np.hypot(*(there - first["origin"]["centre_px"])) < 2 * first["origin"]["half_long_px"]

    def test_no_course_has_its_reason_in_words(self, half: Half) -> None:
        """A face that tore wholly: None, and a sentence."""
        torn = np.eye(4, dtype=np.float32)[np.zeros(half.view.inside.shape, int)] * half.view.inside[..., None]
        whole = replace(half, reading=replace(half.reading, classes=torn))
        told, why = course_json(whole, half.view.inside.astype(np.int32))
        assert told is None
        assert len(why) > 40
