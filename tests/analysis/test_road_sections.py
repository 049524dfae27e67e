"""Road sections, healing and growth against published or reckoned figures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.nextbuild.growth import growth, thermal_growth_mm
from analysis.nextbuild.roads import (
    contact_gain,
    flat_contact_mm,
    healed_share,
    pitch_mm,
    section_area_mm2,
    side_gap_mm,
    width_at_flow_mm,
)

ROADS = st.floats(0.05, 0.6).flatmap(lambda h: st.tuples(st.floats(h * 1.05, h * 6), st.just(h)))


@pytest.mark.parametrize(
    ("width", "height", "area", "pitch"),
    [(0.45, 0.2, 0.081416, 0.407080), (0.42, 0.2, 0.075416, 0.377080), (0.6, 0.3, 0.160686, 0.535619)],
)
def test_section_of_a_road(width: float, height: float, area: float, pitch: float) -> None:
    """Rectangle with half-round ends, the flow model of slicing programs; figures reckoned apart from this code."""
    assert section_area_mm2(width, height) == pytest.approx(area, abs=1e-6)
    assert pitch_mm(width, height) == pytest.approx(pitch, abs=1e-6)


@pytest.mark.parametrize(
    ("flow", "width", "gap", "flat"),
    [
        (1.00, 0.4500, -0.0429, 0.2500),
        (0.95, 0.4296, -0.0226, 0.2296),
        (0.90, 0.4093, -0.0022, 0.2093),
        (0.85, 0.3889, 0.0181, 0.1889),
        (0.80, 0.3686, 0.0385, 0.1686),
        (0.70, 0.3279, 0.0792, 0.1279),
    ],
)
def test_side_contact_is_lost_near_ninety_percent_flow(flow: float, width: float, gap: float, flat: float) -> None:
    """Roads of 0.45 x 0.2 mm at fixed pitch, the same model reckoned apart: the gap opens near 89.5 % flow."""
    assert width_at_flow_mm(0.45, 0.2, flow) == pytest.approx(width, abs=1e-4)
    assert side_gap_mm(0.45, 0.2, flow) == pytest.approx(gap, abs=1.1e-4)
    assert flat_contact_mm(width_at_flow_mm(0.45, 0.2, flow), 0.2) == pytest.approx(flat, abs=1e-4)


@given(ROADS, st.floats(0.3, 1.2))
def test_flow_is_mass(road: tuple[float, float], flow: float) -> None:
    """The section at a flow holds that share of the material, as long as it is wider than high."""
    width, height = road
    narrowed = width_at_flow_mm(width, height, flow)
    if narrowed > height:
        assert section_area_mm2(narrowed, height) == pytest.approx(flow * section_area_mm2(width, height))


@given(ROADS, st.floats(1.01, 3))
def test_wider_and_thinner_roads_meet_more_of_each_other(road: tuple[float, float], by: float) -> None:
    """Both raise the share of flat contact, and no change of units matters."""
    width, height = road
    assert contact_gain(road, (width * by, height)) > 1
    assert contact_gain(road, (width, height / by)) > 1
    assert contact_gain(road, (width * by, height * by)) == pytest.approx(1)


@pytest.mark.parametrize(("time", "share"), [(0.1, 0.5623), (0.25, 0.7071), (0.5, 0.8409), (1.0, 1.0), (9.0, 1.0)])
def test_weld_heals_with_the_fourth_root_of_time(time: float, share: float) -> None:
    """Wool and O'Connor 1981 (from memory); beyond the reptation time nothing more is gained."""
    assert healed_share(time) == pytest.approx(share, abs=1e-4)


def test_growth_of_a_fibre_filled_polyamide() -> None:
    """Faust et al. 2021, Polymers 13:3637: 50 mm warmed by 40 K grow 0.044 mm along the roads, 0.496 mm up the layers;
    water adds 0.25 to 0.75 mm."""
    along, up = (growth("PA", True, way, 50, 40) for way in ("along", "up"))

    assert along is not None
    assert along.heat_mm[1] == pytest.approx(0.044, abs=5e-4)
    assert up is not None
    assert up.heat_mm[1] == pytest.approx(0.496, abs=5e-4)
    assert up.water_mm == pytest.approx((0.25, 0.75))
    assert up.most_mm == pytest.approx(1.246, abs=1e-3)


def test_growth_of_an_unmeasured_family_is_not_known() -> None:
    """No figure, no growth: never 0."""
    assert growth("PLA", False, "along", 50, 40) is None


@given(st.floats(0.1, 500), st.floats(-60, 120), st.floats(1e-6, 3e-4))
def test_growth_is_linear(length: float, rise: float, rate: float) -> None:
    """Twice the length or twice the rise grows twice as much."""
    assert thermal_growth_mm(2 * length, rise, rate) == pytest.approx(thermal_growth_mm(length, 2 * rise, rate))


@pytest.mark.parametrize("road", [(0.2, 0.3), (0.0, 0.0), (0.4, -0.1)])
def test_impossible_roads_are_named(road: tuple[float, float]) -> None:
    """A road higher than it is wide has no such section."""
    with pytest.raises(ValueError, match="no such section"):
        section_area_mm2(*road)
