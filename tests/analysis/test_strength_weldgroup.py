"""Stresses in weld groups against textbook sections, closed laws and the elastic method for bolt and weld groups."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from sectionproperties.analysis import Section as FiniteElements
from sectionproperties.pre import Geometry
from shapely.geometry import Polygon

from analysis.strength.loadcase import LoadCase, Resultants
from analysis.strength.ranges import Range
from analysis.strength.section import (
    SectionRefused,
    outer_corners,
    polygon_section,
    section_modulus,
    section_properties,
)
from analysis.strength.weldgroup import WeldGroup, equivalent_mpa

Mask = NDArray[np.bool_]
EXACT = 1e-9
ONE = Range(1.0, 1.0)
masks = st.integers(1, 2**36 - 1).map(
    lambda bits: np.array([bits >> i & 1 for i in range(36)], dtype=bool).reshape(6, 6)
)
forces = st.floats(-50, 50)
loads = st.builds(Resultants, forces, forces, forces, forces, forces, forces)


def disc(diameter_mm: float, mm_per_px: float) -> Mask:
    """A disc by pixel centres."""
    size = round(diameter_mm / mm_per_px) + 2
    rows, cols = np.mgrid[:size, :size] - (size - 1) / 2
    return np.asarray(np.hypot(rows, cols) * mm_per_px <= diameter_mm / 2)


def turned(load: Resultants) -> Resultants:
    """The load after a quarter turn clockwise on the photo, (x, y) to (-y, x)."""
    return Resultants(
        load.normal_n, -load.shear_y_n, load.shear_x_n, load.bending_y_nmm, -load.bending_x_nmm, load.torque_nmm
    )


class TestNetSectionLaw:
    @given(st.integers(2, 60).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n - 1))), st.floats(0.01, 3))
    def test_strip_missing_at_one_edge(self, rows: tuple[int, int], scale: float) -> None:
        """Any share f lost at an edge, pull at the gross centroid: peak/gross = (1 + 3f/(1-f))/(1-f), exactly.

        Source: elementary beam theory, N/A + N e c/I with e = f h/2 and the rest of height (1-f) h.
        """
        n, lost = rows
        mask = np.ones((n, 7), dtype=bool)
        mask[:lost] = False
        f, group = lost / n, WeldGroup(mask, scale)
        gross_y = (n - 1) / 2 * scale
        pull = LoadCase("pull", ONE, 0.0).at((0.0, group.section.y_mm - gross_y), 1.0)
        gross = 1 / (n * 7 * scale**2)
        assert group.peak(pull).equivalent_mpa / gross == pytest.approx((1 + 3 * f / (1 - f)) / (1 - f), rel=EXACT)

    @pytest.mark.parametrize(("f", "factor"), [(0, 1), (0.1, 1.48148), (0.2, 2.1875), (0.3, 3.26531), (0.5, 8.0)])
    def test_figures_of_the_law(self, f: float, factor: float) -> None:
        """The law's printed figures."""
        mask = np.ones((20, 10), dtype=bool)
        mask[: round(20 * f)] = False
        group = WeldGroup(mask, 1.0)
        pull = LoadCase("pull", ONE, 0.0).at((0.0, group.section.y_mm - 9.5), 1000.0)
        assert group.peak(pull).equivalent_mpa / 5.0 == pytest.approx(factor, abs=5e-6)

    def test_strip_by_hand(self) -> None:
        """b 10, h 20, strip 4, 1000 N: mean 6.250, bending 4.6875, sum 10.9375 beside the gap and 1.5625 far off."""
        mask = np.ones((20, 10), dtype=bool)
        mask[:4] = False
        group = WeldGroup(mask, 1.0)
        pull = LoadCase("pull", ONE, 0.0).at((0.0, group.section.y_mm - 9.5), 1000.0)
        peak = group.peak(pull)
        assert (peak.normal_mpa, peak.bending_mpa, peak.equivalent_mpa) == pytest.approx((6.25, 4.6875, 10.9375))
        assert peak.y_mm == pytest.approx(3.5)  # the lower edge of the strip's last row
        assert group.normal_range_mpa(pull)[0] == pytest.approx(1.5625)
        assert abs(pull.bending_x_nmm) == pytest.approx(2000)

    @given(st.integers(2, 60).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n - 1))))
    def test_bending_law(self, rows: tuple[int, int]) -> None:
        """Bending about the strip's axis: net over gross modulus is (1-f)², exactly (1.5625 worse at a fifth)."""
        n, lost = rows
        mask = np.ones((n, 5), dtype=bool)
        whole, rest = WeldGroup(mask.copy(), 0.1), WeldGroup(np.vstack([mask[:lost] & False, mask[lost:]]), 0.1)
        ratio = rest.bending_modulus_mm3(0) / whole.bending_modulus_mm3(0)
        assert ratio == pytest.approx((1 - lost / n) ** 2, rel=EXACT)


