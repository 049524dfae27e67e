"""The cues and the stored network: laws that hold whatever the weights are, and twins from outside."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.filters import threshold_otsu

from analysis.roads.walls import find_walls
from analysis.roads.workview import Workview
from analysis.welds.bonding import read_face
from analysis.welds.cues import inside_mean, measure_cues, otsu_split, rank_of
from analysis.welds.network import BONDING, SCORES, load_networks, score
from tests.analysis.drawn_face import LINE_WIDTH_MM, circle, radius_map, view_of

CENTRE = (500.0, 500.0)


@pytest.fixture(scope="module")
def view() -> Workview:
    """A disc with a rough bright half and a smooth dark one."""
    plain = view_of(circle(CENTRE, 300))
    rng = np.random.default_rng(4)
    left = radius_map(plain, (380.0, 500.0)) < 3
    linear = np.where(left[..., None], 0.5, 0.15) * np.array([1.0, 0.5, 0.3])
    linear *= 1 + rng.normal(0, 0.05, (*plain.inside.shape, 1))
    fine = (linear @ np.array([0.2126, 0.7152, 0.0722])).repeat(2, 0).repeat(2, 1)
    return replace(plain, linear=linear.astype(np.float32), fine=fine.astype(np.float32))


class TestOtsuSplit:
    def test_level_as_scikit_image_finds_it(self) -> None:
        """Twin: the split of two heaps lies where skimage.filters.threshold_otsu (0.25) puts it, to a bin or two."""
        rng = np.random.default_rng(0)
        values = np.concatenate([rng.normal(0, 1, 4000), rng.normal(6, 1, 2000)]).astype(np.float32)
        level, apart, clear, share = otsu_split(values)
        assert level == pytest.approx(threshold_otsu(values), abs=0.4)
        assert apart == pytest.approx(6, abs=0.2)
        assert share == pytest.approx(1 / 3, abs=0.02)
        assert clear > 0.8

    def test_one_heap_is_not_clear(self) -> None:
        """A single normal heap splits with about 2/pi of its variance between the halves (half-normal means)."""
        values = np.random.default_rng(1).normal(0, 1, 20000).astype(np.float32)
        assert otsu_split(values)[2] == pytest.approx(2 / np.pi, abs=0.03)


class TestInsideMean:
    @settings(max_examples=20)
    @given(st.floats(-50, 50))
    def test_background_never_leaks_in(self, background: float) -> None:
        """Whatever lies around the face, the mean on the face is the same."""
        inside = np.zeros((40, 40), np.float32)
        inside[10:30, 10:30] = 1
        values = np.where(inside > 0, 2.0, background).astype(np.float32)
        got = inside_mean(values, inside, 3.0)
        np.testing.assert_allclose(got[inside > 0], 2.0, rtol=0, atol=1e-3)


def test_rank_is_the_share_that_is_lower() -> None:
    """On evenly spread values the rank is the value."""
    values = np.linspace(0, 1, 2500, dtype=np.float32).reshape(50, 50)
    np.testing.assert_allclose(rank_of(values, np.ones_like(values, bool)), values, rtol=0, atol=0.01)


class TestCues:
    def test_exposure_moves_no_cue(self, view: Workview) -> None:
        """Half the light everywhere, below clipping: every cue but for rounding stays."""
        field = find_walls(view, 2, 12)
        bright = measure_cues(view, field, 0.7)
        dark = measure_cues(replace(view, linear=view.linear / 2, fine=view.fine / 2), field, 0.7)
        inside = view.inside
        np.testing.assert_allclose(dark.planes[inside], bright.planes[inside], rtol=0, atol=0.05)

    def test_background_moves_no_cue(self, view: Workview) -> None:
        """Another ground under the part changes cues on its face at most within a pixel's blur of the edge."""
        field = find_walls(view, 2, 12)
        other = view.linear.copy()
        other[~view.inside] = 0.9
        fine = view.fine.copy()
        fine[~view.inside.repeat(2, 0).repeat(2, 1)] = 0.9
        first = measure_cues(view, field, 0.7)
        second = measure_cues(replace(view, linear=other, fine=fine), field, 0.7)
        core = field.depth > 1.5
        for name in ("light_road", "chroma_kept", "flat_rank", "light_near_side"):
            np.testing.assert_allclose(second.plane(name)[core], first.plane(name)[core], rtol=0, atol=0.1)

    def test_cues_are_finite(self, view: Workview) -> None:
        """Also on a face that is black or clipped throughout."""
        field = find_walls(view, 2, 12)
        for level in (0.0, 1.0):
            flat = replace(view, linear=np.full_like(view.linear, level), fine=np.full_like(view.fine, level))
            assert np.isfinite(measure_cues(flat, field, 0.7).planes).all()


class TestStoredNetworks:
    def test_weights_fit_the_cues(self, view: Workview) -> None:
        """The stored weights were trained on exactly the cues that are measured, in their order."""
        field = find_walls(view, 2, 12)
        cues = measure_cues(view, field, 0.7)
        assert load_networks(BONDING)[0].cue_names == cues.names

    def test_order_of_points_changes_nothing(self, view: Workview) -> None:
        """A face is a set of points: shuffled, each keeps its scores."""
        network = load_networks(BONDING)[0]
        rng = np.random.default_rng(2)
        cues = rng.normal(network.middle, network.spread, (300, len(network.middle))).astype(np.float32)
        order = rng.permutation(300)
        every = np.ones(300, bool)
        whole, shuffled = score(cues, every, network), score(cues[order], every, network)
        assert whole.shape == (300, len(SCORES))
        np.testing.assert_allclose(shuffled, whole[order], rtol=0, atol=1e-3)

    def test_file_is_small(self) -> None:
        """Weights are data that everyone downloads: below 300 kB."""
        assert BONDING.stat().st_size < 300_000


def test_reading_is_a_probability(view: Workview) -> None:
    """On the face the four classes add up to 1, off it all is 0."""
    reading = read_face(view, find_walls(view, 2, 12), 0.3, LINE_WIDTH_MM)
    total = reading.classes.sum(-1)
    np.testing.assert_allclose(total[view.inside], 1, rtol=0, atol=1e-4)
    assert (total[~view.inside] == 0).all()
    assert reading.classes.min() >= -1e-6
