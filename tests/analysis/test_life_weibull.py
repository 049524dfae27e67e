"""Weibull fits, exponential fits and median ranks, against handbook tables and scipy."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.stats import CensoredData, weibull_min

from analysis.life.ages import Ages, AgesRefused
from analysis.life.ranks import adjusted_ranks, median_ranks, rank_regression
from analysis.life.rate import mean_life_limits
from analysis.life.weibull import Weibull, ageing, fit_weibull, log_limits, normal_limits

# NIST/SEMATECH e-Handbook, 8.4.1.3: ten of twenty units failed before 500 hours.
NIST_FAILED = [54, 187, 216, 240, 244, 335, 361, 373, 375, 386]
NIST = Ages.of(NIST_FAILED, [500] * 10)
# Journal of Quality Technology 29 (1997), doi 10.1080/00224065.1997.11979730.
JQT = Ages.of([45, 46, 34, 45, 32, 24, 58, 79, 56, 63, 34, 50], [23, 24, 57, 78, 76, 85, 51, 59])
# Abernethy, The New Weibull Handbook: appendix C.5, and figure 2-5.
ABERNETHY_C5 = Ages.of([1500, 7000, 2250, 4000, 4300], [1750, 5000])
ABERNETHY_25 = Ages.of([30, 49, 82, 90, 96], [10, 45, 100])
# Meeker and Escobar, Statistical Methods for Reliability Data, page 166.
EXPONENTIAL = Ages.of([16, 34, 53, 75, 93, 120], [200] * 4)
# The same book, example 7.1: alpha particles, 200 of them between counts at set times.
COUNTS = {
    (0, 100): 41, (100, 300): 44, (300, 500): 24, (500, 700): 32, (700, 1000): 29, (1000, 2000): 21, (2000, 4000): 9,
}  # fmt: skip
BETWEEN = [looks for looks, count in COUNTS.items() for _ in range(count)]

samples = st.lists(st.tuples(st.floats(0.5, 500), st.booleans()), min_size=4, max_size=30).map(
    lambda rows: Ages.each([at for at, _ in rows], [ended for _, ended in rows])
)


def fitted(ages: Ages | None, **more: object) -> Weibull:
    """Fit a sample that has a fit."""
    found = fit_weibull(ages, **more)  # type: ignore[arg-type]
    assert found is not None
    return found


class TestWeibull:
    def test_the_handbook_s_ten_failures_of_twenty(self) -> None:
        """NIST/SEMATECH e-Handbook 8.4.1.3: 1.7207 and 606.5280 there, 1.7208 and 606.5275 by R's survreg."""
        fit = fitted(NIST)

        assert (fit.shape, fit.scale) == (pytest.approx(1.7208, abs=1e-4), pytest.approx(606.5275, abs=1e-3))
        assert fit.log_likelihood == pytest.approx(-75.13462, abs=5e-6)
        assert (fit.shape_se, fit.scale_se) == (pytest.approx(0.50215, abs=5e-6), pytest.approx(124.911, abs=5e-4))
        assert fit.age_at(0.1) == pytest.approx(164.02, abs=5e-3)
        assert fit.mean == pytest.approx(540.74, abs=5e-3)
        assert fit.share_at(100) == pytest.approx(0.95603, abs=5e-6)

    def test_a_mistyped_age_shows(self) -> None:
        """The same with 55 for 54, a slip that goes about: 1.72563 and 606.005 by R's survreg."""
        fit = fitted(Ages.of([55, *NIST_FAILED[1:]], [500] * 10))

        assert (fit.shape, fit.scale) == (pytest.approx(1.72563, abs=5e-6), pytest.approx(606.005, abs=5e-4))

    def test_ten_failures_don_t_tell_ageing_from_chance(self) -> None:
        """The handbook's sample under shape 1: mean 777.1, and a likelihood ratio of 2.842, p 0.092 (R's survreg)."""
        fit, unaged = fitted(NIST), fitted(NIST, shape=1.0)
        said = ageing(fit, unaged)

        assert unaged.scale == pytest.approx(777.1, abs=1e-9)
        assert unaged.log_likelihood == pytest.approx(-76.55569, abs=5e-6)
        assert said.chi2 == pytest.approx(2.84214, abs=5e-6)
        assert said.p == pytest.approx(0.092, abs=5e-4)
        low, high = fit.shape_limits()
        assert low < 1 < high

    def test_twelve_failures_with_normal_limits(self) -> None:
        """Journal of Quality Technology 1997: 2.7540 (1.4977 to 4.0102) and 67.9188 (53.8755 to 81.9622)."""
        fit = fitted(JQT)

        assert (fit.shape, fit.scale) == (pytest.approx(2.7540, abs=5e-5), pytest.approx(67.9188, abs=5e-5))
        assert (fit.shape_se, fit.scale_se) == (pytest.approx(0.64094, abs=5e-6), pytest.approx(7.16512, abs=5e-6))
        assert normal_limits(fit.shape, fit.shape_se) == pytest.approx((1.4977, 4.0102), abs=1e-4)
        assert normal_limits(fit.scale, fit.scale_se) == pytest.approx((53.8755, 81.9622), abs=1e-4)

    def test_five_failures_of_seven(self) -> None:
        """Abernethy, The New Weibull Handbook, appendix C.5: 2.257 and 4900.1."""
        fit = fitted(ABERNETHY_C5)

        assert (fit.shape, fit.scale) == (pytest.approx(2.257, abs=5e-4), pytest.approx(4900.1, abs=0.05))

    def test_eight_failures_of_ten(self) -> None:
        """Abernethy's 3.0 and 8200 were drawn by hand, so that the fit need only lie near: 3.4176 / 8158.7 by R."""
        fit = fitted(Ages.of([3300, 4500, 5200, 6300, 8000, 8400, 9100, 11100], [5000, 7200]))

        assert (fit.shape, fit.scale) == (pytest.approx(3.0, rel=0.15), pytest.approx(8200, rel=0.02))
        assert (fit.shape, fit.scale) == (pytest.approx(3.4176, abs=5e-5), pytest.approx(8158.7, abs=0.05))

    @given(samples)
    @settings(max_examples=60, deadline=None)
    def test_no_neighbour_is_likelier(self, ages: Ages) -> None:
        """The slow obvious check, on scipy's own density: a step in shape or scale makes the sample less likely."""
        fit = fit_weibull(ages)
        assume(fit is not None)
        assert fit

        def likely(shape: float, scale: float) -> float:
            model = weibull_min(shape, scale=scale)
            return float(model.logpdf(ages.reached[ages.failed]).sum() + model.logsf(ages.reached[~ages.failed]).sum())

        assert fit.log_likelihood == pytest.approx(likely(fit.shape, fit.scale), rel=1e-6, abs=1e-6)
        for shape, scale in ((1.001, 1), (0.999, 1), (1, 1.001), (1, 0.999), (1.001, 1.001), (0.999, 0.999)):
            assert likely(fit.shape * shape, fit.scale * scale) <= fit.log_likelihood + 1e-7 * abs(fit.log_likelihood)

    @pytest.mark.parametrize("ages", [NIST, JQT, ABERNETHY_C5, ABERNETHY_25])
    def test_scipy_fits_the_same(self, ages: Ages) -> None:
        """scipy.stats.weibull_min.fit on the published samples, to the accuracy of its search."""
        fit = fitted(ages)
        shape, _, scale = weibull_min.fit(CensoredData.right_censored(ages.reached, ~ages.failed), floc=0)

        assert (fit.shape, fit.scale) == (pytest.approx(shape, rel=2e-4), pytest.approx(scale, rel=2e-4))

    @given(samples, st.floats(0.01, 100))
    @settings(max_examples=40, deadline=None)
    def test_another_unit_of_age_leaves_the_shape(self, ages: Ages, factor: float) -> None:
        """Days or weeks: the same shape and limits, the scale stretched."""
        one = fit_weibull(ages)
        assume(one is not None and one.shape < 200)
        assert one
        other = fitted(Ages(ages.reached * factor, ages.failed))

        assert (other.shape, other.scale) == (pytest.approx(one.shape, rel=1e-6), pytest.approx(one.scale * factor))
        assert other.shape_limits() == pytest.approx(one.shape_limits(), rel=1e-4)
        assert other.scale_limits() == pytest.approx([factor * limit for limit in one.scale_limits()], rel=1e-4)

    def test_close_looks_say_what_exact_ages_say(self) -> None:
        """Failures each found between two looks a thousandth of a day apart: the same fit, the same errors."""
        exact = fitted(NIST)
        seen = fitted(Ages.of([], [500] * 10), between=[(at - 5e-4, at + 5e-4) for at in NIST_FAILED])

        assert (seen.shape, seen.scale) == (pytest.approx(exact.shape, rel=1e-5), pytest.approx(exact.scale, rel=1e-5))
        assert (seen.shape_se, seen.scale_se) == (
            pytest.approx(exact.shape_se, rel=1e-3),
            pytest.approx(exact.scale_se, rel=1e-3),
        )

    def test_limits_hold_the_truth_as_often_as_they_say(self) -> None:
        """On 150 seeded samples of twenty units, half censored, the 95 % limits miss about one in twenty."""
        rng, held = np.random.default_rng(5), {"shape": 0, "scale": 0}
        for _ in range(150):
            drawn = 100 * rng.weibull(2.0, 20)
            until = 100 * math.log(2) ** 0.5
            fit = fitted(Ages(np.minimum(drawn, until), drawn < until))
            held["shape"] += fit.shape_limits()[0] <= 2 <= fit.shape_limits()[1]
            held["scale"] += fit.scale_limits()[0] <= 100 <= fit.scale_limits()[1]

        # By the chi-square approximation; with ten failures it comes out a little short (tolerance: judgement).
        assert all(0.9 <= count / 150 <= 0.985 for count in held.values()), held

    @pytest.mark.parametrize("ages", [Ages.of([], [3, 9]), Ages.of([7, 7]), Ages.of([7], [3])])
    def test_samples_without_a_fit(self, ages: Ages) -> None:
        """No failure, or all at one age that no unit passed: the steeper the likelier, so nothing is best."""
        assert fit_weibull(ages) is None

    def test_one_failure_that_others_passed_has_a_fit(self) -> None:
        """It is next to worthless, and its limits say so."""
        low, high = fitted(Ages.of([7], [9])).shape_limits()

        assert low < 0.5
        assert high > 5