class TestCombinedLoad:
    def test_shaft_in_bending_and_torque(self) -> None:
        """d 20, M 100 N·m, T 80 N·m: 127.324, 50.930, von Mises 154.896, s1 145.189 (one weld over a round face).

        Source: σ = 32 M/πd³, τ = 16 T/πd³, s1 = 16 (M + √(M² + T²))/πd³. A round face in one piece is the case in
        which T·r over the polar moment is the shaft's own formula. Stair-stepped edge: 0.5 %.
        """
        group = WeldGroup(disc(20, 0.05), 0.05)
        load = Resultants(0, 0, 0, 100_000, 0, 80_000)
        peak = group.peak(load)
        assert (peak.bending_mpa, peak.torque_mpa) == pytest.approx((127.324, 50.930), rel=5e-3)
        assert peak.equivalent_mpa == pytest.approx(154.896, rel=5e-3)
        assert group.peak(load, "principal_tension").equivalent_mpa == pytest.approx(145.189, rel=5e-3)

    @given(st.floats(0.1, 100), st.floats(0.1, 100), st.floats(1, 50))
    def test_formulas_of_the_shaft(self, bending: float, torque: float, d: float) -> None:
        """σ1 = 16(M + √(M²+T²))/πd³ and σvM = √(σ² + 3τ²), exactly, from σ and τ (shaft formulas of any textbook)."""
        sigma, tau = 32 * bending / (math.pi * d**3), 16 * torque / (math.pi * d**3)
        one, other = np.array([sigma]), np.array([tau])
        first = 16 * (bending + math.hypot(bending, torque)) / (math.pi * d**3)
        assert equivalent_mpa(one, other, "principal_tension")[0] == pytest.approx(first, rel=EXACT)
        assert equivalent_mpa(one, other, "von_mises")[0] == pytest.approx(math.sqrt(sigma**2 + 3 * tau**2), rel=EXACT)

    def test_pressure_alone_parts_nothing(self) -> None:
        """Where pressure is left out a pressed weld has no stress, and the brittle criterion sees no tension."""
        pressed = np.array([-10.0])
        assert equivalent_mpa(pressed, np.zeros(1), "opening")[0] == 0
        assert equivalent_mpa(pressed, np.zeros(1), "principal_tension")[0] == 0
        assert equivalent_mpa(pressed, np.zeros(1), "von_mises")[0] == 10


