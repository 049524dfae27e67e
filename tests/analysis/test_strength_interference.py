"""Strength-load interference against worked examples, scipy's integral, draws, and Bayes' rule by counting."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from analysis.strength.interference import (
    exceeds_by_draws,
    exceeds_each,
    exceeds_lognormal,
    exceeds_normal,
    lognormal_of,
    rival_loads,
)
from analysis.strength.ranges import Range, RangeRefused

spread_ranges = st.tuples(st.floats(1, 1000), st.floats(1.05, 6)).map(lambda p: Range(p[0], p[0] * p[1]))


@pytest.mark.parametrize(
    ("load", "strength", "p", "tolerance"),
    [
        ((20, 6), (40, 7), 0.0150298, 5e-8),  # documentation of the `reliability` library
        ((2500, 500), (4000, 400), 0.0095748, 5e-8),  # quality school's handout, psi; figure recomputed
        ((50, 15), (75, 20), 0.158655, 5e-7),  # reliability trainer's article, MPa; figure recomputed
    ],
)
def test_worked_examples(load: tuple[float, float], strength: tuple[float, float], p: float, tolerance: float) -> None:
    """Normal load and strength: 1.50298 %, 0.95748 %, 15.8655 %."""
    assert exceeds_normal(*load, *strength) == pytest.approx(p, abs=tolerance)


def test_worked_example_as_lognormals() -> None:
    """50/15 against 75/20 MPa with the same means and variations as lognormals: z 1.052511, 14.6283 %."""
    p = exceeds_lognormal(lognormal_of(50, 0.30), lognormal_of(75, 20 / 75))
    assert p == pytest.approx(0.146283, abs=5e-7)
    assert stats.norm.isf(p) == pytest.approx(1.052511, abs=5e-6)


def test_draws_of_the_first_example() -> None:
    """Two million draws, seed 1, lie within 4 √(p(1-p)/N) of 1.50298 %, and the standard error is told."""
    n, p = 2_000_000, 0.0150298
    got = exceeds_by_draws(lambda rng, k: rng.normal(20, 6, k), lambda rng, k: rng.normal(40, 7, k), n, seed=1)
    assert got.p == pytest.approx(p, abs=4 * math.sqrt(p * (1 - p) / n))
    assert got.se == pytest.approx(8.6e-5, abs=0.1e-5)


def test_same_seed_same_answer() -> None:
    """Draws are seeded."""
    once, again = (exceeds_by_draws(lambda r, k: r.random(k), lambda r, k: r.random(k), 1000, 7) for _ in range(2))
    assert once == again


@settings(max_examples=40)
@given(st.floats(1, 100), st.floats(0.5, 30), st.floats(1, 100), st.floats(0.5, 30))
def test_normal_against_the_integral(lm: float, ls: float, sm: float, ss: float) -> None:
    """∫ f_load(x) F_strength(x) dx by scipy's quadrature."""
    load, strength = stats.norm(lm, ls), stats.norm(sm, ss)
    points = sorted({lm, sm})
    whole, _ = integrate.quad(lambda x: load.pdf(x) * strength.cdf(x), lm - 10 * ls, lm + 10 * ls, points=points)
    assert exceeds_normal(lm, ls, sm, ss) == pytest.approx(whole, abs=1e-6)


@settings(max_examples=40)
@given(spread_ranges, spread_ranges)
def test_lognormal_against_the_integral(load: Range, strength: Range) -> None:
    """The same in the logarithm, from scipy's own lognormal laws."""
    law, other = stats.lognorm(load.log_sd, scale=load.median), stats.lognorm(strength.log_sd, scale=strength.median)
    low, high = (math.log(load.median) + k * load.log_sd for k in (-9, 9))
    seam = min(max(math.log(strength.median), low), high)
    whole, _ = integrate.quad(
        lambda t: law.pdf(math.exp(t)) * math.exp(t) * other.cdf(math.exp(t)), low, high, points=[seam], limit=200
    )
    assert exceeds_lognormal(load, strength) == pytest.approx(whole, abs=1e-6)


@given(spread_ranges, spread_ranges, st.floats(1.0, 5.0))
def test_a_wider_range_is_never_surer(load: Range, strength: Range, factor: float) -> None:
    """With the middles kept, a wider range of the load moves the chance towards a half, never away.

    Proof: the chance is Φ(d/s) with d the distance of the middles and s² the sum of both variances.
    """
    wide = Range.around(load.median, load.log_sd * factor)
    narrow_p, wide_p = exceeds_lognormal(load, strength), exceeds_lognormal(wide, strength)
    assert abs(wide_p - 0.5) <= abs(narrow_p - 0.5) + 1e-12


