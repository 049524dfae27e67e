"""Point counting against ASTM E562 and the intervals it leads to."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analysis.measures.pointcount import (
    PointCountRefused,
    field_hits,
    fields_needed,
    fields_still_needed,
    grid_points,
    point_count,
    t_multiplier,
    wilson_interval,
)

WORKED_HITS = (7, 5, 8, 6.5, 9, 4, 7.5, 6, 8, 5)

hit_lists = st.lists(st.integers(0, 50).map(lambda half: half / 2), min_size=2, max_size=40)


# E562 table 3 from memory; columns are grids of 16, 25, 49 and 100 points. The table rounds its cells, so the
# formula is held to it within 5 fields.
PLANNING_TABLE = {
    (0.10, 0.02): (1250, 800, 410, 200), (0.10, 0.05): (500, 320, 165, 80), (0.10, 0.10): (250, 160, 85, 40),
    (0.10, 0.20): (125, 80, 40, 20), (0.20, 0.02): (310, 200, 105, 50), (0.20, 0.05): (125, 80, 40, 20),
    (0.20, 0.10): (65, 40, 20, 10), (0.20, 0.20): (30, 20, 10, 5), (0.33, 0.02): (110, 75, 35, 20),
    (0.33, 0.05): (50, 30, 15, 10), (0.33, 0.10): (25, 15, 10, 5), (0.33, 0.20): (15, 10, 5, 4),
}  # fmt: skip


class TestWorkedExample:
    """Formulas of ASTM E562 section 10 (from memory), worked by hand and with scipy; P_T = 25, ten fields."""

    def test_mean_spread_interval_and_accuracy(self) -> None:
        """Ten fields give mean 26.40 %, s 6.3805 %, half-width 4.5644 % and relative accuracy 17.289 %."""
        result = point_count(WORKED_HITS, 25)
        assert result.mean == pytest.approx(0.2640, abs=5e-7)
        assert result.sd == pytest.approx(0.063805, abs=5e-7)
        assert result.half_width == pytest.approx(0.045644, abs=5e-7)
        assert result.relative_accuracy == pytest.approx(0.17289, abs=5e-6)

    def test_boundary_points_count_one_half(self) -> None:
        """Six points inside and one on the boundary are 6.5 hits (E562)."""
        assert field_hits(6, 1) == 6.5

    def test_table_has_a_row_for_each_field(self) -> None:
        """The table shows every field with its own share."""
        rows = point_count(WORKED_HITS, 25).table()
        assert len(rows) == 10
        assert rows[3] == {"field": 4, "hits": 6.5, "points": 25, "share": 0.26}


class TestMultipliers:
    @pytest.mark.parametrize(
        ("fields", "t"),
        [
            (5, 2.776), (6, 2.571), (7, 2.447), (8, 2.365), (9, 2.306), (10, 2.262), (12, 2.201), (15, 2.145),
            (16, 2.131), (20, 2.093), (25, 2.064), (30, 2.045), (40, 2.023), (60, 2.001),
        ],
    )  # fmt: skip
    def test_printed_t_values(self, fields: int, t: float) -> None:
        """Student's t, n - 1 degrees of freedom (t table, Univ. of Southampton; E562 table 1 prints 2.020 for 40)."""
        assert t_multiplier(fields) == pytest.approx(t, abs=5.1e-4)

    def test_many_fields_reach_the_normal(self) -> None:
        """Without end the multiplier becomes 1.960."""
        assert t_multiplier(10**6) == pytest.approx(1.960, abs=5e-4)


class TestPlanning:
    @pytest.mark.parametrize("key", PLANNING_TABLE)
    def test_short_form_gives_the_planning_table(self, key: tuple[float, float]) -> None:
        """Fields needed by n = 4 / (E² V P_T) agree with E562 table 3 within its rounding."""
        accuracy, share = key
        planned = [fields_needed(share, points, accuracy) for points in (16, 25, 49, 100)]
        assert planned == pytest.approx(PLANNING_TABLE[key], abs=5)

    def test_binomial_form_asks_for_fewer(self) -> None:
        """At 20 %, 16 points and 10 % accuracy: 125 fields by the table, 100 by Hilliard and Cahn (from memory)."""
        assert fields_needed(0.20, 16, 0.10) == 125
        assert fields_needed(0.20, 16, 0.10, binomial=True) == 100

    @pytest.mark.parametrize(
        ("share", "points"), [(0.03, 100), (0.07, 49), (0.15, 25), (0.35, 16), (0.65, 16), (0.97, 100)]
    )
    def test_grid_follows_the_scarcer_phase(self, share: float, points: int) -> None:
        """Grid by estimated share, over one half by what is left (E562 table 2, from memory)."""
        assert grid_points(share) == points

    def test_half_the_accuracy_needs_four_times_the_fields(self) -> None:
        """Thirty fields become 120 when the relative accuracy is to be halved (E562 section 11)."""
        result = point_count([5, 6, 7] * 10, 25)
        assert result.relative_accuracy is not None
        assert fields_still_needed(result, result.relative_accuracy / 2) == 90

    def test_nothing_more_is_needed_when_the_accuracy_is_reached(self) -> None:
        """A wanted accuracy that is met already asks for no further field."""
        assert fields_still_needed(point_count(WORKED_HITS, 25), 0.20) == 0


