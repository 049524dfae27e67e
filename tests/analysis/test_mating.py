"""Drawn halves whose turn, shift and scale are known; then pairs that don't belong together."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from analysis.halves.mating import MateFit, fit_mate
from analysis.imaging.photo import Photo, PhotoFacts
from analysis.imaging.scale import Scale, scale_from_um_per_px
from analysis.outlines.outline import Outline

Floats = NDArray[np.float64]
LINE_MM = 0.5
L_SHAPE = np.array([(0, 0), (11, 0), (11, 3.5), (4, 3.5), (4, 8), (0, 8)], float) - [4, 3]
RECTANGLE = np.array([(-5, -3), (5, -3), (5, 3), (-5, 3)], float)
SQUARE = np.array([(-4, -4), (4, -4), (4, 4), (-4, 4)], float)
DISC = 4.0 * np.column_stack([np.cos(np.linspace(0, 2 * np.pi, 180)[:-1]), np.sin(np.linspace(0, 2 * np.pi, 180)[:-1])])


def outline(ring_mm: Floats, to_px: Floats, holes: tuple[Floats, ...] = ()) -> Outline:
    """A drawn outline in px."""
    return Outline(placed(ring_mm, to_px), tuple(placed(h, to_px) for h in holes), "drawn", 1.0, 1.0)


def placed(points: Floats, affine: Floats) -> Floats:
    """Points under a 2x3 map."""
    return points @ affine[:, :2].T + affine[:, 2]


def camera(um_per_px: float, turn_deg: float = 0.0, mirrored: bool = False, middle: float = 500.0) -> Floats:
    """Map of part mm to px of a photo; the mate's is mirrored."""
    a = np.deg2rad(turn_deg)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]) * 1000 / um_per_px
    return np.column_stack([turn @ np.diag([-1 if mirrored else 1, 1]), [middle, middle * 0.9]])


def truth(to_px: Floats, to_mate_px: Floats) -> Floats:
    """Photo px to mate px by way of the part."""
    back = np.linalg.inv(to_px[:, :2])
    linear = to_mate_px[:, :2] @ back
    return np.column_stack([linear, to_mate_px[:, 2] - linear @ to_px[:, 2]])


def error_mm(fit: MateFit, ring_px: Floats, true: Floats, um_per_px: float) -> float:
    """Mean distance of the outline laid by the fit from where it belongs."""
    assert fit.affine is not None
    return float(np.hypot(*(placed(ring_px, fit.affine) - placed(ring_px, true)).T).mean() * um_per_px / 1000)


def weld(seed: int, size_mm: float = 14.0, cells: int = 512) -> Floats:
    """A random pattern of torn patches about half a millimetre wide, on a square about the part's middle, 0..1."""
    noise = np.random.default_rng(seed).normal(size=(cells, cells))
    return np.asarray(ndimage.gaussian_filter(noise, 0.4 / size_mm * cells) > 0, float)


def picture(pattern: Floats, to_px: Floats, seed: int, size_mm: float = 14.0) -> Photo:
    """A photo of the pattern: whitened and rough where torn, orange elsewhere, with noise of its own."""
    rows, cols = np.mgrid[:900, :1000]
    back = np.linalg.inv(to_px[:, :2])
    part = (np.column_stack([cols.ravel(), rows.ravel()]) - to_px[:, 2]) @ back.T
    x, y = (part / size_mm + 0.5).T * len(pattern) - 0.5
    torn = ndimage.map_coordinates(pattern, [y, x], order=1, mode="nearest").reshape(rows.shape)[..., None]
    rng = np.random.default_rng(seed)
    light = 1 + rng.normal(0, 0.03, torn.shape) + torn * rng.normal(0, 0.15, torn.shape)
    colour = (1 - torn) * np.array([0.75, 0.38, 0.12]) + torn * np.array([0.8, 0.62, 0.5])
    srgb = (np.clip(colour * light, 0, 1) * 255).astype(np.uint8)
    return Photo(srgb, PhotoFacts("PNG", "image/png", srgb.shape[1], srgb.shape[0], 1, 8), 1.0)


def scales(um_per_px: float, um_per_px_mate: float) -> tuple[Scale, Scale]:
    """Both with the usual uncertainty."""
    return scale_from_um_per_px(um_per_px), scale_from_um_per_px(um_per_px_mate)


