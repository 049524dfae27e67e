"""Seams and recurring gaps on walls drawn at known places."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from analysis.measures.seam import WallGaps, find_seam, gap_path, recurring

WIDTH_MM, MM_PER_PX = 0.45, 0.01
HALF_PX = 600.0  # of the square's side


def square(depth_px: float) -> np.ndarray:
    """The square inset by `depth_px`, clockwise as seen, from the middle of its right side."""
    h = HALF_PX - depth_px
    return np.array([[h, 0], [h, h], [-h, h], [-h, -h], [h, -h]]) + 700.0


def on(depth_px: float, mm: float) -> tuple[float, float]:
    """The point `mm` along that square."""
    closed = np.vstack([square(depth_px), square(depth_px)[:1]])
    along = np.r_[0, np.cumsum(np.hypot(*np.diff(closed, axis=0).T))] * MM_PER_PX
    at = mm % along[-1]
    return float(np.interp(at, along, closed[:, 0])), float(np.interp(at, along, closed[:, 1]))


def wall(index: int, *gaps_mm: tuple[float, float]) -> WallGaps:
    """Wall `index` of the square with gaps from and to these mm."""
    depth = (index + 0.5) * WIDTH_MM / MM_PER_PX
    ends = tuple((on(depth, start), on(depth, end)) for start, end in gaps_mm)
    return WallGaps(index, 8 * (HALF_PX - depth) * MM_PER_PX, ends)


def corner_mm(index: int) -> float:
    """Where the square's first corner lies on wall `index`."""
    return HALF_PX * MM_PER_PX - (index + 0.5) * WIDTH_MM


def seam_of(*walls: WallGaps):  # type: ignore[no-untyped-def]
    return find_seam(walls, WIDTH_MM, WIDTH_MM, MM_PER_PX)


class TestSeam:
    @pytest.mark.parametrize("place", ["side", "corner"])
    def test_gaps_that_begin_at_one_line(self, place: str) -> None:
        """Four walls whose gaps begin at one line and end anywhere: the seam lies there, on a side and at a corner."""
        lengths = (1.2, 3.4, 2.1, 4.0)
        starts = [2.0 if place == "side" else corner_mm(k) for k in range(4)]
        seam = seam_of(*(wall(k, (s, s + n)) for k, (s, n) in enumerate(zip(starts, lengths, strict=True))))
        assert seam is not None
        assert seam.side == "start"
        assert not seam.both_ends
        assert seam.at == tuple((k, 0) for k in range(4))
        truth = [on((k + 0.5) * WIDTH_MM / MM_PER_PX, s) for k, s in enumerate(starts)]
        assert seam.line_px == pytest.approx(np.array(truth))

    def test_gaps_that_end_at_one_line(self) -> None:
        """The same from the other side, with one wall in between that shows no gap there."""
        seam = seam_of(wall(0, (1.0, 4.0)), wall(1, (2.8, 4.1)), wall(2), wall(3, (0.1, 3.9)), wall(4, (2.0, 4.0)))
        assert seam is not None
        assert seam.side == "end"
        assert [key[0] for key in seam.at] == [0, 1, 3, 4]

    def test_one_stretch_missing_on_all(self) -> None:
        """Where both ends line up it says so: that is one stretch left out of every wall."""
        seam = seam_of(*(wall(k, (1.0, 4.5)) for k in range(3)))
        assert seam is not None
        assert seam.both_ends

    def test_short_gaps_at_a_seam(self) -> None:
        """Short gaps line up at both ends without being a stretch that was left out."""
        seam = seam_of(*(wall(k, (1.0, 2.2 + 0.1 * k)) for k in range(4)))
        assert seam is not None
        assert not seam.both_ends

    def test_nothing_to_line_up(self) -> None:
        """No gap, one gap, and gaps apart by more than two line widths give no seam."""
        assert seam_of() is None
        assert seam_of(wall(0), wall(1)) is None
        assert seam_of(wall(0, (1.0, 2.0))) is None
        assert seam_of(*(wall(k, (1.0 + 5 * k, 2.2 + 6 * k)) for k in range(4))) is None

    def test_by_chance_it_is_rarely_seen(self) -> None:
        """Gaps laid at random on four walls: a seam is told on at most the share of faces that is allowed to chance.

        0.1 expected chains; of 400 faces at most 10 % + 3 standard deviations (1.5 %).
        """
        rng = np.random.default_rng(20)
        told = 0
        for _ in range(400):
            walls = []
            for k in range(4):
                starts = rng.uniform(0, 40, rng.integers(0, 4))
                walls.append(wall(k, *((s, s + rng.uniform(0.5, 4)) for s in starts)))
            told += seam_of(*walls) is not None
        assert told / 400 <= 0.145


class TestRecurring:
    @given(st.floats(0, 30), st.floats(1.5, 8))
    @settings(max_examples=30)
    def test_beside_and_not_beside(self, start: float, length: float) -> None:
        """A gap of the next wall at the same place recurs, one on the opposite side of the square does not."""
        shorter = wall(1).length_mm / wall(0).length_mm
        inner = (start * shorter, (start + length) * shorter), (start + 22, start + 22.8)
        walls = [wall(0, (start, start + length)), wall(1, *inner)]
        found = recurring(walls, square(0), WIDTH_MM, MM_PER_PX)
        assert found[0, 0] == (1,)
        assert found[1, 0] == (0,)
        if length < 6:
            assert found[1, 1] == ()


class TestPath:
    @given(st.floats(0, 47), st.floats(0.3, 20), st.integers(0, 3))
    @settings(max_examples=30)
    def test_follows_the_wall(self, start: float, length: float, index: int) -> None:
        """The course goes from end to end in the outline's order, a tenth of a road from the wall at most."""
        depth = (index + 0.5) * WIDTH_MM / MM_PER_PX
        path = gap_path(square(0), on(depth, start), on(depth, start + length))
        assert path[0] == pytest.approx(on(depth, start))
        assert path[-1] == pytest.approx(on(depth, start + length))
        truth = np.array([on(depth, start + length * share) for share in np.linspace(0, 1, 3000)])
        far, _ = cKDTree(truth).query(path)
        assert far.max() <= 0.1 * WIDTH_MM / MM_PER_PX
        gone = np.hypot(*np.diff(path, axis=0).T).sum() * MM_PER_PX
        assert gone == pytest.approx(length, abs=0.6 * WIDTH_MM)

    def test_of_a_hole(self) -> None:
        """Around a hole the wall lies outside the ring."""
        path = gap_path(square(0), on(-40, 1.0), on(-40, 3.0), is_hole=True)
        assert np.abs(path - 700).max(1) == pytest.approx(np.full(len(path), HALF_PX + 40), abs=2)
