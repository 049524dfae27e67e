"""Statistics of torn bars against published tables and worked examples."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.materials.coupons import evaluate, grubbs_limit, one_sided_k, section_warning


class TestPublished:
    @pytest.mark.parametrize(
        ("count", "coverage", "confidence", "k", "digits"),
        [
            # 50: read in an account of the US NRC's table of factors (ML14031A495, p. 47).
            (50, 0.95, 0.95, 2.065, 3),
            # The others from memory of ISO 16269-6 and Owen's tables; 43: NIST e-Handbook 7.2.6.3, 1.8740.
            (3, 0.95, 0.95, 7.656, 3),
            (5, 0.95, 0.95, 4.203, 3),
            (10, 0.95, 0.95, 2.911, 3),
            (10, 0.90, 0.95, 2.355, 3),
            (43, 0.90, 0.99, 1.8740, 4),
        ],
    )
    def test_tolerance_factor(self, count: int, coverage: float, confidence: float, k: float, digits: int) -> None:
        """One-sided factors of published tables."""
        assert round(one_sided_k(count, coverage, confidence), digits) == k

    @pytest.mark.parametrize(
        ("count", "limit"), [(4, 1.48), (5, 1.71), (6, 1.89), (7, 2.02), (8, 2.13), (9, 2.21), (10, 2.29)]
    )
    def test_grubbs_table(self, count: int, limit: float) -> None:
        """Table after DIN 32645 / DIN 38402 (Grubbs 1950, 1969), column 0.025 a side, read in a copy: two figures."""
        assert grubbs_limit(count) == pytest.approx(limit, abs=0.006)

    def test_grubbs_example(self) -> None:
        """NIST e-Handbook 1.3.5.17.1 (mass spectrometer, from memory): G = 2.4687 for 245.57, an outlier."""
        made = evaluate([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])

        assert made.grubbs == pytest.approx(2.4687, abs=1e-4)  # printed cut, not rounded
        assert made.outlier == 7


bars = st.lists(st.floats(1, 200), min_size=3, max_size=15)


class TestLaws:
    @given(bars, st.floats(0.1, 10))
    def test_units_only_scale(self, stresses: list[float], factor: float) -> None:
        """In another unit every figure is the same but for the factor."""
        one, other = evaluate(stresses), evaluate([value * factor for value in stresses])

        assert one.span_mpa is not None
        assert other.span_mpa is not None
        assert other.span_mpa[0] == pytest.approx(one.span_mpa[0] * factor, rel=1e-6)
        assert other.k == one.k

    @given(bars)
    def test_the_limit_lies_below_the_mean_and_the_range_around_the_middle(self, stresses: list[float]) -> None:
        """The tolerance limit is never above the mean; the range is never empty nor below 0."""
        made = evaluate(stresses)

        assert made.mean_mpa is not None
        assert made.span_mpa is not None
        assert made.tolerance_mpa is None or 0 < made.tolerance_mpa <= made.mean_mpa
        assert 0 < made.span_mpa[0] < math.exp(sum(map(math.log, stresses)) / len(stresses)) < made.span_mpa[1]

    def test_more_bars_of_the_same_spread_are_surer(self) -> None:
        """Three bars, then the same three thrice over: the limit rises, the range narrows."""
        few, many = evaluate([20, 22, 24]), evaluate([20, 22, 24] * 3)

        assert few.tolerance_mpa is not None
        assert many.tolerance_mpa is not None
        assert many.tolerance_mpa > few.tolerance_mpa
        assert few.span_mpa is not None
        assert many.span_mpa is not None
        assert many.span_mpa[0] > few.span_mpa[0]


class TestFewOrOdd:
    @pytest.mark.parametrize("stresses", [[], [20.0], [20.0, 21.0]])
    def test_fewer_than_three_bars_give_no_limit(self, stresses: list[float]) -> None:
        """Too few bars: None with the reason, never a made-up spread."""
        made = evaluate(stresses)

        assert made.tolerance_mpa is None
        assert made.span_mpa is None
        assert "at least 3" in made.reason

    def test_equal_bars_are_no_outliers(self) -> None:
        """No spread at all: no outlier, and the range keeps the floor of repeatability."""
        made = evaluate([20.0] * 4)

        assert made.outlier is None
        assert made.span_mpa is not None
        assert made.span_mpa[1] / made.span_mpa[0] > 1.05

    @pytest.mark.parametrize("value", [0.0, -3.0, math.nan, math.inf])
    def test_impossible_stress(self, value: float) -> None:
        """What can't be a strength is the caller's mistake."""
        with pytest.raises(ValueError, match="above 0"):
            evaluate([20, value, 21])

    def test_section_of_another_bar(self) -> None:
        """A width that isn't the waist of the standard's bar is named; an own geometry isn't judged."""
        assert "ISO 527-2" in section_warning("iso527_1a", 20, 4)
        assert section_warning("iso527_1a", 10.1, 4.1) == ""
        assert section_warning("own", 20, 4) == ""
