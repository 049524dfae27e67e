"""Planes told apart: the network's sums, the division of drawn marks, and rendered faces whose planes are known."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import ndimage

from analysis.measures import plane_network
from analysis.measures.plane_crossings import crossings
from analysis.measures.plane_cues import NAMES, plane_cues
from analysis.measures.plane_network import CELL, DEPTH, LAYERS, load_layers, run
from analysis.measures.plane_split import Split, splits
from analysis.measures.planes import count_probabilities, find_planes, places, planes_json, road_angle_deg
from analysis.roads.walls import find_walls
from analysis.roads.workview import make_workview
from tests.analysis.drawn_face import LINE_WIDTH_MM, ROAD_PHOTO_PX, UM_PER_PX, view_of

SQUARE = np.array([[60, 60], [760, 60], [760, 760], [60, 760]], float)


def _marked(shares: list[float], apart: float, noise: float = 0.1):
    """Step odds and marks of a square cut upright at the given shares of its width; every plane `apart` further on."""
    rows, cols = 60, 80
    plane = np.searchsorted(np.array(shares), (np.arange(cols) + 0.5) / cols)
    marks = np.zeros((rows, cols, DEPTH), np.float32)
    marks[..., 0] = apart * plane[None]
    marks += noise * np.random.default_rng(5).standard_normal(marks.shape)
    odds = np.full((rows, cols), -4.0, np.float32)
    edge = np.flatnonzero(np.diff(plane))
    odds[:, edge] = odds[:, edge + 1] = 3.0
    return odds, marks, np.ones((rows, cols), bool), np.broadcast_to(plane + 1, (rows, cols))


class TestNetwork:
    def test_convolution_is_scipys(self) -> None:
        """The first layer's sums are those of scipy.ndimage.correlate, every second place kept."""
        rng = np.random.default_rng(0)
        layers = {
            name: (
                rng.normal(0, 0.1, (*((1, 1) if name == "out" else (3, 3)), *size)).astype(np.float32),
                rng.normal(0, 0.1, size[1]).astype(np.float32),
            )
            for name, size in LAYERS.items()
        }
        cues = rng.standard_normal((32, 48, len(NAMES))).astype(np.float32)
        got = plane_network._conv(cues, layers["a"], 2)
        kernel, bias = layers["a"]
        whole = sum(ndimage.correlate(cues[..., k], kernel[:, :, k, 0], mode="constant") for k in range(len(NAMES)))
        np.testing.assert_allclose(got[..., 0], np.maximum(whole[::2, ::2] + bias[0], 0), atol=1e-4)
        assert run(cues, layers).shape == (16, 24, 1 + DEPTH)

    def test_any_size_is_taken(self) -> None:
        """A face's grid needn't be a multiple of anything: two cells make one place, an odd one a place of its own."""
        assert run(np.zeros((37, 51, len(NAMES)), np.float32), load_layers()).shape == (19, 26, 1 + DEPTH)


class TestSplits:
    @pytest.mark.parametrize("shares", [[0.5], [0.3, 0.7], [0.2, 0.5, 0.8]])
    def test_drawn_planes_come_back(self, shares: list[float]) -> None:
        """Cut into as many planes as were drawn, at least 97 % of the face lies on its own."""
        odds, marks, inside, truth = _marked(shares, apart=1.0)
        split = next(s for s in splits(odds, marks, inside) if s.count == len(shares) + 1)
        own = [np.bincount(truth[split.labels == k]).max() for k in range(1, split.count + 1)]
        assert sum(own) >= 0.97 * truth.size

    def test_an_island_belongs_to_its_plane(self) -> None:
        """A piece beyond another plane that looks like the first one is given its number."""
        odds, marks, inside, truth = _marked([0.4, 0.7], apart=4.0)
        marks[:, truth[0] == 3, 0] -= 8.0
        split = next(s for s in splits(odds, marks, inside) if s.count == 2)
        assert len(np.unique(split.labels[:, (truth[0] == 1) | (truth[0] == 3)][5:-5, 5:-5])) == 1

    def test_a_sliver_is_not_counted(self) -> None:
        """No division has a plane below 3 % of the face, by definition."""
        odds, marks, inside, _ = _marked([0.02, 0.5], apart=1.0)
        for split in splits(odds, marks, inside):
            assert np.bincount(split.labels[inside])[1:].min() >= 0.03 * inside.sum()

    def test_a_clear_step_loosens(self) -> None:
        """Two planes with a clear step between hang together more loosely than two with hardly any."""
        loose = []
        for height in (3.0, -3.0):
            odds, marks, inside, _ = _marked([0.5], 1.0)
            loose.append(splits(np.minimum(odds, height), marks, inside)[1].loose)
        assert loose[0] < loose[1] - 0.5

    def test_a_face_in_two_pieces_is_divided(self) -> None:
        """Pieces that touch nowhere are no error."""
        odds, marks, inside, _ = _marked([0.5], 1.0)
        inside[:, 38:43] = False
        assert [s.count for s in splits(odds, marks, inside)][:2] == [1, 2]