class TestOutlineAlone:
    @given(turn=st.floats(0, 360), other=st.floats(0, 360), um=st.floats(6, 40), um_mate=st.floats(6, 40))
    @settings(max_examples=40)
    def test_shape_without_symmetry_is_laid_exactly(self, turn: float, other: float, um: float, um_mate: float) -> None:
        """Whatever the turns and scales, an L comes back within a twentieth of a road."""
        here, there = camera(um, turn), camera(um_mate, other, mirrored=True)
        mine = outline(L_SHAPE, here)
        fit = fit_mate(mine, outline(L_SHAPE, there), *scales(um, um_mate), LINE_MM)

        assert fit.fit == "fits"
        assert error_mm(fit, mine.outer_px, truth(here, there), um_mate) < LINE_MM / 20

    @given(tilt=st.floats(-0.02, 0.02), wrong=st.floats(-0.015, 0.015))
    @settings(max_examples=20)
    def test_tilt_and_wrong_scale_are_taken_up(self, tilt: float, wrong: float) -> None:
        """A photo stretched by a tilt and a scale that is 1.5 % off still fit within a tenth of a road."""
        here, there = camera(15.0, 20.0), camera(15.0, 200.0, mirrored=True)
        there[0, :2] *= 1 + tilt / 2
        mine = outline(L_SHAPE, here)
        fit = fit_mate(mine, outline(L_SHAPE, there), *scales(15.0, 15.0 * (1 + wrong)), LINE_MM)

        assert fit.fit == "fits"
        assert error_mm(fit, mine.outer_px, truth(here, there), 15.0) < LINE_MM / 10

    @given(growth=st.one_of(st.floats(0.6, 0.92), st.floats(1.08, 1.6)))
    @settings(max_examples=20)
    def test_other_size_is_refused(self, growth: float) -> None:
        """The same shape in another size is no mate."""
        pair = outline(L_SHAPE, camera(15.0)), outline(L_SHAPE * growth, camera(15.0, 77.0, mirrored=True))

        assert fit_mate(*pair, *scales(15.0, 15.0), LINE_MM).fit == "refused"

    def test_other_shapes_are_refused(self) -> None:
        """No two different shapes are taken for halves of one break, and the reason is said."""
        shapes = [L_SHAPE, RECTANGLE, SQUARE, DISC, DISC * [1, 0.9]]
        for i, first in enumerate(shapes):
            for j, second in enumerate(shapes):
                pair = outline(first, camera(15.0)), outline(second, camera(15.0, 33.0, mirrored=True))
                fit = fit_mate(*pair, *scales(15.0, 15.0), LINE_MM)
                assert (fit.fit == "refused") == (i != j), (i, j, fit.fit)
                assert i == j or (fit.affine is None and fit.reasons)

    def test_the_same_half_twice_is_refused(self) -> None:
        """A mate that isn't mirrored is the same face photographed again."""
        pair = outline(L_SHAPE, camera(15.0)), outline(L_SHAPE, camera(15.0, 90.0))

        assert fit_mate(*pair, *scales(15.0, 15.0), LINE_MM).fit == "refused"

    def test_hole_must_match(self) -> None:
        """A disc with a hole isn't the mate of a disc without."""
        there = camera(15.0, mirrored=True)
        fit = fit_mate(outline(DISC, camera(15.0), (DISC / 2,)), outline(DISC, there), *scales(15, 15), LINE_MM)

        assert fit.fit == "refused"

    @pytest.mark.parametrize(("ring", "ways"), [(RECTANGLE, 2), (SQUARE, 4)])
    def test_symmetry_is_said(self, ring: Floats, ways: int) -> None:
        """Without pictures a symmetric shape stays uncertain, with every way it can lie."""
        fit = fit_mate(
            outline(ring, camera(15.0)), outline(ring, camera(15.0, 31.0, mirrored=True)), *scales(15, 15), LINE_MM
        )

        assert (fit.fit, len(fit.alternatives)) == ("uncertain", ways)

    def test_unsure_outline_is_not_held_against_the_pair(self) -> None:
        """Where an outline was hardly found, a mismatch asks for a drawn one instead of refusing."""
        poor = outline(SQUARE, camera(15.0, mirrored=True))
        poor = Outline(poor.outer_px, (), "found", 0.35, 4.0)
        fit = fit_mate(outline(L_SHAPE, camera(15.0)), poor, *scales(15.0, 15.0), LINE_MM)

        assert fit.fit == "uncertain"
        assert "draw it by hand" in fit.reasons[0]

    def test_unsure_outline_of_quite_another_shape_is_refused(self) -> None:
        """An outline that may have strayed by a road doesn't excuse one that is several roads off."""
        here, there = camera(10.0), camera(10.0, 30.0, mirrored=True)
        poor = Outline(outline(RECTANGLE * [1.6, 0.6], there).outer_px, (), "found", 0.6, 4.0)
        fit = fit_mate(outline(L_SHAPE, here), poor, *scales(10.0, 10.0), LINE_MM)

        assert fit.fit == "refused"
        assert "hard to find" in fit.reasons[0]


