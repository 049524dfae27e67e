"""Survival curves and the comparison of groups, against published worked examples and scipy."""

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import CensoredData, ecdf, logrank

from analysis.life.ages import Ages, AgesRefused
from analysis.life.curve import Kind, still_watched, survival
from analysis.life.logrank import log_rank, trend

# NIST/SEMATECH e-Handbook, 8.2.1.5: twenty units, four taken out early, ten still working at 200 hours.
HANDBOOK = Ages.of([10, 32, 56, 98, 122, 181], [50, 100, 125, 150, *[200] * 10])
# Weeks in remission, 6-MP against placebo: Freireich et al. 1963; Cox and Oakes, table 4.1.
SIX_MP = Ages.of([6, 6, 6, 7, 10, 13, 16, 22, 23], [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35])
PLACEBO = Ages.of([1, 1, 2, 2, 3, 4, 4, 5, 5, *[8] * 4, 11, 11, 12, 12, 15, 17, 22, 23])
# Days of rats: Klein and Moeschberger, Survival Analysis, example 7.7.
UNTREATED = Ages.of([20, 21, 23, 24, 24, 26, 26, 27, 28, 30])
RADIATED = Ages.of([26, 28, 29, 29, 30, 30, 31, 31, 32], [35])
RADIATED_MORE = Ages.of([31, 32, 34, 35, 36, 38, 38, 39], [42, 42])

ages = st.lists(st.tuples(st.integers(1, 30), st.booleans()), min_size=1, max_size=40).map(
    lambda rows: Ages.each([float(at) for at, _ in rows], [ended for _, ended in rows])
)


