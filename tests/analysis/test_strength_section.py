"""Section properties by pixels against closed forms and against a finite-element library.

Closed forms are those of any table of sections; the figures were also computed with sectionproperties 3.10.
Shapes whose edges run along pixel borders are exact (tolerance 1e-9 relative, floating point). Round and slanting
edges are stair-stepped: at 0.1 mm per pixel the error of each moment stays under 0.5 %, of a modulus under 1 %
(the outermost pixel counts with its whole side).
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from sectionproperties.analysis import Section as FiniteElements
from sectionproperties.pre import Geometry
from shapely.geometry import Polygon
from skimage.draw import polygon2mask

from analysis.strength.loadcase import Resultants
from analysis.strength.section import SectionRefused, section_modulus, section_properties
from analysis.strength.weldgroup import WeldGroup

Mask = NDArray[np.bool_]
EXACT = 1e-9


def stress_extremes_mpa(
    mask: Mask, mm_per_px: float, force_n: float, at_mm: tuple[float, float]
) -> tuple[float, float]:
    """Least and greatest normal stress of a pull at a point of the section plane, MPa."""
    group = WeldGroup(mask, mm_per_px)
    ex, ey = at_mm[0] - group.section.x_mm, at_mm[1] - group.section.y_mm
    return group.normal_range_mpa(Resultants(force_n, 0, 0, force_n * ey, force_n * ex, 0))


def plate(width_mm: float, height_mm: float, mm_per_px: float) -> Mask:
    """A solid rectangle with whole pixels."""
    return np.ones((round(height_mm / mm_per_px), round(width_mm / mm_per_px)), dtype=bool)


def disc(diameter_mm: float, mm_per_px: float, bore_mm: float = 0.0) -> Mask:
    """A disc, or ring, by pixel centres."""
    size = round(diameter_mm / mm_per_px) + 4
    rows, cols = np.mgrid[:size, :size] - (size - 1) / 2
    away = np.hypot(rows, cols) * mm_per_px
    return np.asarray((away <= diameter_mm / 2) & (away >= bore_mm / 2))


class TestClosedForms:
    @pytest.mark.parametrize(
        ("width", "height", "ix", "iy", "zx", "zy"),
        [(20, 40, 320000 / 3, 80000 / 3, 16000 / 3, 8000 / 3), (20, 20, 40000 / 3, 40000 / 3, 4000 / 3, 4000 / 3)],
    )
    def test_rectangle(self, width: int, height: int, ix: float, iy: float, zx: float, zy: float) -> None:
        """b h³/12 and its modulus, exactly, whatever the pixel."""
        for scale in (0.25, 1.0, 2.0):
            got = section_properties(plate(width, height, scale), scale)
            assert got.area_mm2 == pytest.approx(width * height, rel=EXACT)
            assert (got.ix_mm4, got.iy_mm4) == pytest.approx((ix, iy), rel=EXACT)
            assert (got.z_top_mm3, got.z_bottom_mm3) == pytest.approx((zx, zx), rel=EXACT)
            assert (got.z_left_mm3, got.z_right_mm3) == pytest.approx((zy, zy), rel=EXACT)

    def test_hollow_rectangle_with_sharp_corners(self) -> None:
        """30 x 50, wall 3: outer minus inner, as printed: 444, 142132, 61812, 5685.28 and 4120.80."""
        mask = plate(30, 50, 1)
        mask[3:-3, 3:-3] = False
        got = section_properties(mask, 1.0)
        assert (got.area_mm2, got.ix_mm4, got.iy_mm4) == pytest.approx((444, 142132, 61812), rel=EXACT)
        assert (got.z_top_mm3, got.z_left_mm3) == pytest.approx((5685.28, 4120.80), abs=0.005)

    def test_circle(self) -> None:
        """d = 20: 314.159, 7853.98, polar 15707.96 and modulus 785.398."""
        got = section_properties(disc(20, 0.1), 0.1)
        assert got.area_mm2 == pytest.approx(314.159, rel=5e-3)
        assert (got.ix_mm4, got.polar_mm4) == pytest.approx((7853.98, 15707.96), rel=5e-3)
        assert got.z_top_mm3 == pytest.approx(785.398, rel=1e-2)

    def test_ring(self) -> None:
        """30/20: 392.699, 31906.8, polar 63813.6 and modulus 2127.12."""
        got = section_properties(disc(30, 0.1, bore_mm=20), 0.1)
        assert got.area_mm2 == pytest.approx(392.699, rel=5e-3)
        assert (got.ix_mm4, got.polar_mm4) == pytest.approx((31906.8, 63813.6), rel=5e-3)
        assert got.z_top_mm3 == pytest.approx(2127.12, rel=1e-2)

    def test_tee_with_a_thick_flange(self) -> None:
        """Flange 100 x 20 over web 20 x 80: centroid 67.7778 from the web's end, Ix 3142222.2, Iy 1720000."""
        mask = np.zeros((100, 100), dtype=bool)
        mask[:20], mask[20:, 40:60] = True, True
        got = section_properties(mask, 1.0)
        assert 99.5 - got.y_mm == pytest.approx(67.7778, abs=5e-5)
        assert (got.area_mm2, got.ix_mm4, got.iy_mm4) == pytest.approx((3600, 3142222.2, 1720000), abs=0.05)
        assert (got.z_top_mm3, got.z_bottom_mm3) == pytest.approx((97517.2, 46360.7), abs=0.06)

    def test_tee_of_a_textbook_exercise(self) -> None:
        """Tee 120 x 170 x 15 (dimensions of a published exercise): 114.5909, 12018684.7, 2203593.75."""
        mask = np.zeros((340, 240), dtype=bool)  # 0.5 mm per pixel, so that the web's 15 mm lie on pixel borders
        mask[:30], mask[30:, 105:135] = True, True
        got = section_properties(mask, 0.5)
        assert 169.75 - got.y_mm == pytest.approx(114.5909, abs=5e-5)
        assert got.area_mm2 == pytest.approx(4125, rel=EXACT)
        assert (got.ix_mm4, got.iy_mm4) == pytest.approx((12018684.7, 2203593.75), abs=0.06)
        assert (got.z_top_mm3, got.z_bottom_mm3) == pytest.approx((216908, 104883), abs=1)

    def test_equal_angle(self) -> None:
        """L 50 x 50 x 6 sharp: centroid 14.7021, Ix 131257.96, Ixy 77234.04, I1 208492.0, I2 54023.9 at 45°."""
        mask = np.zeros((50, 50), dtype=bool)
        mask[:6], mask[:, :6] = True, True
        got = section_properties(mask, 1.0)
        assert (got.x_mm + 0.5, got.y_mm + 0.5) == pytest.approx((14.7021, 14.7021), abs=5e-5)
        assert (got.ix_mm4, got.ixy_mm4) == pytest.approx((131257.96, -77234.04), abs=0.006)
        assert (got.i1_mm4, got.i2_mm4) == pytest.approx((208492.0, 54023.9), abs=0.06)
        assert got.angle_deg == pytest.approx(45)
        assert (got.z_top_mm3, got.z_bottom_mm3) == pytest.approx((8927.8, 3718.6), abs=0.06)

    def test_unequal_angle(self) -> None:
        """L 40 x 60 x 5: centroid 9.8684, 19.8684; 173950.11, 62700.11, -60789.47; 200723.5 and 35926.7."""
        mask = np.zeros((60, 40), dtype=bool)
        mask[:5], mask[:, :5] = True, True
        got = section_properties(mask, 1.0)
        assert (got.x_mm + 0.5, got.y_mm + 0.5) == pytest.approx((9.8684, 19.8684), abs=5e-5)
        assert (got.ix_mm4, got.iy_mm4, got.ixy_mm4) == pytest.approx((173950.11, 62700.11, -60789.47), abs=0.006)
        assert (got.i1_mm4, got.i2_mm4) == pytest.approx((200723.5, 35926.7), abs=0.06)