class TestFacesDecide:
    @pytest.mark.parametrize("ring", [RECTANGLE, SQUARE, DISC], ids=["rectangle", "square", "disc"])
    @pytest.mark.parametrize("turn", [0.0, 47.0, 160.0, 301.0])
    def test_symmetric_shape_is_turned_right_by_its_face(self, ring: Floats, turn: float) -> None:
        """Of the ways a symmetric outline allows, the one where the faces agree is taken, within a quarter road."""
        here, there = camera(16.0, 10.0), camera(18.0, turn, mirrored=True)
        pattern = weld(1)
        mine = outline(ring, here)
        fit = fit_mate(
            mine,
            outline(ring, there),
            *scales(16.0, 18.0),
            LINE_MM,
            picture(pattern, here, 2),
            picture(pattern, there, 3),
        )

        assert fit.fit == "fits"
        assert error_mm(fit, mine.outer_px, truth(here, there), 18.0) < LINE_MM / 4

    @pytest.mark.parametrize("ring", [L_SHAPE, RECTANGLE, DISC], ids=["L", "rectangle", "disc"])
    @pytest.mark.parametrize("seed", [5, 6, 7, 8])
    def test_equal_shape_with_another_break_never_fits(self, ring: Floats, seed: int) -> None:
        """Two parts of one design break differently: equal outlines alone don't make a pair."""
        here, there = camera(16.0, 10.0), camera(18.0, 120.0, mirrored=True)
        fit = fit_mate(
            outline(ring, here),
            outline(ring, there),
            *scales(16.0, 18.0),
            LINE_MM,
            picture(weld(1), here, 2),
            picture(weld(seed), there, 3),
        )

        assert fit.fit != "fits"

    def test_reduced_decoding_leaves_the_answer(self) -> None:
        """A photo decoded at half size gives the same fit as the whole one."""
        here, there = camera(16.0, 10.0), camera(18.0, 250.0, mirrored=True)
        whole = picture(weld(1), here, 2)
        half = Photo(np.asarray(Image.fromarray(whole.srgb).reduce(2)), whole.facts, 2.0)
        mine, other = outline(RECTANGLE, here), outline(RECTANGLE, there)
        fits = [
            fit_mate(mine, other, *scales(16.0, 18.0), LINE_MM, p, picture(weld(1), there, 3)) for p in (whole, half)
        ]

        assert [fit.fit for fit in fits] == ["fits", "fits"]
        assert error_mm(fits[1], mine.outer_px, fits[0].affine, 18.0) < LINE_MM / 10  # type: ignore[arg-type]

    def test_outline_led_astray_is_set_right_by_the_faces(self) -> None:
        """A mate whose outline took in a strip of shadow still fits, and the person is asked to check the outlines."""
        here, there = camera(16.0, 10.0), camera(18.0, 120.0, mirrored=True)
        astray = RECTANGLE + np.array([(-0.5, -0.6), (0, -0.6), (0, 0), (-0.5, 0)])
        mine = outline(RECTANGLE, here)
        pattern = weld(1)
        pictures = picture(pattern, here, 2), picture(pattern, there, 3)
        fit = fit_mate(mine, outline(astray, there), *scales(16.0, 18.0), LINE_MM, *pictures)

        assert fit.fit == "fits"
        assert "check both outlines" in fit.reasons[0]
        assert error_mm(fit, mine.outer_px, truth(here, there), 18.0) < LINE_MM / 2

    def test_smooth_faces_decide_nothing(self) -> None:
        """Two faces without a mark can't tell how a rectangle lies: the answer isn't "fits"."""
        here, there = camera(16.0, 10.0), camera(18.0, 120.0, mirrored=True)
        pictures = picture(np.zeros((64, 64)), here, 2), picture(np.zeros((64, 64)), there, 3)
        pair = outline(RECTANGLE, here), outline(RECTANGLE, there)

        assert fit_mate(*pair, *scales(16.0, 18.0), LINE_MM, *pictures).fit != "fits"
