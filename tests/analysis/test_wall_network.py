"""Unrolled walls, the network that reads them and the chain along them: laws that hold whatever the weights are."""

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest
from scipy.signal import correlate

from analysis.roads.walls import find_walls, trace_walls
from analysis.roads.workview import ROAD_PX, Workview
from analysis.welds.wall_chain import chain, forward_backward
from analysis.welds.wall_network import EVERY, GAPS, STRIDES, WallNetwork, _look, load_wall_network, score_walls
from analysis.welds.wall_strips import CHANNELS, ROWS, STRIP_PX, wall_strips
from tests.analysis.drawn_face import ROAD_PHOTO_PX, circle, radius_map, view_of

CENTRE, RADIUS = (500.0, 500.0), 400.0


@pytest.fixture(scope="module")
def view() -> Workview:
    """A disc whose outermost road is bright and the second dark; noise all over."""
    plain = view_of(circle(CENTRE, RADIUS))
    depth = RADIUS / ROAD_PHOTO_PX - radius_map(plain, CENTRE)
    rng = np.random.default_rng(8)
    grey = np.where(depth < 1, 0.4, 0.15) * (1 + rng.normal(0, 0.02, depth.shape))
    linear = grey[..., None] * np.array([1.0, 0.6, 0.4])
    fine = (linear @ np.array([0.2126, 0.7152, 0.0722])).repeat(2, 0).repeat(2, 1)
    return replace(plain, linear=linear.astype(np.float32), fine=fine.astype(np.float32))


def strips_of(view: Workview) -> list[np.ndarray]:
    return wall_strips(view, trace_walls(view, find_walls(view, 2, ROAD_PX)))


class TestWallStrips:
    def test_roads_lie_level(self, view: Workview) -> None:
        """The wall fills the middle STRIP_PX rows from end to end, the ground lies above it, its neighbour below."""
        first, _ = strips_of(view)
        light, face = first[..., 1], first[..., 3]
        edge = (ROWS - STRIP_PX) // 2
        assert first.shape[0] == ROWS
        assert first.shape[2] == len(CHANNELS)
        assert face[: edge - 2].max() == 0
        assert face[edge + 2 :].min() == 1
        assert light[edge + 2 : edge + STRIP_PX - 2].min() > light[edge + STRIP_PX + 2 :].max() + 0.5

    def test_length_follows_the_wall(self, view: Workview) -> None:
        """Columns count the centreline's length in STRIP_PX a road width, to a place of the network."""
        radius = RADIUS / ROAD_PHOTO_PX
        for index, strip in enumerate(strips_of(view)):
            assert strip.shape[1] % EVERY == 0
            assert strip.shape[1] / STRIP_PX == pytest.approx(2 * np.pi * (radius - 0.5 - index), rel=0.01)

    def test_exposure_and_ground_change_nothing(self, view: Workview) -> None:
        """Half the light, or another ground under the part: the same picture."""
        ground = view.linear.copy()
        ground[~view.inside] = 0.9
        for other in (replace(view, linear=view.linear / 2, fine=view.fine / 2), replace(view, linear=ground)):
            for before, after in zip(strips_of(view), strips_of(other), strict=True):
                np.testing.assert_allclose(after[15:], before[15:], rtol=0, atol=0.05)


class TestNetwork:
    def test_kernels_as_scipy_lays_them(self) -> None:
        """Twin: the first layer is scipy.signal.correlate with zeros around, every second row and column."""
        network = load_wall_network(GAPS)
        kernel, bias = network.layers["k1"]
        picture = np.random.default_rng(1).normal(size=(ROWS, 64, len(CHANNELS))).astype(np.float32)
        pad = kernel.shape[0] // 2
        padded = np.pad(picture, ((pad, pad), (pad, pad), (0, 0)))
        layers = [correlate(padded, kernel[..., k], "valid")[::2, ::2, 0] for k in range(kernel.shape[3])]
        got = _first_layer(picture, network)
        np.testing.assert_allclose(got, np.maximum(np.stack(layers, -1) + bias, 0), rtol=0, atol=1e-3)

    def test_a_wall_has_no_beginning(self) -> None:
        """Where a closed wall is cut open moves its scores along and changes none."""
        strips = [np.random.default_rng(k).normal(size=(ROWS, 400, 4)).astype(np.float32) for k in (2, 3)]
        turned = [np.roll(s, 36 * EVERY, axis=1) for s in strips]
        network = load_wall_network(GAPS)
        for before, after in zip(score_walls(strips, network), score_walls(turned, network), strict=True):
            assert before.shape == (400 // EVERY, 3)
            np.testing.assert_allclose(np.roll(before, 36, axis=0), after, rtol=0, atol=1e-2)

    def test_file_is_small(self) -> None:
        """Weights are data that everyone downloads: below 200 kB."""
        assert GAPS.stat().st_size < 200_000


def _first_layer(picture: np.ndarray, network: WallNetwork) -> np.ndarray:
    """The first layer alone: the others are left out, the dense one hands through."""
    kernel = network.layers["k1"][0]
    count = (ROWS // 2) * kernel.shape[3]
    layers = {"k1": network.layers["k1"], "f": (np.eye(count, dtype=np.float32), np.zeros(count, np.float32))}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("analysis.welds.wall_network.STRIDES", {"k1": STRIDES["k1"]})
        flat = _look(picture, WallNetwork(layers))
    return flat.reshape(-1, ROWS // 2, kernel.shape[3]).transpose(1, 0, 2)


class TestChain:
    def test_sums_over_all_ways(self) -> None:
        """Twin: every sequence of eight states weighed by hand gives the same odds."""
        rng = np.random.default_rng(5)
        odds, begins, ends = rng.normal(0, 2, 8), -rng.uniform(0, 4, 8), -rng.uniform(0, 4, 8)
        weight = np.zeros((8, 2))
        for states in product((0, 1), repeat=8):
            log = sum(o for o, s in zip(odds, states, strict=True) if s)
            for k, (a, b) in enumerate(pairwise(states), 1):
                log += begins[k] if b > a else ends[k] if a > b else 0
            for k, s in enumerate(states):
                weight[k, s] += np.exp(log)
        got = forward_backward(odds, begins, ends)
        np.testing.assert_allclose(got, np.log(weight[:, 1] / weight[:, 0]), rtol=0, atol=1e-9)

    def test_a_closed_line_has_no_beginning(self) -> None:
        """Scores moved round the wall move the answer and nothing else."""
        scores = np.random.default_rng(6).normal(0, 3, (150, 3))
        np.testing.assert_allclose(chain(np.roll(scores, 70, 0)), np.roll(chain(scores), 70), rtol=0, atol=1e-6)

    def test_a_lone_doubtful_place_is_overruled(self) -> None:
        """One place that leans to "missing" among many that don't: the road is there; a clear stretch is a gap."""
        scores = np.full((200, 3), -4.0)
        scores[50, 0] = 2
        scores[100:112, 0] = 4
        scores[100, 1] = scores[112, 2] = 3
        got = chain(scores)
        assert got[50] < 0.5
        assert (got[102:110] > 0.5).all()
        assert (got[115:195] < 0.5).all()