class TestNetSection:
    @pytest.mark.parametrize("tenths", [0, 1, 2, 3, 5])
    def test_strip_missing_at_one_edge(self, tenths: int) -> None:
        """Pull at the gross centroid: peak over gross stress is (1 + 3f/(1-f)) / (1-f), exactly."""
        mask = plate(10, 20, 0.5)
        mask[: 4 * tenths] = False
        share = tenths / 10
        _, most = stress_extremes_mpa(mask, 0.5, 1000.0, (4.75, 9.75))
        assert most / 5.0 == pytest.approx((1 + 3 * share / (1 - share)) / (1 - share), rel=EXACT)

    def test_strip_of_a_fifth_by_hand(self) -> None:
        """b 10, h 20, strip 4, 1000 N: 10.9375 MPa beside the gap and 1.5625 MPa at the far edge."""
        mask = plate(10, 20, 1)
        mask[:4] = False
        assert stress_extremes_mpa(mask, 1.0, 1000.0, (4.5, 9.5)) == pytest.approx((1.5625, 10.9375), rel=EXACT)

    def test_bending_of_the_rest(self) -> None:
        """2000 N mm about the axis along the strip: 3.000 MPa gross, 4.6875 MPa net, ratio (1-f)^-2."""
        whole, rest = plate(10, 20, 1), plate(10, 20, 1)
        rest[:4] = False
        assert 2000 / section_modulus(whole, 1.0, 0) == pytest.approx(3.0, rel=EXACT)
        assert 2000 / section_modulus(rest, 1.0, 0) == pytest.approx(4.6875, rel=EXACT)

    def test_strip_missing_inside(self) -> None:
        """Strip 3..7 above the middle: A 160, centroid 1.25 below it, I 5363.333, Z 476.741 and 612.952."""
        mask = plate(10, 20, 1)
        mask[3:7] = False
        got = section_properties(mask, 1.0)
        assert (got.area_mm2, got.y_mm - 9.5) == pytest.approx((160, 1.25), rel=EXACT)
        assert got.ix_mm4 == pytest.approx(5363.333, abs=5e-4)
        assert (got.z_top_mm3, got.z_bottom_mm3) == pytest.approx((476.741, 612.952), abs=5e-4)
        assert stress_extremes_mpa(mask, 1.0, 1000.0, (4.5, 9.5)) == pytest.approx((4.2107, 8.8720), abs=5e-5)


