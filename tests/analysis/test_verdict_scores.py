"""Scores of stated probabilities against worked examples."""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analysis.evidence.scores import (
    bootstrap_interval,
    brier_sum,
    calibration_bins,
    calibration_error,
    log_score,
    murphy_parts,
)

STATED = (0.9, 0.8, 0.7, 0.6, 0.4, 0.3, 0.2, 0.1, 0.9, 0.6)
CAME_TRUE = (True, True, True, False, True, False, False, False, True, False)
FOUR = ((0.7, 0.2, 0.05, 0.05), (0.1, 0.6, 0.2, 0.1), (0.25,) * 4, (0.05, 0.05, 0.1, 0.8))
TRUTH = (0, 1, 2, 0)


def as_rows(stated: tuple[float, ...]) -> list[tuple[float, float]]:
    """Yes/no forecasts as two classes, "no" first."""
    return [(1 - f, f) for f in stated]


class TestYesNo:
    """Ten forecasts worked by hand: BS 0.137, log score 0.422459, REL 0.137, RES 0.25, UNC 0.25."""

    def test_brier_and_log_score(self) -> None:
        """The two-class sum form is twice the mean of (f - o)²."""
        truth = [int(o) for o in CAME_TRUE]
        assert brier_sum(as_rows(STATED), truth) / 2 == pytest.approx(0.137)
        assert log_score(as_rows(STATED), truth) == pytest.approx(0.422459, abs=5e-7)
        assert log_score(as_rows(STATED), truth) / math.log(2) == pytest.approx(0.609480, abs=5e-7)

    def test_murphy(self) -> None:
        """Reliability, resolution and uncertainty by distinct forecast, which add up to the score (Murphy 1973)."""
        assert murphy_parts(STATED, CAME_TRUE) == pytest.approx((0.137, 0.25, 0.25))

    def test_always_one_half(self) -> None:
        """Always saying 0.5 scores 0.25 and ln 2, whatever happens."""
        half = as_rows((0.5,) * 10)
        truth = [int(o) for o in CAME_TRUE]
        assert brier_sum(half, truth) / 2 == pytest.approx(0.25)
        assert log_score(half, truth) == pytest.approx(0.693147, abs=5e-7)

    @given(st.lists(st.tuples(st.sampled_from([0.0, 0.2, 0.5, 0.9, 1.0]), st.booleans()), min_size=1, max_size=30))
    def test_murphys_identity(self, cases: list[tuple[float, bool]]) -> None:
        """BS = REL - RES + UNC for any forecasts, grouped by distinct value."""
        stated, came_true = [f for f, _ in cases], [o for _, o in cases]
        reliability, resolution, uncertainty = murphy_parts(stated, came_true)
        score = sum((f - o) ** 2 for f, o in cases) / len(cases)
        assert score == pytest.approx(reliability - resolution + uncertainty)


class TestCalibration:
    def test_worked_bins(self) -> None:
        """Five equal bins closed on the right (Guo et al. 2017): ECE 0.25, greatest 0.60; 0.6 falls in (0.4, 0.6]."""
        found = calibration_bins(STATED, CAME_TRUE)
        told = [(b.count, round(b.stated, 6), b.came_true) for b in found]
        assert told == [(2, 0.15, 0.0), (2, 0.35, 0.5), (2, 0.6, 0.0), (2, 0.75, 1.0), (2, 0.9, 1.0)]
        assert calibration_error(STATED, CAME_TRUE) == pytest.approx((0.25, 0.60))

    @pytest.mark.parametrize("edge", [0.2, 0.4, 0.6, 0.8, 1.0, 0.1 + 0.2 + 0.3])
    def test_an_edge_belongs_to_the_bin_below(self, edge: float) -> None:
        """A statement on an edge shares its bin with the one just below it and not with the one above."""
        assert len(calibration_bins([edge, edge - 0.01], [True, True])) == 1
        if edge < 0.99:
            assert len(calibration_bins([edge, edge + 0.01], [True, True])) == 2

    def test_nought_falls_in_the_first_bin(self) -> None:
        """A statement of 0 is not lost."""
        assert calibration_bins([0.0, 0.2], [False, False])[0].count == 2


