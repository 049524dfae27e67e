"""Stress concentration against printed factors, charts and worked examples."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.strength.notch import (
    OFFERED,
    SHOULDERS,
    NotchRefused,
    felt_factor,
    hole_factor,
    neuber_sensitivity,
    shoulder_factor,
)


def test_shaft_of_a_textbook_example() -> None:
    """D 38, d 32, r 3 in bending: 1.65 read from the chart (Shigley, example 6-6); the fit gives 1.6553."""
    assert shoulder_factor("round_bending", 38, 32, 3) == pytest.approx(1.65, abs=0.02)
    assert shoulder_factor("round_bending", 38, 32, 3) == pytest.approx(1.6553, abs=5e-5)


@pytest.mark.parametrize(
    ("large", "small", "radius", "factor"),
    [(50, 40, 2, 2.0020), (30, 20, 2, 1.7331), (30, 20, 1, 2.1538), (24, 20, 2, 1.6394), (40, 20, 5, 1.3833)],
)
def test_bending_fit(large: float, small: float, radius: float, factor: float) -> None:
    """The fit of Roark's table 17.1, worked out apart from this program."""
    assert shoulder_factor("round_bending", large, small, radius) == pytest.approx(factor, abs=5e-5)


def test_notch_felt_by_a_repeated_load() -> None:
    """Shigley, example 6-6: steel of 690 MPa with √a 0.313353 √mm, r 3 mm: q 0.8468, Kf 1.55."""
    q = neuber_sensitivity(0.313353, 3.0)
    assert q == pytest.approx(0.8468, abs=5e-5)
    assert felt_factor(1.65, q) == pytest.approx(1.55, abs=0.005)


@pytest.mark.parametrize(("small", "chart", "stress"), [(0.7, 1.20, 8900), (0.8, 1.29, 6400), (0.9, 1.41, 4900)])
def test_full_quarter_circle_fillet_in_torsion(small: float, chart: float, stress: float) -> None:
    """Gere, problem 3.11-3: D 1 in, T 500 lb-in: 1.20, 1.29, 1.41 and 8900, 6400, 4900 psi, read from a chart.

    The fit is from memory of Peterson's chart and lies within 3 % of those readings.
    """
    factor = shoulder_factor("round_torsion", 1.0, small, (1 - small) / 2)
    assert factor == pytest.approx(chart, rel=0.03)
    assert factor * 16 * 500 / (math.pi * small**3) == pytest.approx(stress, rel=0.035)


@pytest.mark.parametrize(
    ("share", "factor"), [(0, 3.00), (0.1, 2.72), (0.2, 2.51), (0.3, 2.35), (0.4, 2.23), (0.5, 2.16)]
)
def test_hole(share: float, factor: float) -> None:
    """A hole in a wide plate has 3 (Kirsch, exact); the others are the polynomial's figures (from memory)."""
    assert hole_factor(share, 1.0) == pytest.approx(factor, abs=5e-3)


@pytest.mark.parametrize("kind", SHOULDERS)
def test_no_shaft_left_no_concentration(kind: str) -> None:
    """As the small section vanishes, 2h/D = 1, the four constants sum to 1 (self-test of Peterson's fits).

    Each constant is printed to three decimals, so their sum may be off by 4 x 0.0005 (1 + √(h/r) + h/r); torsion's
    fit isn't tied to 1 there and comes within 2 %.
    """
    for least, most, rows in SHOULDERS[kind]:
        for steep in (least, (least + most) / 2, most):
            total = sum(a + b * math.sqrt(steep) + c * steep for a, b, c in rows)
            rounding = 4 * 0.0005 * (1 + math.sqrt(steep) + steep)
            assert total == pytest.approx(1, abs=rounding + (0.02 if kind == "round_torsion" else 0.0))


@given(st.sampled_from(sorted(SHOULDERS)), st.floats(1.05, 3), st.floats(0.3, 3.8), st.floats(0.1, 100))
def test_only_proportions_count(kind: str, ratio: float, steep: float, size: float) -> None:
    """A factor has no unit: all lengths times anything leave it."""
    radius = (ratio - 1) / 2 / steep
    one = shoulder_factor(kind, ratio, 1.0, radius)
    assert shoulder_factor(kind, ratio * size, size, radius * size) == pytest.approx(one)
    assert one >= 0.98


@given(st.sampled_from(sorted(SHOULDERS)), st.floats(1.2, 2))
def test_a_sharper_fillet_is_never_milder(kind: str, ratio: float) -> None:
    """At one step, the smaller the fillet the higher the factor (2 % for the seam of the fits)."""
    steps = [0.3, 0.6, 1, 1.5, 2, 2.5, 3.9]
    found = [shoulder_factor(kind, ratio, 1.0, (ratio - 1) / 2 / steep) for steep in steps]
    assert all(later >= earlier * 0.98 for earlier, later in pairwise(found))


@pytest.mark.parametrize("sizes", [(20, 20, 1), (20, 30, 1), (30, 20, 0), (30, 20, math.nan), (30, 20, 0.1)])
def test_impossible_shoulders_are_refused(sizes: tuple[float, float, float]) -> None:
    """No step, no fillet, or a fillet sharper than the fit covers."""
    with pytest.raises(NotchRefused):
        shoulder_factor("round_bending", *sizes)


def test_impossible_holes_and_radii_are_refused() -> None:
    """A hole wider than the bar; a notch without radius."""
    with pytest.raises(NotchRefused):
        hole_factor(5, 4)
    with pytest.raises(NotchRefused):
        neuber_sensitivity(0.3, 0)


def test_offered_factors_are_marked() -> None:
    """What is offered begins at 1 or above, and nothing of it claims a source that was read."""
    for one in OFFERED:
        assert one.factor.low >= 1
        assert one.status in {"judgement", "from memory"}