class TestWeldGroups:
    def test_two_patches_under_torque(self) -> None:
        """J of separate patches is Σ(own polar + A d²); τ = T r/J at the farthest corner (elastic weld-group method).

        Source: the elastic method for welds and bolts in eccentric shear, as in any handbook of machine elements.
        """
        mask = np.zeros((4, 40), dtype=bool)
        mask[:, :4], mask[:, -4:] = True, True
        group = WeldGroup(mask, 0.5)
        side, apart = 2.0, 9.0  # mm: patches 2 x 2, centres 9 mm from the middle
        polar = 2 * (side**4 / 6 + side**2 * apart**2)
        torque = group.peak(Resultants(0, 0, 0, 0, 0, 1000.0))
        assert group.section.polar_mm4 == pytest.approx(polar, rel=EXACT)
        assert torque.torque_mpa == pytest.approx(1000 * math.hypot(10, 1) / polar, rel=EXACT)

    def test_torque_is_not_that_of_the_solid_bar(self) -> None:
        """Two patches far apart carry by their distance; a bar's torsion constant of each would say far less."""
        mask = np.zeros((4, 40), dtype=bool)
        mask[:, :4], mask[:, -4:] = True, True
        bars = 2 * 0.1406 * 2.0**4  # torsion constants of two squares of side 2 (0.1406 a⁴, St Venant)
        assert WeldGroup(mask, 0.5).section.polar_mm4 > 100 * bars

    def test_eccentric_shear_of_four_fasteners(self) -> None:
        """Load beside a square group: direct V/4 and torque's share V e r/Σr² add as vectors (elastic method).

        Four far-apart single pixels act as bolts: own polar moments are a hundred-thousandth of Σ r² A.
        """
        n = 301
        mask = np.zeros((n, n), dtype=bool)
        for row in (0, n - 1):
            for col in (0, n - 1):
                mask[row, col] = True
        half, force, arm = (n - 1) / 2, 100.0, 450.0
        group = WeldGroup(mask, 1.0)
        load = LoadCase("beside", ONE, 90.0, 90.0, offset_mm=(arm, 0.0)).at((0.0, 0.0), force)
        own = force / 4
        twist = force * arm * math.hypot(half, half) / (4 * 2 * half**2)
        # At the bolts on the load's side torque's share leans 45° and has a part along the load.
        worst = math.hypot(own + twist / math.sqrt(2), twist / math.sqrt(2))
        assert group.peak(load).equivalent_mpa / math.sqrt(3) == pytest.approx(worst, rel=5e-3)

    @given(masks, loads, st.sampled_from(["von_mises", "opening", "principal_tension"]))
    def test_no_place_of_the_welds_is_above_the_peak(self, mask: Mask, load: Resultants, by: str) -> None:
        """The peak at the hull's corners bounds the stress at every bonded pixel, for each criterion."""
        group = WeldGroup(mask, 0.7)
        highest = np.nanmax(group.equivalent_map_mpa(load, by))  # type: ignore[arg-type]
        assert highest <= group.peak(load, by).equivalent_mpa * (1 + 1e-9) + 1e-9  # type: ignore[arg-type]

    @given(masks, loads)
    def test_fine_pixels_close_in_on_the_peak(self, mask: Mask, load: Resultants) -> None:
        """Cut ever finer, the pixel at the corner comes up to the peak: it isn't merely an upper bound."""
        group = WeldGroup(mask, 1.0)
        fine = WeldGroup(np.kron(mask, np.ones((20, 20), dtype=bool)).astype(bool), 1 / 20)
        peak = group.peak(load).equivalent_mpa
        assert fine.peak(load).equivalent_mpa == pytest.approx(peak)
        drop = peak - float(np.nanmax(fine.equivalent_map_mpa(load)))
        slope = 2 * max(peak, 1e-12)  # over a whole pixel the stress changes by no more than its extremes
        assert drop <= slope * math.sqrt(2) / 2 / 20 * 6 + 1e-9

    @given(masks, loads)
    def test_turning_photo_and_load_together_changes_nothing(self, mask: Mask, load: Resultants) -> None:
        """A quarter turn of map and load leaves the peak; so do both mirrored axes together."""
        one = WeldGroup(mask, 0.3).peak(load).equivalent_mpa
        assert WeldGroup(np.rot90(mask, -1), 0.3).peak(turned(load)).equivalent_mpa == pytest.approx(one, abs=1e-9)

    @given(st.floats(0, 360), st.floats(0, 360))
    def test_turned_by_any_angle_a_disc_answers_alike(self, first: float, second: float) -> None:
        """A round face has no favourite direction: side load with lever arm, any azimuth, within its pixels' steps."""
        group = WeldGroup(disc(8, 0.1), 0.1)
        peaks = [
            group.peak(LoadCase("side", ONE, 90.0, turn).at((0, 0), 1.0, 10.0)).equivalent_mpa
            for turn in (first, second)
        ]
        assert peaks[0] == pytest.approx(peaks[1], rel=0.03)

    @given(masks, loads, st.floats(0.1, 10))
    def test_double_load_double_stress(self, mask: Mask, load: Resultants, times: float) -> None:
        """Stress is linear in the load."""
        more = Resultants(*(times * value for value in load.__dict__.values()))
        group = WeldGroup(mask, 1.0)
        assert group.peak(more).equivalent_mpa == pytest.approx(times * group.peak(load).equivalent_mpa, abs=1e-9)

    @given(masks, st.floats(0.1, 10))
    def test_sizes_go_by_their_powers(self, mask: Mask, times: float) -> None:
        """All lengths doubled: force stress falls by 4, moment stress by 8."""
        one, big = WeldGroup(mask, 1.0), WeldGroup(mask, times)
        pull, twist = Resultants(7.0, 3.0, 0, 0, 0, 0), Resultants(0, 0, 0, 5.0, 2.0, 4.0)
        assert big.peak(pull).equivalent_mpa * times**2 == pytest.approx(one.peak(pull).equivalent_mpa)
        assert big.peak(twist).equivalent_mpa * times**3 == pytest.approx(one.peak(twist).equivalent_mpa)

    @given(masks, st.floats(0.05, 1.0))
    def test_even_thinning_lowers_everything_alike(self, mask: Mask, share: float) -> None:
        """A map that carries a share everywhere has that share of area and of every modulus."""
        full, thin = WeldGroup(mask.astype(float), 1.0), WeldGroup(mask * share, 1.0)
        assert thin.section.area_mm2 == pytest.approx(share * full.section.area_mm2)
        assert thin.bending_modulus_mm3(30) == pytest.approx(share * full.bending_modulus_mm3(30))
        assert thin.torque_modulus_mm3 == pytest.approx(share * full.torque_modulus_mm3)

    @given(masks)
    def test_about_a_principal_axis_bending_is_straight(self, mask: Mask) -> None:
        """About either principal axis the greatest stress is M c/I, as for a symmetric section."""
        group = WeldGroup(mask, 1.0)
        for angle in (group.section.angle_deg, group.section.angle_deg + 90):
            assert group.bending_modulus_mm3(angle) == pytest.approx(section_modulus(mask, 1.0, angle))

    def test_unsymmetric_bending_of_an_angle(self) -> None:
        """L 50 x 50 x 6, moment about x: by the principal axes at 45°, σ = M cos45 (v/I1 + u/I2) at the worst corner.

        I1 208492.0 and I2 54023.9 are the printed principal moments, the centroid is 14.7021 from both backs.
        """
        mask = np.zeros((50, 50), dtype=bool)
        mask[:6], mask[:, :6] = True, True
        part, c = math.cos(math.pi / 4), 14.7021
        ends = [(0, 0), (50, 0), (50, 6), (6, 50), (0, 50)]
        stress = []
        for x, y in ends:
            # (x - y)/√2 lies across the axis of the greatest moment, (x + y)/√2 across that of the least.
            across, along = (y - x) * part, (x + y - 2 * c) * part
            stress.append(abs(part * across / 208492.0 + part * along / 54023.9))
        assert 1 / WeldGroup(mask, 1.0).bending_modulus_mm3(0) == pytest.approx(max(stress), rel=1e-4)