class TestCurve:
    def test_the_handbook_s_twenty_units(self) -> None:
        """NIST/SEMATECH e-Handbook 8.2.1.5: the product of 19/20, 18/19, 16/17, 15/16, 13/14 and 10/11."""
        curve = survival(HANDBOOK)

        assert curve.at_risk.tolist() == [20, 19, 17, 16, 14, 11]
        product = np.cumprod([19 / 20, 18 / 19, 16 / 17, 15 / 16, 13 / 14, 10 / 11])
        assert curve.share == pytest.approx(product, rel=1e-12)
        assert curve.share.round(4).tolist() == [0.95, 0.90, 0.8471, 0.7941, 0.7374, 0.6704]
        # Standard errors and limits at 181 by R's survfit (survival 3), 4 decimals.
        assert curve.se.round(4).tolist() == [0.0487, 0.0671, 0.0814, 0.0919, 0.1014, 0.1121]
        for kind, limits in {"linear": (0.4506, 0.8901), "log-log": (0.4034, 0.8385)}.items():
            low, high = curve.limits(kind)  # type: ignore[arg-type]
            assert (low[-1], high[-1]) == pytest.approx(limits, abs=1e-4)  # 0.89015 stands there as 0.8901

    def test_remission_under_6_mp(self) -> None:
        """Klein and Moeschberger, table 4.1B: shares and Greenwood errors at the seven ages of failure."""
        curve = survival(SIX_MP)

        assert curve.at.tolist() == [6, 7, 10, 13, 16, 22, 23]
        assert curve.share.round(4).tolist() == [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482]
        assert curve.se.round(4).tolist() == [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346]
        assert curve.median == 23

    @pytest.mark.parametrize(
        ("kind", "low", "high"),
        [
            (
                "log",
                [0.7198171, 0.6531242, 0.5859190, 0.5096131, 0.4393939, 0.3370366, 0.2487882],
                [1, 0.9964437, 0.9675748, 0.9347692, 0.8959949, 0.8582008, 0.8073720],
            ),
            (
                "log-log",
                [0.6197180, 0.5631466, 0.5031995, 0.4316102, 0.3675109, 0.2677789, 0.1880520],
                [0.9515517, 0.9228090, 0.8893618, 0.8490660, 0.8049122, 0.7467907, 0.6801426],
            ),
            (
                "linear",
                [0.7074793, 0.6363327, 0.5640993, 0.4808431, 0.4039095, 0.2864816, 0.1843849],
                [1, 0.9771127, 0.9417830, 0.8995491, 0.8509924, 0.7891487, 0.7119737],
            ),
        ],
    )
    def test_limits_of_three_kinds(self, kind: Kind, low: list[float], high: list[float]) -> None:
        """The 6-MP arm in R, survfit(conf.type = "log", "log-log", "plain"), to the seven digits that it prints."""
        lower, upper = survival(SIX_MP).limits(kind)

        assert lower == pytest.approx(low, abs=6e-8)
        assert upper == pytest.approx(high, abs=6e-8)

    def test_remission_under_placebo_ends_at_0(self) -> None:
        """Kleinbaum and Klein, Survival Analysis, page 53: nobody was censored, so shares are plain counts."""
        curve = survival(PLACEBO)

        left = [19, 17, 16, 14, 12, 8, 6, 4, 3, 2, 1, 0]
        assert curve.share == pytest.approx([n / 21 for n in left], abs=1e-12)
        assert np.isnan(curve.se[-1])
        assert np.isnan(curve.limits()[0][-1])

    def test_a_failure_comes_before_a_censoring_at_the_same_age(self) -> None:
        """The rule of NAG's routine g12aac: the unit censored then is still at risk."""
        curve = survival(Ages.of([5], [5]))

        assert (curve.at_risk[0], curve.share[0]) == (2, 0.5)

    def test_nothing_is_said_beyond_the_last_age(self) -> None:
        """Between falls the curve is level; past the oldest unit it is not known, and without a half no median is."""
        curve = survival(HANDBOOK)

        assert curve.share_at(5) == 1
        assert curve.share_at(190) == pytest.approx(0.6704, abs=1e-4)
        assert curve.share_at(201) is None
        assert curve.median is None

    def test_no_failure_at_all_gives_a_level_curve(self) -> None:
        """Units that all last: the curve has no falls."""
        curve = survival(Ages.of([], [3, 9]))

        assert len(curve.at) == 0
        assert curve.share_at(9) == 1

    @given(ages)
    @settings(max_examples=100, deadline=None)
    def test_scipy_says_the_same(self, group: Ages) -> None:
        """scipy.stats.ecdf on any censored sample: same shares, same limits."""
        curve = survival(group)
        alive = curve.share > 0
        with np.errstate(all="ignore"), warnings.catch_warnings(action="ignore"):  # scipy divides by 0 where all failed
            other = ecdf(CensoredData.right_censored(group.reached, ~group.failed)).sf
            limits = other.confidence_interval(method="log-log")

        assert curve.share == pytest.approx(other.evaluate(curve.at), abs=1e-12)
        low, high = curve.limits("log-log")
        assert low[alive] == pytest.approx(limits.low.evaluate(curve.at)[alive], abs=1e-9)
        assert high[alive] == pytest.approx(limits.high.evaluate(curve.at)[alive], abs=1e-9)

    @given(ages, st.floats(0.01, 100))
    def test_another_unit_of_age_changes_only_the_ages(self, group: Ages, factor: float) -> None:
        """Days or weeks: the same curve, stretched."""
        one, other = survival(group), survival(Ages(group.reached * factor, group.failed))

        assert other.share == pytest.approx(one.share, abs=1e-12)
        assert other.at == pytest.approx(one.at * factor)

    @given(ages)
    def test_units_still_watched_are_counted_plainly(self, group: Ages) -> None:
        """The table below a curve holds at each age the units that got there, counted one by one."""
        at = np.array([0.0, 1.0, 7.0, 31.0])

        assert still_watched(group, at) == [sum(reached >= age for reached in group.reached) for age in at]


class TestRefused:
    @pytest.mark.parametrize("wrong", [[0.0], [-1.0], [float("nan")], [float("inf")], []])
    def test_ages_that_nothing_can_be_reckoned_from(self, wrong: list[float]) -> None:
        """An age of 0 or less, one that isn't a number, or none."""
        with pytest.raises(AgesRefused):
            Ages.of(wrong)

    def test_a_comparison_of_one_group(self) -> None:
        """There is nothing to compare it with."""
        with pytest.raises(AgesRefused):
            log_rank([SIX_MP])