class TestExponential:
    def test_right_censored(self) -> None:
        """Meeker and Escobar, page 166: 1191 / 6 = 198.5, variance 6567.04; limits 91.2 to 540.9 by chi-square."""
        fit = fitted(EXPONENTIAL, shape=1.0)

        assert fit.scale == pytest.approx(198.5, abs=1e-9)
        assert fit.scale_se**2 == pytest.approx(6567.04, abs=0.01)
        assert fit.shape_se == 0
        assert mean_life_limits(EXPONENTIAL) == pytest.approx((91.20, 540.90), abs=5e-3)

    def test_counted_between_set_times(self) -> None:
        """Meeker and Escobar, example 7.1: 572.27, error 41.72; 498 to 662 by likelihood, 496 to 660 by logarithm."""
        fit = fitted(None, between=BETWEEN, shape=1.0)

        assert len(BETWEEN) == 200
        assert (fit.scale, fit.scale_se) == (pytest.approx(572.27, abs=5e-3), pytest.approx(41.72, abs=5e-3))
        assert fit.scale_limits() == pytest.approx((497.58, 662.26), abs=5e-3)
        assert log_limits(fit.scale, fit.scale_se) == pytest.approx((496.08, 660.17), abs=1e-2)

    def test_without_failures_there_is_only_a_lower_limit(self) -> None:
        """The rule of three: with none in time T, the mean is above T / 3 (95 %, one-sided; -ln 0.05 = 2.9957)."""
        low, high = mean_life_limits(Ages.of([], [100, 200]))

        assert low == pytest.approx(300 / 2.9957, rel=1e-4)
        assert high is None

    def test_looks_in_the_wrong_order_are_refused(self) -> None:
        """A second look before the first is a slip."""
        with pytest.raises(AgesRefused):
            fit_weibull(None, between=[(5, 3)])