class TestBinsAndMurphy:
    def test_binning_needs_two_further_terms(self) -> None:
        """Stephenson et al. 2008: binned, REL - RES + UNC misses the score by the spread within bins less twice the
        covariance within bins; with both terms the identity holds.
        """
        f, o = np.array(STATED), np.array(CAME_TRUE, float)
        found = calibration_bins(STATED, CAME_TRUE)
        counts = np.array([b.count for b in found])
        stated, came = np.array([b.stated for b in found]), np.array([b.came_true for b in found])
        bin_of = np.array([np.abs(stated - v).argmin() for v in f])
        three = (counts * ((stated - came) ** 2 - (came - o.mean()) ** 2)).sum() / 10 + o.mean() * (1 - o.mean())
        spread = ((f - stated[bin_of]) ** 2).mean()
        covariance = ((f - stated[bin_of]) * (o - came[bin_of])).mean()
        assert counts.tolist() == np.bincount(bin_of).tolist()
        assert abs(three - 0.137) > 0.005
        assert three + spread - 2 * covariance == pytest.approx(0.137)


def mean_of(cases: Sequence[float]) -> float | None:
    """The plainest score."""
    return sum(cases) / len(cases)


class TestBootstrap:
    """The interval of a score by resampling cases (Efron 1979), against distributions that are known."""

    @pytest.mark.parametrize(("right", "count"), [(31, 36), (18, 36), (80, 100)])
    def test_a_share_is_resampled_as_a_binomial(self, right: int, count: int) -> None:
        """The resampled share of k right among n is exactly Binomial(n, k/n)/n: its 5 % and 95 % points."""
        found = bootstrap_interval([1.0] * right + [0.0] * (count - right), mean_of, draws=4000)
        ends = stats.binom.ppf([0.05, 0.95], count, right / count) / count
        assert found == pytest.approx(tuple(ends), abs=1.01 / count)

    def test_a_mean_of_many_normals(self) -> None:
        """For 400 normal values: mean ± 1.6449 standard errors."""
        values = np.random.default_rng(3).normal(5, 2, 400)
        found = bootstrap_interval(list(values), mean_of, draws=4000)
        half = 1.6449 * values.std() / 20
        assert found == pytest.approx((values.mean() - half, values.mean() + half), abs=0.1 * half)

    def test_it_holds_the_truth_about_as_often_as_it_says(self) -> None:
        """Of 300 samples of 60 cases, each right with probability 0.7, about 90 % of the intervals hold 0.7."""
        rng = np.random.default_rng(4)
        held = 0
        for sample in (rng.random((300, 60)) < 0.7).astype(float):
            found = bootstrap_interval(sample.tolist(), mean_of, draws=200)
            assert found is not None
            held += found[0] <= 0.7 <= found[1]
        assert 0.84 <= held / 300 <= 0.95

    def test_a_score_that_most_draws_lack_has_no_interval(self) -> None:
        """None, not an interval of the draws that happened to have it; nor one of a single case."""
        assert bootstrap_interval([1.0] + [0.0] * 9, lambda c: 1.0 if sum(c) > 1 else None) is None
        assert bootstrap_interval([1.0], mean_of) is None

    def test_the_same_seed_gives_the_same_interval(self) -> None:
        """A printed table can be printed again."""
        cases = [0.1, 0.4, 0.9, 0.3]
        assert bootstrap_interval(cases, mean_of) == bootstrap_interval(cases, mean_of)


class TestFourModes:
    def test_worked_rows(self) -> None:
        """Four cases by hand: .135, .22, .75, 1.555, mean 0.665; log score 1.312382 nat."""
        single = [brier_sum([row], [t]) for row, t in zip(FOUR, TRUTH, strict=True)]
        assert single == pytest.approx([0.135, 0.22, 0.75, 1.555])
        assert brier_sum(FOUR, TRUTH) == pytest.approx(0.665)
        assert log_score(FOUR, TRUTH) == pytest.approx(1.312382, abs=5e-7)

    def test_guessing_evenly(self) -> None:
        """Four even modes: 0.75 and ln 4."""
        assert brier_sum([(0.25,) * 4], [2]) == pytest.approx(0.75)
        assert log_score([(0.25,) * 4], [2]) == pytest.approx(1.386294, abs=5e-7)

    def test_a_truth_called_impossible_costs_everything(self) -> None:
        """Zero given to what happened scores infinity."""
        assert log_score([(1.0, 0.0)], [1]) == math.inf

    def test_rows_that_do_not_sum_to_one_are_refused(self) -> None:
        """Numbers that are no probabilities have no score."""
        with pytest.raises(ValueError, match="sum to 1"):
            brier_sum([(0.5, 0.6)], [0])