class TestCounting:
    @given(st.floats(-8, 0), st.floats(0, 1), st.floats(-2.4, 3))
    def test_probabilities_add_up(self, loose: float, surest: float, lines: float) -> None:
        """One to four planes: together certain, whatever was seen."""
        none = np.zeros((1, 1), np.int32)
        tried = [Split(1, none, 0.0), *(Split(k, none, loose) for k in (2, 3, 4))]
        odds = count_probabilities(tried, (surest, lines))
        assert sum(odds) == pytest.approx(1)
        assert min(odds) >= 0

    def test_every_sight_of_a_step_speaks_for_one(self) -> None:
        """Looser planes, surer steps and more lines across the walls each make one plane less likely."""
        none = np.zeros((1, 1), np.int32)

        def one(loose: float, surest: float, lines: float) -> float:
            return count_probabilities([Split(1, none, 0.0), Split(2, none, loose)], (surest, lines))[0]

        calm = one(-1.0, 0.3, 0.0)
        assert one(-3.0, 0.3, 0.0) < calm
        assert one(-1.0, 0.7, 0.0) < calm
        assert one(-1.0, 0.3, 1.5) < calm


class TestCrossings:
    def _walls(self, lines: str) -> np.ndarray:
        """Cues of upright walls under a little noise, with six dark lines across or along them."""
        rng = np.random.default_rng(2)
        cues = np.zeros((90, 90, len(NAMES)), np.float32)
        light = 0.05 * rng.standard_normal((180, 180))
        for k in range(20, 160, 25):
            if lines == "across":
                light[k, 40:140] = -2.0
            elif lines == "along":
                light[40:140, k] = -2.0
        for k in range(4):
            cues[..., k] = light[k // 2 :: 2, k % 2 :: 2]
        phase = 2 * np.pi * np.arange(90) / 6
        cues[..., NAMES.index("phase_even")], cues[..., NAMES.index("phase_odd")] = np.cos(phase), np.sin(phase)
        cues[..., NAMES.index("on_wall")] = cues[..., NAMES.index("inside")] = 1
        return cues

    def test_only_lines_across_count(self) -> None:
        """Lines that cross walls stand out; those that follow the walls, as grooves do, less than half as much."""
        across, along, none = (crossings(self._walls(n)) for n in ("across", "along", "none"))
        assert across > 2 * along
        assert across > 5 * none

    def test_no_walls_no_lines(self) -> None:
        """Without walls nothing can cross them."""
        cues = self._walls("across")
        cues[..., NAMES.index("on_wall")] = 0
        assert crossings(cues) == 0


class TestFindPlanes:
    def test_every_place_has_a_plane(self) -> None:
        """The planes cover the face and nothing else, numbered by area, and their shares add up to 1."""
        view = view_of(SQUARE)
        field = find_walls(view, 2, 12)
        found = find_planes(view, field)
        assert ((found.numbers > 0) == view.inside).all()
        sizes = np.bincount(found.numbers.ravel())[1:]
        assert (np.diff(sizes) <= 0).all()
        listed = planes_json(view, field, found.numbers)
        assert sum(p["area_share"] for p in listed) == pytest.approx(1, abs=0.001)

    def test_an_even_face_is_one_plane(self) -> None:
        """Where nothing is to be seen no step is invented."""
        view = view_of(SQUARE)
        found = find_planes(view, find_walls(view, 2, 12))
        assert found.numbers.max() == 1

    def test_places_are_a_grid_of_cells(self) -> None:
        """A place lies on the face where half of its area does."""
        inside = np.zeros((10, 9), bool)
        inside[:6, :4] = True
        got = places(inside)
        assert got.shape == (3, 3)
        assert got[:, 0].tolist() == [True, True, False]
        assert CELL == 4

    def test_cues_stand_on_half_the_grid(self) -> None:
        """One cell for two by two working pixels, zero off the face, nothing infinite."""
        view = view_of(SQUARE)
        cues = plane_cues(view, find_walls(view, 2, 12))
        assert cues.shape == (view.inside.shape[0] // 2, view.inside.shape[1] // 2, len(NAMES))
        assert np.isfinite(cues).all()
        assert not cues[0].any()


class TestRoadAngle:
    @pytest.mark.parametrize("degrees", [0, 30, 45, 90, 135])
    def test_direction_of_drawn_stripes(self, degrees: float) -> None:
        """Stripes drawn at an angle (clockwise from +x, y down) are read to a degree."""
        size = 820
        row, col = np.mgrid[:size, :size]
        angle = np.radians(degrees)
        across = -np.sin(angle) * col + np.cos(angle) * row
        grey = 120 + 60 * np.cos(2 * np.pi * across / ROAD_PHOTO_PX)
        photo = np.repeat(grey[..., None], 3, -1).astype(np.uint8)
        view = make_workview(photo, 1.0, UM_PER_PX, LINE_WIDTH_MM, SQUARE, ())
        got = road_angle_deg(view, find_walls(view, 2, 12), view.inside)
        assert got is not None
        assert (got - degrees + 90) % 180 - 90 == pytest.approx(0, abs=1)