class TestRanks:
    def test_regression_with_suspensions(self) -> None:
        """Abernethy, figure 2-5: ranks 1.125 to 6.375, and 2.024 / 94.998 by X on Y through Benard's ranks."""
        at, ranks = adjusted_ranks(ABERNETHY_25)
        line = rank_regression(ABERNETHY_25)

        assert at.tolist() == [30, 49, 82, 90, 96]
        assert ranks.tolist() == [1.125, 2.4375, 3.75, 5.0625, 6.375]
        assert median_ranks(ranks, 8).round(4).tolist() == [0.0982, 0.2545, 0.4107, 0.5670, 0.7232]
        assert (line.shape, line.scale) == (pytest.approx(2.024, abs=5e-4), pytest.approx(94.998, abs=5e-4))

    @pytest.mark.parametrize(
        ("more", "shape", "scale"), [({"regress": "y on x"}, 1.9294, 96.889), ({"method": "exact"}, 2.0327, 94.931)]
    )
    def test_the_other_ways_of_drawing_the_line(self, more: dict[str, str], shape: float, scale: float) -> None:
        """Abernethy's sample by Y on X and with exact ranks; reckoned separately beside the printed value."""
        line = rank_regression(ABERNETHY_25, **more)  # type: ignore[arg-type]

        assert (line.shape, line.scale) == (pytest.approx(shape, abs=5e-5), pytest.approx(scale, abs=5e-4))

    def test_likelihood_and_line_differ_on_few_failures(self) -> None:
        """The same five failures by maximum likelihood: 3.0170 and 87.956 (R's survreg)."""
        fit = fitted(ABERNETHY_25)

        assert (fit.shape, fit.scale) == (pytest.approx(3.0170, abs=5e-5), pytest.approx(87.956, abs=5e-4))

    @pytest.mark.parametrize(
        ("n", "exact", "benard"),
        [
            (5, [0.1294, 0.3138, 0.5, 0.6862, 0.8706], [0.1296, 0.3148, 0.5, 0.6852, 0.8704]),
            (
                10,
                [0.0670, 0.1623, 0.2586, 0.3551, 0.4517, 0.5483, 0.6449, 0.7414, 0.8377, 0.9330],
                [0.0673, 0.1635, 0.2596, 0.3558, 0.4519, 0.5481, 0.6442, 0.7404, 0.8365, 0.9327],
            ),
        ],
    )
    def test_tables_of_median_ranks(self, n: int, exact: list[float], benard: list[float]) -> None:
        """Median ranks of 5 and of 10 by the beta distribution, and Benard's (i - 0.3) / (n + 0.4), 4 decimals."""
        ranks = np.arange(1.0, n + 1)

        assert median_ranks(ranks, n, "exact") == pytest.approx(exact, abs=5.1e-5)
        assert median_ranks(ranks, n) == pytest.approx(benard, abs=5.1e-5)

    def test_a_line_through_one_age_is_refused(self) -> None:
        """Two points make a line."""
        with pytest.raises(AgesRefused):
            rank_regression(Ages.of([4, 4], [9]))
