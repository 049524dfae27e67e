"""Ranges as lognormals, loads with direction and lever arm, and the table of human and body loads."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analysis.strength.bodyloads import LoadsError, load_body_loads, parse_body_loads
from analysis.strength.loadcase import LoadCase, LoadRefused, lever_arm
from analysis.strength.ranges import Range, RangeRefused

positive = st.floats(1e-3, 1e6)
ranges = st.tuples(positive, st.floats(1.0, 20.0)).map(lambda pair: Range(pair[0], pair[0] * pair[1]))
FORCE = Range(100.0, 200.0)


class TestRange:
    @given(ranges)
    def test_ends_are_the_fifth_and_ninety_fifth_percentile(self, one: Range) -> None:
        """scipy's lognormal with this median and sd has 5 % below `low` and 5 % above `high`."""
        if one.log_sd > 0:
            law = stats.lognorm(one.log_sd, scale=one.median)
            assert (law.cdf(one.low), law.cdf(one.high)) == pytest.approx((0.05, 0.95), abs=1e-6)

    @given(ranges, ranges)
    def test_quotient_undoes_the_product_in_the_middle(self, one: Range, other: Range) -> None:
        """Medians multiply and divide; spreads add in quadrature either way."""
        product = one.times(other)
        assert product.median == pytest.approx(one.median * other.median)
        assert one.over(other).log_sd == pytest.approx(product.log_sd)
        assert product.over(other).median == pytest.approx(one.median)

    def test_draws_follow_the_range(self) -> None:
        """Of 100 000 draws 5 % lie below and 5 % above, within four standard errors."""
        drawn = Range(3.0, 12.0).sample(np.random.default_rng(1), 100_000)
        error = 4 * math.sqrt(0.05 * 0.95 / 100_000)
        assert (np.mean(drawn < 3), np.mean(drawn > 12)) == pytest.approx((0.05, 0.05), abs=error)

    def test_exactly_known(self) -> None:
        """Both ends alike: every draw is that number."""
        one = Range(7.0, 7.0)
        assert (one.median, one.log_sd) == (7.0, 0.0)
        assert set(one.sample(np.random.default_rng(0), 5)) == {7.0}

    @pytest.mark.parametrize(
        ("low", "high", "words"),
        [
            (30, 20, "upside down"),
            (0, 20, "above 0"),
            (-3, 20, "above 0"),
            (math.nan, 20, "two numbers"),
            (10, math.inf, "two numbers"),
        ],
    )
    def test_refusals_say_what_is_wrong(self, low: float, high: float, words: str) -> None:
        """Upside down, not above 0, no number, no end."""
        with pytest.raises(RangeRefused, match=words):
            Range(low, high)