class TestLogRank:
    def test_6_mp_against_placebo(self) -> None:
        """16.79 on 1 degree of freedom (R's survdiff, SAS PROC LIFETEST); expected 19.25 and 10.75."""
        result = log_rank([SIX_MP, PLACEBO])

        assert result is not None
        assert result.observed == (9, 21)
        assert result.expected == pytest.approx((19.2505, 10.7495), abs=5e-5)
        assert result.covariance[0, 0] == pytest.approx(6.25696, abs=5e-6)
        assert result.chi2 == pytest.approx(16.793, abs=5e-4)
        assert (result.df, result.p) == (1, pytest.approx(4.17e-5, abs=5e-8))
        simple = sum((o - e) ** 2 / e for o, e in zip(result.observed, result.expected, strict=True))
        assert simple == pytest.approx(15.233, abs=5e-4)

    def test_three_groups(self) -> None:
        """Klein and Moeschberger, example 7.7: 33.38 on 2 degrees of freedom, a trend of 30.05."""
        result = log_rank([UNTREATED, RADIATED, RADIATED_MORE])

        assert result is not None
        assert result.observed == (10, 9, 8)
        assert result.expected == pytest.approx((2.656485, 7.600097, 16.743418), abs=5e-7)
        assert result.chi2 == pytest.approx(33.38033, abs=5e-6)
        assert (result.df, result.p) == (2, pytest.approx(5.64e-8, abs=5e-11))
        assert trend(result, [1, 2, 3]) == pytest.approx(30.0511, abs=5e-5)

    def test_a_small_example_by_hand(self) -> None:
        """Chernick and Friis, table 10.4: expected 3.75 and 2.25. Their printed 4.953 doesn't follow from those."""
        result = log_rank([Ages.of([23], [16, 18, 20, 24]), Ages.of([15, 18, 19, 19, 20])])

        assert result is not None
        assert result.observed == (1, 5)
        assert result.expected == pytest.approx((3.75, 2.25), abs=1e-9)
        simple = sum((o - e) ** 2 / e for o, e in zip(result.observed, result.expected, strict=True))
        assert simple == pytest.approx(5.3778, abs=5e-5)
        assert (result.chi2, result.p) == (pytest.approx(6.9540, abs=5e-5), pytest.approx(0.00836, abs=5e-6))

    @given(ages, ages)
    @settings(max_examples=50, deadline=None)
    def test_scipy_says_the_same_of_two_groups(self, one: Ages, other: Ages) -> None:
        """scipy.stats.logrank on any two censored samples."""
        result = log_rank([one, other])
        if result is None:
            return
        twin = logrank(*(CensoredData.right_censored(group.reached, ~group.failed) for group in (one, other)))

        assert result.chi2 == pytest.approx(twin.statistic**2, rel=1e-9, abs=1e-9)
        assert result.p == pytest.approx(twin.pvalue, rel=1e-7, abs=1e-12)

    @given(st.lists(ages, min_size=2, max_size=5), st.randoms())
    @settings(deadline=None)
    def test_order_of_groups_makes_no_difference(self, groups: list[Ages], chance: object) -> None:
        """The same groups in another order differ as much."""
        shuffled = list(groups)
        chance.shuffle(shuffled)  # type: ignore[attr-defined]
        one, other = log_rank(groups), log_rank(shuffled)

        assert (one is None) == (other is None)
        if one and other:
            assert (one.chi2, one.df) == (pytest.approx(other.chi2, rel=1e-6, abs=1e-7), other.df)

    def test_failures_after_the_other_group_has_ended_compare_nothing(self) -> None:
        """No failure while both were at risk: the test has no answer."""
        assert log_rank([Ages.of([], [1]), Ages.of([2, 3])]) is None
