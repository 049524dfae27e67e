"""Two readings of one weld: laws of the joint number, and the joint map on drawn halves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.halves.maps import joint_map, joint_value
from analysis.roads.workview import make_workview

shares = st.floats(0.0, 1.0)
halves = st.floats(0.005, 0.3)


class TestJointValue:
    @given(value=shares, half=halves, other_half=halves, shared=st.floats(0, 0.9))
    def test_agreeing_halves_are_surer_than_either(
        self, value: float, half: float, other_half: float, shared: float
    ) -> None:
        """Two readings of one value never give a wider interval than the better of them."""
        joint = joint_value(value, half, value, other_half, shared)

        assert joint.value == pytest.approx(value)
        assert joint.half_width <= min(half, other_half) * (1 + 1e-9)

    def test_equal_halves_follow_the_formula(self) -> None:
        """Variance of the mean of two equal values with correlation r is (1 + r)/2 of one (JCGM 100:2008, 5.2.2)."""
        joint = joint_value(0.40, 0.10, 0.42, 0.10, 0.5)

        assert joint.half_width == pytest.approx(0.10 * np.sqrt(0.75))
        assert joint.value == pytest.approx(0.41)

    def test_independent_halves_weigh_by_inverse_variance(self) -> None:
        """Without shared error: weights 4 to 1 for half widths 1 to 2, joint 2/sqrt(5) of the better (textbook)."""
        joint = joint_value(0.5, 0.05, 0.55, 0.10, 0.0)

        assert joint.value == pytest.approx(0.51)
        assert joint.half_width == pytest.approx(0.05 * 2 / np.sqrt(5))

    @given(first=shares, second=shares, half=halves, other=halves)
    def test_order_doesn_t_matter(self, first: float, second: float, half: float, other: float) -> None:
        """Which of the halves is called the mate changes nothing."""
        one, two = joint_value(first, half, second, other), joint_value(second, other, first, half)

        assert (one.value, one.half_width) == pytest.approx((two.value, two.half_width))

    @given(gap=st.floats(0.0, 0.5))
    def test_interval_grows_with_disagreement(self, gap: float) -> None:
        """The further the halves lie apart, the wider the interval, and never narrower than when they agree."""
        near, far = (joint_value(0.2, 0.05, 0.2 + d, 0.05) for d in (gap, gap + 0.1))

        assert far.half_width >= near.half_width
        assert joint_value(0.2, 0.05, 0.7, 0.05).half_width > 0.1

    def test_shared_error_of_one_is_a_programmer_s_mistake(self) -> None:
        """Two readings with all errors in common are one reading."""
        with pytest.raises(ValueError, match="shared_error"):
            joint_value(0.5, 0.1, 0.5, 0.1, 1.0)

    def test_interval_covers(self) -> None:
        """Of 4000 pairs with known errors, 88 to 95 % of the joint intervals hold the truth."""
        rng = np.random.default_rng(4)
        common, own = rng.normal(size=4000), rng.normal(size=(2, 4000))
        first, second = 0.5 + 0.04 * (np.sqrt(0.5) * common + np.sqrt(0.5) * own)
        half = 0.04 * 1.6449
        held = [
            abs(joint.value - 0.5) <= joint.half_width
            for joint in (joint_value(a, half, b, half) for a, b in zip(first, second, strict=True))
        ]

        assert 0.88 <= np.mean(held) <= 0.95


class TestJointMap:
    MIRROR = np.array([[-1.0, 0.0, 700.0], [0.0, 1.0, 0.0]])
    CORNERS = np.array([(100, 100), (600, 100), (600, 420), (100, 420)], float)

    def views(self):  # type: ignore[no-untyped-def]
        """Both halves' working grids."""
        blank = np.full((520, 700, 3), 128, np.uint8)
        mate = self.CORNERS @ self.MIRROR[:, :2].T + self.MIRROR[:, 2]
        return make_workview(blank, 1.0, 20.0, 0.5, self.CORNERS), make_workview(blank, 1.0, 20.0, 0.5, mate)

    def test_left_of_one_half_is_right_of_the_other(self) -> None:
        """A weld on the left of this face is confirmed by the right of the mate."""
        here, there = self.views()
        left, right = (np.zeros(v.inside.shape, np.float32) for v in (here, there))
        left[:, : left.shape[1] // 2] = 0.9
        right[:, right.shape[1] // 2 :] = 0.9
        joint = joint_map(left, here.inside, here, right, there.inside, there, self.MIRROR)

        assert joint.correlation is not None
        assert joint.correlation > 0.95
        middle = joint.bonded.shape[0] // 2
        assert joint.bonded[middle, 20] == pytest.approx(0.9, abs=0.02)
        assert joint.bonded[middle, -20] < 0.02

    def test_grease_on_one_half_is_seen_through_the_other(self) -> None:
        """Where this face can't be told the mate is believed, and the place counts as known."""
        here, there = self.views()
        mine, theirs = (np.full(v.inside.shape, p, np.float32) for v, p in ((here, 0.1), (there, 0.8)))
        known = here.inside.copy()
        known[:60] = False
        joint = joint_map(mine, known, here, theirs, there.inside, there, self.MIRROR)
        row = 30

        assert joint.known[row, 60]
        assert not joint.both[row, 60]
        assert joint.bonded[row, 60] == pytest.approx(0.8, abs=0.01)

    def test_unrelated_readings_show_no_correlation(self) -> None:
        """Random maps that have nothing in common come out near 0."""
        here, there = self.views()
        rng = np.random.default_rng(3)
        joint = joint_map(
            rng.random(here.inside.shape).astype(np.float32),
            here.inside,
            here,
            rng.random(there.inside.shape).astype(np.float32),
            there.inside,
            there,
            self.MIRROR,
        )

        assert joint.correlation == pytest.approx(0.0, abs=0.15)

    def test_nothing_known_is_nothing_said(self) -> None:
        """No place told by both: no correlation, and nothing bonded out of the blue."""
        here, there = self.views()
        none = np.zeros(here.inside.shape, bool)
        joint = joint_map(
            np.ones(none.shape, np.float32),
            none,
            here,
            np.ones(there.inside.shape, np.float32),
            np.zeros(there.inside.shape, bool),
            there,
            self.MIRROR,
        )

        assert joint.correlation is None
        assert not joint.known.any()
        assert not joint.bonded.any()
