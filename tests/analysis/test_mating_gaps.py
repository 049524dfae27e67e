"""A mate whose bare stretches are drawn, and gaps laid on and off them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from analysis.halves.gaps import GapAgreement, GapLine, gap_agreement
from analysis.roads.workview import Workview, make_workview

LINE_MM, UM = 0.5, 20.0
RADIUS_PX = 250.0
MIDDLE = np.array([400.0, 380.0])
MIRROR = np.array([[-1.0, 0.0, 900.0], [0.0, 1.0, 12.0]])


def ring(radius_px: float, count: int = 400) -> NDArray[np.float64]:
    """A circle from the rightmost point on, clockwise as seen."""
    angle = np.arange(count) * 2 * np.pi / count
    return MIDDLE + radius_px * np.column_stack([np.cos(angle), np.sin(angle)])


def mate_view() -> Workview:
    """The working grid of the mirrored half."""
    outer = ring(RADIUS_PX) @ MIRROR[:, :2].T + MIRROR[:, 2]
    return make_workview(np.full((800, 1000, 3), 128, np.uint8), 1.0, UM, LINE_MM, outer)


def sector(view: Workview, start: float, end: float, value: float = 1.0, rest: float = 0.0) -> NDArray[np.float32]:
    """`value` on the mate where this face has shares `start` to `end` of any ring about the middle, else `rest`."""
    rows, cols = np.indices(view.inside.shape)
    places = view.to_photo(np.column_stack([cols.ravel(), rows.ravel()]).astype(float))
    here = (places - MIRROR[:, 2]) @ np.linalg.inv(MIRROR[:, :2]).T - MIDDLE
    share = (np.arctan2(here[:, 1], here[:, 0]) / (2 * np.pi)) % 1
    drawn = np.where((share >= start) & (share < end), value, rest).reshape(rows.shape)
    return np.where(view.inside, drawn, np.nan).astype(np.float32)


def wall(*gaps: tuple[float, float], radius_px: float = 200.0) -> GapLine:
    """A round wall with gaps at these shares of its length."""
    return GapLine(ring(radius_px), 2 * np.pi * radius_px * UM / 1000, gaps)


def asked(walls: list[GapLine], unbonded: NDArray[np.float32], view: Workview) -> GapAgreement:
    """The question under test."""
    return gap_agreement(walls, unbonded, view, MIRROR, LINE_MM)


class TestGapAgreement:
    @given(start=st.floats(0, 0.6), length=st.floats(0.05, 0.3), bare=st.floats(0.05, 0.35))
    @example(start=0.3125, length=0.0625, bare=0.0625)
    @settings(max_examples=25)
    def test_share_is_the_overlap_and_chance_is_the_bare_share(self, start: float, length: float, bare: float) -> None:
        """A gap that starts where the mate's bare stretch does is confirmed over what they have in common.

        Both ends may be off by one place of the walk along the wall, which is more of a short gap than of a long one.
        """
        view = mate_view()
        found = asked([wall((start, start + length))], sector(view, start, start + bare), view)

        places = 8 * 2 * np.pi * 200 * UM / 1000 / LINE_MM  # eight a road width, all round
        assert found.share == pytest.approx(min(bare, length) / length, abs=max(0.06, 2.2 / (places * length)))
        assert found.by_chance == pytest.approx(bare, abs=0.02)

    def test_gap_over_the_start_is_followed(self) -> None:
        """A gap that runs on over the wall's start is one gap."""
        view = mate_view()
        found = asked([wall((0.9, 1.1))], sector(view, 0.0, 0.1), view)

        assert found.share == pytest.approx(0.5, abs=0.03)

    def test_longer_gaps_count_more(self) -> None:
        """The share is one of length: 3 parts confirmed, 1 part not."""
        view = mate_view()
        found = asked([wall((0.1, 0.4), (0.6, 0.7))], sector(view, 0.05, 0.45), view)

        assert found.share == pytest.approx(0.75, abs=0.02)
        assert found.per_wall[0] == pytest.approx((1.0, 0.0))

    def test_unknown_counts_neither_way(self) -> None:
        """Where the mate is greased nothing is confirmed and nothing denied."""
        view = mate_view()
        unbonded = sector(view, 0.1, 0.2)
        unbonded[np.isfinite(sector(view, 0.2, 0.3, value=1.0, rest=np.nan))] = np.nan
        found = asked([wall((0.1, 0.3))], unbonded, view)

        assert found.share == pytest.approx(1.0, abs=0.03)
        assert found.by_chance == pytest.approx(0.1 / 0.9, abs=0.02)

    def test_no_gap_and_no_sight_are_none_with_a_reason(self) -> None:
        """What can't be answered is None, and each cause has words of its own."""
        view = mate_view()
        none = asked([wall()], sector(view, 0.0, 0.5), view)
        blind = asked([wall((0.1, 0.2))], np.full(view.inside.shape, np.nan, np.float32), view)

        assert (none.share, none.by_chance) == (None, None)
        assert "no gap" in none.reason
        assert (blind.share, blind.by_chance) == (None, None)
        assert "can't be read" in blind.reason

    def test_chance_looks_at_walls_long_enough(self) -> None:
        """A stretch longer than the inner wall can't have lain there by chance."""
        view = mate_view()
        unbonded = sector(view, 0.0, 0.25)
        inner_bare = np.where(np.isfinite(unbonded), 1.0, np.nan)
        rows, cols = np.indices(view.inside.shape)
        places = view.to_photo(np.column_stack([cols.ravel(), rows.ravel()]).astype(float))
        near = np.hypot(*(places - (MIDDLE @ MIRROR[:, :2].T + MIRROR[:, 2])).T).reshape(rows.shape) < 60
        unbonded = np.where(near, inner_bare, unbonded).astype(np.float32)
        found = asked([wall((0.0, 0.25)), wall(radius_px=40.0)], unbonded, view)

        assert found.by_chance == pytest.approx(0.25, abs=0.02)