class TestAgainstFiniteElements:
    @pytest.mark.parametrize("seed", [1, 2, 3, 4])
    def test_random_polygons(self, seed: int) -> None:
        """Area, moments, principal axes and moduli agree with sectionproperties on star-shaped polygons."""
        rng = np.random.default_rng(seed)
        turn = np.sort(rng.uniform(0, 2 * math.pi, 9))
        radius = rng.uniform(5, 10, 9)
        corners = np.column_stack([12 + radius * np.cos(turn), 11 + radius * np.sin(turn)])  # x, y in mm
        scale = 0.02
        # The centre of pixel (0, 0) is the origin in both frames.
        mask = polygon2mask((1100, 1200), corners[:, ::-1] / scale)
        got = section_properties(np.asarray(mask, dtype=bool), scale)
        geometry = Geometry(Polygon(corners))
        geometry.create_mesh(mesh_sizes=[2.0])
        other = FiniteElements(geometry)
        other.calculate_geometric_properties()
        moments = (got.ix_mm4, got.iy_mm4, got.i1_mm4, got.i2_mm4)
        assert got.area_mm2 == pytest.approx(other.get_area(), rel=2e-3)
        assert (got.x_mm, got.y_mm) == pytest.approx(other.get_c(), abs=0.01)
        assert moments == pytest.approx((*other.get_ic()[:2], *other.get_ip()), rel=4e-3)
        assert got.ixy_mm4 == pytest.approx(other.get_ic()[2], abs=4e-3 * got.ix_mm4)
        turned = math.radians(got.angle_deg - other.get_phi())
        assert abs(math.sin(turned)) < 0.01  # an axis has no head: 180° more is the same
        moduli = (got.z_bottom_mm3, got.z_top_mm3, got.z_right_mm3, got.z_left_mm3)
        assert moduli == pytest.approx(tuple(float(z) for z in other.get_z()), rel=1e-2)


masks = st.integers(0, 2**36 - 2).map(
    lambda bits: np.array([(bits + 1) >> i & 1 for i in range(36)], dtype=bool).reshape(6, 6)
)


