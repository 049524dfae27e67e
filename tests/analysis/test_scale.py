"""A scale carries its uncertainty, or is refused in its own words."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.imaging.scale import (
    Scale,
    ScaleRefused,
    check_scale,
    scale_from_magnification,
    scale_from_points,
    scale_from_roads,
    scale_from_um_per_px,
    total_magnification,
)


class TestPoints:
    def test_the_budget_of_a_stage_micrometer(self) -> None:
        """1000 µm over 812 px, certificate 0.5 µm, ends 0.289 px each: 1.231527 µm/px, 0.0709 %, area 0.1419 %.

        Worked by hand after JCGM 100:2008, 5.1: sqrt((0.5/1000)**2 + 2 * (0.289/812)**2).
        """
        scale = scale_from_points((0, 0), (812, 0), 1.0, distance_sd_mm=0.0005, end_sd_px=0.289)
        assert scale.um_per_px == pytest.approx(1.231527, abs=1e-6)
        assert scale.relative_sd == pytest.approx(0.000709, abs=5e-7)
        assert scale.area_relative_sd == pytest.approx(0.001419, abs=1e-6)

    def test_a_right_triangle(self) -> None:
        """3 and 4 px make 5 px: 10 mm over them are 2000 µm/px (Pythagoras)."""
        assert scale_from_points((1, 1), (4, 5), 10.0, end_sd_px=0.0).um_per_px == pytest.approx(2000.0)

    @given(st.floats(0.1, 50), st.floats(50, 3000), st.floats(0, 2 * math.pi), st.floats(-500, 500))
    def test_turning_and_shifting_change_nothing(self, mm: float, px: float, angle: float, shift: float) -> None:
        """The scale depends on the distance between the points alone, and not on which comes first."""
        p1, p2 = (shift, -shift), (shift + px * math.cos(angle), -shift + px * math.sin(angle))
        straight = scale_from_points((0, 0), (px, 0), mm)
        for first, second in ((p1, p2), (p2, p1)):
            scale = scale_from_points(first, second, mm)
            assert scale.um_per_px == pytest.approx(straight.um_per_px)
            assert scale.relative_sd == pytest.approx(straight.relative_sd)

    @given(st.floats(60, 2000), st.floats(1.1, 10))
    def test_a_longer_line_is_surer(self, px: float, factor: float) -> None:
        """The same ends on a longer line leave a smaller relative uncertainty."""
        assert (
            scale_from_points((0, 0), (px * factor, 0), 1.0).relative_sd
            < scale_from_points((0, 0), (px, 0), 1.0).relative_sd
        )

    @pytest.mark.parametrize(
        ("p1", "p2", "mm", "words"),
        [
            ((5, 5), (5, 5), 10.0, "same spot"),
            ((0, 0), (100, 0), 0.0, "can't be 0"),
            ((0, 0), (100, 0), -1.0, "negative"),
            ((0, 0), (100, 0), math.nan, "number above 0"),
            ((0, math.inf), (100, 0), 1.0, "an x and a y"),
            ((0, 0), (3, 0), 1.0, "too uncertain|uncertain by"),
        ],
    )
    def test_what_cant_be_is_refused(self, p1: tuple, p2: tuple, mm: float, words: str) -> None:
        """Each impossible input has its own words."""
        with pytest.raises(ScaleRefused, match=words):
            scale_from_points(p1, p2, mm)


class TestRoads:
    def test_ten_roads(self) -> None:
        """Ten spacings of 0.4 mm over 500 px are 8 µm/px."""
        scale = scale_from_roads((0, 0), (0, 500), 10, 0.4)
        assert scale.um_per_px == pytest.approx(8.0)
        assert scale.relative_sd == pytest.approx(math.hypot(0.02, math.sqrt(2) * 2 / 500))

    def test_no_road_is_refused(self) -> None:
        """At least one spacing must be counted."""
        with pytest.raises(ScaleRefused, match="at least one road"):
            scale_from_roads((0, 0), (0, 500), 0, 0.4)


class TestMagnification:
    def test_the_standards_example(self) -> None:
        """Objective 10 × eyepiece 10 × intermediate 1.25 give 125 (ASTM E1951, total magnification)."""
        assert total_magnification(10, 10, 1.25) == 125

    def test_pixels_shrink_by_it(self) -> None:
        """A sensor with 3.45 µm pixels behind a 5 × objective sees 0.69 µm per px."""
        assert scale_from_magnification(3.45, 5).um_per_px == pytest.approx(0.69)

    def test_no_magnification_is_refused(self) -> None:
        """A rating of 0 is refused by the lens's name."""
        with pytest.raises(ScaleRefused, match="objective can't be 0"):
            scale_from_magnification(3.45, 0)


class TestGiven:
    @pytest.mark.parametrize(
        ("value", "words"), [(0.0, "can't be 0"), (-8.0, "negative"), (math.nan, "above 0"), (math.inf, "above 0")]
    )
    def test_no_scale_at_all(self, value: float, words: str) -> None:
        """Zero, negative and missing scales are refused, each in its words."""
        with pytest.raises(ScaleRefused, match=words):
            scale_from_um_per_px(value)

    @pytest.mark.parametrize("relative_sd", [-0.1, math.nan, 0.9])
    def test_a_senseless_uncertainty(self, relative_sd: float) -> None:
        """An uncertainty below 0, missing, or so large that nothing could be measured is refused."""
        with pytest.raises(ScaleRefused, match="uncertain"):
            scale_from_um_per_px(8.0, relative_sd)


class TestCheck:
    def test_an_ordinary_scale_passes(self) -> None:
        """8 µm/px on a 1632 px photo with 0.4 mm roads is fine."""
        check_scale(scale_from_um_per_px(8.0), 1632, 1224, 0.4)

    @pytest.mark.parametrize(
        ("um_per_px", "line_width_mm", "words"),
        [
            (6e6 / 1632, 10.0, r"6 m wide"),
            (250.0, 0.4, r"1\.6 px wide"),
            (0.01, 0.4, "more than twice the photo"),
            (8.0, 0.0, "line width can't be 0"),
            (8.0, -0.4, "line width can't be negative"),
        ],
    )
    def test_absurd_scales_are_named(self, um_per_px: float, line_width_mm: float, words: str) -> None:
        """A face of six metres, a road under two px and one wider than the photo are told apart."""
        with pytest.raises(ScaleRefused, match=words):
            check_scale(scale_from_um_per_px(um_per_px), 1632, 1224, line_width_mm)

    def test_a_scale_made_by_hand_is_checked_too(self) -> None:
        """A record put together without the door is still caught."""
        with pytest.raises(ScaleRefused, match="negative"):
            check_scale(Scale(-8.0, 0.01, "given"), 1632, 1224, 0.4)