@given(spread_ranges, spread_ranges, st.floats(0.001, 1000))
def test_only_the_ratio_counts(load: Range, strength: Range, factor: float) -> None:
    """Load and strength in another unit: the same chance."""
    scaled = [Range(one.low * factor, one.high * factor) for one in (load, strength)]
    assert exceeds_lognormal(*scaled) == pytest.approx(exceeds_lognormal(load, strength), abs=1e-9)


@given(spread_ranges, st.floats(1, 5000))
def test_each_capacity_in_turn(load: Range, capacity: float) -> None:
    """For an exactly known capacity the chance is the load's own tail (scipy)."""
    law = stats.lognorm(load.log_sd, scale=load.median)
    assert exceeds_each(load, np.array([capacity]))[0] == pytest.approx(law.sf(capacity), abs=1e-9)


def test_exactly_known_on_both_sides() -> None:
    """Without spread it either exceeds or it doesn't; equal is not exceeded."""
    ten = Range(10, 10)
    assert [exceeds_lognormal(ten, Range(s, s)) for s in (9, 10, 11)] == [1, 0, 0]
    assert exceeds_normal(10, 0, 10, 0) == 0
    assert list(exceeds_each(ten, np.array([9.0, 10.0, 11.0]))) == [1, 0, 0]


def test_refusals() -> None:
    """A negative spread, a missing number, a mean of 0."""
    for numbers in ((1, -1, 2, 1), (math.nan, 1, 2, 1)):
        with pytest.raises(RangeRefused):
            exceeds_normal(*numbers)
    with pytest.raises(RangeRefused):
        lognormal_of(0, 0.1)


class TestRivals:
    def test_against_counting(self) -> None:
        """Bayes' rule by brute counting: draw worlds, keep those that stood the service and then broke, count.

        The program averages chances over draws of the capacity; here capacity, load, service and which load it was
        are all drawn and worlds that don't fit are thrown away. Agreement within four binomial standard errors.
        """
        rng = np.random.default_rng(3)
        n, loads, service, times = 1_000_000, (Range(20, 60), Range(50, 120)), Range(10, 40), 5
        strength, kept = Range(60, 140), 0.7
        whole = strength.sample(rng, n)
        built = whole * kept
        which = (rng.random(n) < 0.25).astype(int)  # the second load was held a quarter as the cause
        acting = np.where(which == 0, loads[0].sample(rng, n), loads[1].sample(rng, n))
        stood = np.max([service.sample(rng, n) for _ in range(times)], axis=0) <= built
        fits = stood & (acting > built)
        count = int(fits.sum())

        capacity = strength.sample(np.random.default_rng(4), 200_000)
        broke = np.array([exceeds_each(one, capacity * kept) for one in loads])
        too = np.array([exceeds_each(one, capacity) for one in loads])
        lived = np.broadcast_to((1 - exceeds_each(service, capacity * kept)) ** times, broke.shape)
        got = rival_loads(broke, too, lived, [0.75, 0.25])
        assert got is not None
        assert got.whole_too_mean is not None
        for told, counted in (
            (got.explains[1], float((which[fits] == 1).mean())),
            (got.whole_too_mean, float((acting > whole)[fits].mean())),
        ):
            assert told == pytest.approx(counted, abs=4 * math.sqrt(counted * (1 - counted) / count) + 2e-3)
        assert sum(got.explains) == pytest.approx(1)

    def test_what_it_stood_speaks_against_small_loads(self) -> None:
        """A part that often stood as much as the small load is more likely to have met the large one."""
        capacity = Range(60, 140).sample(np.random.default_rng(0), 50_000)
        loads = (Range(40, 90), Range(80, 200))
        broke = np.array([exceeds_each(one, capacity) for one in loads])
        fresh = rival_loads(broke, broke, np.ones_like(broke), [1, 1])
        often = np.broadcast_to((1 - broke[0]) ** 20, broke.shape)
        used = rival_loads(broke, broke, often, [1, 1])
        assert fresh is not None
        assert used is not None
        assert used.explains[1] > fresh.explains[1]

    def test_no_load_can_have_broken_it(self) -> None:
        """Where every chance is nil there is no explanation to share out."""
        assert rival_loads(np.zeros((2, 10)), None, np.ones((2, 10)), [1, 1]) is None

    def test_without_a_fully_bonded_face_nothing_is_said_of_it(self) -> None:
        """No design, no chance that it would have broken too."""
        got = rival_loads(np.full((1, 10), 0.3), None, np.ones((1, 10)), [1])
        assert got is not None
        assert got.whole_too == (None,)
        assert got.whole_too_mean is None