class TestLaws:
    @given(masks, st.integers(0, 5), st.integers(0, 7))
    def test_shift_changes_nothing_but_the_centroid(self, mask: Mask, down: int, right: int) -> None:
        """Moving the mask moves the centroid by as much and leaves the rest."""
        one = section_properties(mask, 0.5)
        other = section_properties(np.pad(mask, ((down, 0), (right, 0))), 0.5)
        assert (other.x_mm - one.x_mm, other.y_mm - one.y_mm) == pytest.approx((right / 2, down / 2))
        assert (other.ix_mm4, other.iy_mm4, other.ixy_mm4) == pytest.approx(
            (one.ix_mm4, one.iy_mm4, one.ixy_mm4), abs=1e-9
        )

    @given(masks)
    def test_quarter_turn_swaps_the_axes(self, mask: Mask) -> None:
        """A quarter turn swaps Ix and Iy, turns the sign of Ixy, and keeps the principal moments."""
        one, other = section_properties(mask, 1.0), section_properties(np.rot90(mask), 1.0)
        assert (other.ix_mm4, other.iy_mm4) == pytest.approx((one.iy_mm4, one.ix_mm4))
        assert other.ixy_mm4 == pytest.approx(-one.ixy_mm4, abs=1e-9)
        assert (other.i1_mm4, other.i2_mm4) == pytest.approx((one.i1_mm4, one.i2_mm4))

    @given(masks, st.floats(0.01, 5))
    def test_lengths_scale_by_their_powers(self, mask: Mask, scale: float) -> None:
        """Area goes with the square, moduli with the cube, moments with the fourth power of the scale."""
        one, other = section_properties(mask, 1.0), section_properties(mask, scale)
        assert other.area_mm2 == pytest.approx(one.area_mm2 * scale**2)
        assert other.z_top_mm3 == pytest.approx(one.z_top_mm3 * scale**3)
        assert other.i1_mm4 == pytest.approx(one.i1_mm4 * scale**4)

    @given(masks)
    def test_finer_pixels_of_the_same_shape_change_nothing(self, mask: Mask) -> None:
        """Each pixel cut into nine gives the same section: the squares' own moments are in."""
        fine = np.kron(mask, np.ones((3, 3), dtype=bool)).astype(bool)
        one, other = section_properties(mask, 0.9), section_properties(fine, 0.3)
        assert (other.i1_mm4, other.i2_mm4) == pytest.approx((one.i1_mm4, one.i2_mm4))
        assert (other.z_left_mm3, other.z_bottom_mm3) == pytest.approx((one.z_left_mm3, one.z_bottom_mm3))

    @given(masks)
    def test_modulus_about_the_axes(self, mask: Mask) -> None:
        """About x and y the general modulus is the lesser of the two sides' moduli."""
        one = section_properties(mask, 1.0)
        assert section_modulus(mask, 1.0, 0) == pytest.approx(min(one.z_top_mm3, one.z_bottom_mm3))
        assert section_modulus(mask, 1.0, 90) == pytest.approx(min(one.z_left_mm3, one.z_right_mm3))

    @given(masks)
    def test_pull_through_the_centroid_is_even(self, mask: Mask) -> None:
        """A force at the centroid of the welds stresses every patch alike."""
        one = section_properties(mask, 1.0)
        least, most = stress_extremes_mpa(mask, 1.0, 100.0, (one.x_mm, one.y_mm))
        assert (least, most) == pytest.approx((100 / one.area_mm2,) * 2)


class TestRefusals:
    def test_an_empty_section_is_refused(self) -> None:
        """Nothing welded has no section; the message says where to look."""
        with pytest.raises(SectionRefused, match="nothing is left"):
            section_properties(np.zeros((4, 4), dtype=bool), 0.1)

    @pytest.mark.parametrize("scale", [0.0, -1.0, math.nan, math.inf])
    def test_no_scale_no_section(self, scale: float) -> None:
        """Without a scale above 0 there are no mm."""
        with pytest.raises(SectionRefused, match="needs a scale"):
            section_properties(np.ones((4, 4), dtype=bool), scale)