class TestWilson:
    @pytest.mark.parametrize(
        ("hits", "points", "low", "high"),
        [
            (81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718),
            (23, 60, 0.2709, 0.5098), (5, 10, 0.2366, 0.7634), (10, 10, 0.7225, 1.0),
        ],
    )  # fmt: skip
    def test_newcombes_intervals(self, hits: int, points: int, low: float, high: float) -> None:
        """Newcombe 1998 table I (digits from memory, recomputed) and vassarstats.net for 23 of 60."""
        assert wilson_interval(hits, points) == pytest.approx((low, high), abs=6e-5)


class TestRefusals:
    @pytest.mark.parametrize(
        ("hits", "points", "words"),
        [((), 25, "no field"), ((3, 26), 25, "field 2"), ((3, -1), 25, "field 2"), ((3, 2.3), 25, "one half"),
         ((3, 2), 0, "at least one point"), ((3, math.nan), 25, "field 2")],
    )  # fmt: skip
    def test_an_impossible_count_is_refused_by_field(self, hits: tuple[float, ...], points: int, words: str) -> None:
        """The message names the field and what is wrong with it."""
        with pytest.raises(PointCountRefused, match=words):
            point_count(hits, points)

    def test_one_field_gives_no_interval_and_says_why(self) -> None:
        """A single field has a mean, and null with a reason for the rest."""
        result = point_count([6], 25)
        assert (result.sd, result.half_width, result.interval, result.relative_accuracy) == (None,) * 4
        assert "one field" in str(result.reason)
        assert fields_still_needed(result, 0.1) is None

    def test_no_hit_at_all_gives_no_relative_accuracy(self) -> None:
        """A mean of 0 has no relative accuracy; it is null with its reason, not infinite."""
        result = point_count([0, 0, 0], 25)
        assert result.relative_accuracy is None
        assert "no point hit" in str(result.reason)


class TestLaws:
    @given(hit_lists)
    def test_agrees_with_scipys_interval(self, hits: list[float]) -> None:
        """Mean and half-width are those of scipy's t interval over the fields' shares."""
        result = point_count(hits, 25)
        shares = [hit / 25 for hit in hits]
        error = float(stats.sem(shares))
        assert result.sd is not None
        assert result.half_width is not None
        assert result.half_width == pytest.approx(float(stats.t.ppf(0.975, len(hits) - 1)) * error, abs=1e-12)

    @given(hit_lists)
    def test_the_other_phase_has_the_same_spread(self, hits: list[float]) -> None:
        """Counting the rest of the points gives 1 - mean with the same standard deviation."""
        one, other = point_count(hits, 25), point_count([25 - hit for hit in hits], 25)
        assert other.mean == pytest.approx(1 - one.mean)
        assert other.sd == pytest.approx(one.sd, abs=1e-12)

    @given(hit_lists, st.randoms(use_true_random=False))
    def test_order_of_fields_is_of_no_account(self, hits: list[float], shuffle: object) -> None:
        """Fields may be counted in any order."""
        mixed = list(hits)
        shuffle.shuffle(mixed)  # type: ignore[attr-defined]
        assert point_count(mixed, 25).half_width == pytest.approx(point_count(hits, 25).half_width, abs=1e-12)

    @given(hit_lists)
    def test_interval_holds_the_mean_and_stays_possible(self, hits: list[float]) -> None:
        """0 <= low <= mean <= high <= 1."""
        result = point_count(hits, 25)
        assert result.interval is not None
        assert 0 <= result.interval[0] <= result.mean + 1e-12
        assert result.mean - 1e-12 <= result.interval[1] <= 1