class TestLoadCase:
    @given(st.floats(0, 180), st.floats(0, 360), st.floats(0.1, 1000))
    def test_the_force_keeps_its_size(self, tilt: float, azimuth: float, force: float) -> None:
        """Normal and shear are the parts of one vector."""
        got = LoadCase("any", FORCE, tilt, azimuth).at((0, 0), force)
        assert math.hypot(got.normal_n, got.shear_x_n, got.shear_y_n) == pytest.approx(force)

    @given(st.floats(0, 180), st.floats(0, 360), st.floats(-20, 20), st.floats(-20, 20), st.floats(0, 50))
    def test_moments_are_the_cross_product(self, tilt: float, azimuth: float, x: float, y: float, reach: float) -> None:
        """r x F with z towards the reader (statics); signs as the record tells them."""
        got = LoadCase("any", FORCE, tilt, azimuth, offset_mm=(x, y)).at((1.0, -2.0), 10.0, reach)
        force = np.array([got.shear_x_n, got.shear_y_n, got.normal_n])
        moment = np.cross(np.array([x - 1.0, y + 2.0, reach]), force)
        assert (got.bending_x_nmm, -got.bending_y_nmm, got.torque_nmm) == pytest.approx(tuple(moment), abs=1e-9)

    def test_a_push_sideways_opens_the_side_it_comes_from(self) -> None:
        """A post pushed to the right at its top opens at the left: bending over x is negative."""
        got = LoadCase("lean", FORCE, 90, 0, Range(10, 10)).at((0, 0), 5.0, 10.0)
        assert (got.bending_y_nmm, got.bending_x_nmm, got.normal_n) == pytest.approx((-50, 0, 0), abs=1e-9)

    def test_away_along_and_onto(self) -> None:
        """0° pulls, 90° slides, 180° pushes."""
        pulls = [LoadCase("load", FORCE, tilt, 0).at((0, 0), 1.0).normal_n for tilt in (0, 90, 180)]
        assert pulls == pytest.approx([1, 0, -1], abs=1e-9)

    def test_straight_loads_need_no_direction_on_the_photo(self) -> None:
        """A pull or push square to the face has no part along it."""
        for tilt in (0.0, 180.0):
            assert LoadCase("straight", FORCE, tilt).at((0, 0), 1.0).shear_x_n == 0

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"tilt_deg": None}, "no direction"),
            ({"tilt_deg": math.nan}, "0°"),
            ({"tilt_deg": -5.0}, "0°"),
            ({"tilt_deg": 200.0}, "0°"),
            ({"azimuth_deg": None}, "in which direction on the photo"),
            ({"azimuth_deg": math.nan}, "number in degrees"),
            ({"offset_mm": (math.nan, 0.0)}, "two numbers in mm"),
            ({"kind": "bending"}, "lever arm above 0"),
            ({"kind": "bending", "tilt_deg": 0.0, "reach_mm": Range(5, 5)}, "no lever arm by its height"),
            ({"kind": "torsion"}, "force or bending"),
            ({"name": "  "}, "a name"),
        ],
    )
    def test_refusals_say_what_is_missing(self, changes: dict[str, object], words: str) -> None:
        """No direction, impossible angles, bending without a lever arm."""
        given_ = {"name": "lean", "force_n": FORCE, "tilt_deg": 60.0, "azimuth_deg": 10.0} | changes
        with pytest.raises(LoadRefused, match=words):
            LoadCase(**given_)  # type: ignore[arg-type]

    def test_lever_arms_from_a_form(self) -> None:
        """None and 0 are no lever arm; one end alone, upside down and below 0 are refused."""
        assert lever_arm(None, None) is None
        assert lever_arm(0, 0) is None
        assert lever_arm(5, 8) == Range(5, 8)
        for low, high, words in ((5, None, "both ends"), (8, 5, "upside down"), (-1, 5, "above 0"), (0, 5, "above 0")):
            with pytest.raises(LoadRefused, match=words):
                lever_arm(low, high)


class TestBodyLoads:
    def test_printed_figures(self) -> None:
        """EN 1005-3 (grip 184/250, pedal 154/250), levers 12 to 22 kgf, steep stairs 1.6 body weights."""
        loads = load_body_loads()
        assert loads["grip_design"].force_n == Range(184, 250)
        assert loads["pedal_ankle_design"].force_n == Range(154, 250)
        lever = loads["lever_one_hand"].force_n
        assert (lever.low, lever.high) == pytest.approx((12 * 9.80665, 22 * 9.80665), rel=0.01)
        step = loads["step_down"].force_n
        assert (step.low, step.high) == pytest.approx((55 * 9.81 * 1.6, 100 * 9.81 * 1.6), rel=0.01)

    def test_what_is_from_memory_says_so(self) -> None:
        """No strong-user figure and no jump is passed off as read in a source."""
        for load in load_body_loads().values():
            if load.kind == "strong user" or load.code == "jump":
                assert load.status == "from memory", load.code

    def test_design_limits_are_told_from_maxima(self) -> None:
        """Each figure of the standard is marked as a low percentile."""
        for load in load_body_loads().values():
            assert ("EN 1005-3" not in load.source) or load.kind == "low percentile"

    @pytest.mark.parametrize(
        ("old", "new", "words"),
        [
            ('kind = "usual"', 'kind = "often"', "kind must be"),
            ("low_n = 5.0", "low_n = 50.0", "low_n and high_n"),
            ("low_n = 5.0", "", "low_n and high_n"),
            ('source = "s"', 'source = ""', "source is missing"),
        ],
    )
    def test_a_broken_table_is_named(self, old: str, new: str, words: str) -> None:
        """The entry and what to mend are told."""
        entry = (
            '[[load]]\ncode = "x"\nwords = "w"\nlow_n = 5.0\nhigh_n = 9.0\nkind = "usual"\n'
            'source = "s"\nstatus = "read"\nnote = "n"\n'
        )
        assert set(parse_body_loads(entry)) == {"x"}
        with pytest.raises(LoadsError, match=f"x: .*{words}"):
            parse_body_loads(entry.replace(old, new))
        with pytest.raises(LoadsError, match="twice"):
            parse_body_loads(entry + entry)