class TestPolygons:
    @pytest.mark.parametrize("seed", range(6))
    def test_random_polygons_with_holes(self, seed: int) -> None:
        """Exact to 1e-6 against sectionproperties (finite elements, whose geometric integrals are exact)."""
        rng = np.random.default_rng(seed)
        turn = np.sort(rng.uniform(0, 2 * math.pi, 11))
        radius = rng.uniform(6, 10, 11)
        outer = np.column_stack([30 + radius * np.cos(turn), -4 + radius * np.sin(turn)])
        hole = np.array([[30.5, -4.5], [31.5, -4.2], [30.9, -3.1]])
        holes = [hole] if seed % 2 and Polygon(outer).contains(Polygon(hole)) else []
        got = polygon_section(outer, holes)
        geometry = Geometry(Polygon(outer, holes))
        geometry.create_mesh(mesh_sizes=[3.0])
        other = FiniteElements(geometry)
        other.calculate_geometric_properties()
        assert got.area_mm2 == pytest.approx(other.get_area(), rel=1e-6)
        assert (got.x_mm, got.y_mm) == pytest.approx(other.get_c(), rel=1e-6)
        assert (got.ix_mm4, got.iy_mm4, got.ixy_mm4) == pytest.approx(other.get_ic(), rel=1e-6, abs=1e-5)
        assert (got.i1_mm4, got.i2_mm4) == pytest.approx(other.get_ip(), rel=1e-6)
        moduli = (got.z_bottom_mm3, got.z_top_mm3, got.z_right_mm3, got.z_left_mm3)
        assert moduli == pytest.approx(tuple(float(z) for z in other.get_z()), rel=1e-6)

    @pytest.mark.parametrize(
        ("corners", "area", "ix", "iy"),
        [
            ([(0, 0), (20, 0), (20, 40), (0, 40)], 800, 106666.7, 26666.7),
            (
                [(40, 0), (60, 0), (60, 80), (100, 80), (100, 100), (0, 100), (0, 80), (40, 80)],
                3600,
                3142222.2,
                1720000,
            ),
            ([(0, 0), (50, 0), (50, 6), (6, 6), (6, 50), (0, 50)], 564, 131257.96, 131257.96),
            ([(0, 0), (40, 0), (40, 5), (5, 5), (5, 60), (0, 60)], 475, 173950.11, 62700.11),
        ],
    )
    def test_printed_sections(self, corners: list[tuple[float, float]], area: float, ix: float, iy: float) -> None:
        """Rectangle, tee and two angles by their corners: the figures of the tables."""
        got = polygon_section(np.array(corners, float))
        assert (got.area_mm2, got.ix_mm4, got.iy_mm4) == pytest.approx((area, ix, iy), abs=0.05)

    @given(st.floats(0.2, 5), st.floats(0, 2 * math.pi))
    def test_turned_polygon_keeps_its_principal_moments(self, scale: float, turn: float) -> None:
        """Principal moments don't know how the photo was held; areas go with the square, moments with the fourth."""
        ring = np.array([(0, 0), (40, 0), (40, 5), (5, 5), (5, 60), (0, 60)], float)
        spin = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
        one, other = polygon_section(ring), polygon_section(ring @ spin.T * scale)
        assert other.area_mm2 == pytest.approx(one.area_mm2 * scale**2)
        assert (other.i1_mm4, other.i2_mm4) == pytest.approx((one.i1_mm4 * scale**4, one.i2_mm4 * scale**4))

    def test_pixels_of_a_polygon_agree_with_it(self) -> None:
        """A rectangle set askew on the pixels: counted by centres within 0.5 % of the exact polygon."""
        turn, scale = math.radians(27), 0.02
        spin = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
        ring = np.array([(-4, -2), (4, -2), (4, 2), (-4, 2)], float) @ spin.T + (5, 5)
        rows, cols = np.mgrid[:500, :500]
        local = (np.column_stack([cols.ravel(), rows.ravel()]) * scale - (5, 5)) @ spin
        mask = ((np.abs(local[:, 0]) <= 4) & (np.abs(local[:, 1]) <= 2)).reshape(500, 500)
        got, exact = section_properties(mask, scale), polygon_section(ring)
        assert (got.area_mm2, got.i1_mm4, got.i2_mm4) == pytest.approx(
            (exact.area_mm2, exact.i1_mm4, exact.i2_mm4), rel=5e-3
        )

    def test_a_line_encloses_nothing(self) -> None:
        """A polygon without area is refused."""
        with pytest.raises(SectionRefused, match="encloses nothing"):
            polygon_section(np.array([(0, 0), (1, 1), (2, 2)], float))


def test_corners_are_those_of_the_pixels() -> None:
    """A single pixel has its own four corners."""
    mask = np.zeros((3, 3), dtype=bool)
    mask[1, 2] = True
    assert sorted(map(tuple, outer_corners(mask, 2.0).tolist())) == [(3, 1), (3, 3), (5, 1), (5, 3)]
