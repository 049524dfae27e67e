"""The renderer of training faces: its truth is only worth something if the geometry is exact."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from scipy.ndimage import gaussian_filter

from analysis.training.render import defects, optics, weld
from analysis.training.render.__main__ import main
from analysis.training.render.camera import Camera, pixel_area_mm2
from analysis.training.render.ground import inside_mask
from analysis.training.render.layers import lay, nearest
from analysis.training.render.noise import Noise
from analysis.training.render.roads import RASTER_ID, make_plan, raster_runs
from analysis.training.render.scene import Rendered, render_face
from analysis.training.render.shapes import MAKERS, Section, box, circle, clockwise, resample, shoelace
from analysis.training.render.smooth import fill_polygon, smooth
from analysis.training.render.spec import Spec, sample_spec

SMALL = (480, 360)
CALM = {"wobble": 0.0, "overlap": 0.3, "turns": 1.0, "swing": 0.0, "road_swing": 0.0}


def disc(radius_mm: float) -> Section:
    return Section("disc", clockwise(circle(radius_mm)))


def first_spec(wanted, start=1) -> Spec:
    """The first face from seed `start` on that fits."""
    return next(s for s in (sample_spec(k, *SMALL) for k in range(start, start + 400)) if wanted(s))


@pytest.fixture(scope="module")
def faces() -> list[Rendered]:
    return [render_face(seed, *SMALL) for seed in (3, 8, 14, 21)]


class TestWalls:
    def test_disc_lengths(self):
        """Wall k of a disc is a circle of radius R - w/2 - k s; 0.5 % allowed for the grid and the softened outline."""
        plan = make_plan(disc(4.0), 0.4, 0.38, 4, 1.0)
        expected = [2 * np.pi * (4.0 - 0.2 - k * 0.38) for k in range(4)]

        np.testing.assert_allclose([w.length_mm for w in plan.walls], expected, rtol=5e-3)

    def test_ring_counts_hole_walls_outward(self):
        """Hole walls follow after the outer ones, from the hole outward."""
        section = Section("annulus", clockwise(circle(5.0)), (clockwise(circle(2.0)),))
        plan = make_plan(section, 0.5, 0.5, 2, 1.0)

        assert [(w.contour, w.index) for w in plan.walls] == [("outer", 0), ("outer", 1), ("hole0", 0), ("hole0", 1)]
        np.testing.assert_allclose(plan.walls[2].length_mm, 2 * np.pi * 2.25, rtol=5e-3)

    def test_rectangle_length_but_for_round_corners(self):
        """A rectangle's wall is the rectangle less its depth on each side; four round corners shorten it slightly."""
        section = Section("rectangle", clockwise(resample(box(9.0, 6.0), 0.04)))
        wall = make_plan(section, 0.4, 0.4, 3, 1.0).walls[1]
        sharp = 2 * (9.0 + 6.0) - 8 * 0.6

        assert sharp - 8 * 0.3 < wall.length_mm < sharp

    def test_start_and_direction(self):
        """A wall starts at the contour's largest x and runs clockwise as seen."""
        wall = make_plan(disc(4.0), 0.4, 0.4, 2, 1.0).walls[0]

        np.testing.assert_allclose(wall.line_mm[0], [3.8, 0.0], atol=0.06)
        assert shoelace(wall.line_mm) > 0

    def test_no_room_for_more(self):
        """Walls that would run into each other aren't laid; a section too narrow for one is refused."""
        strip = Section("thin_web", clockwise(resample(box(8.0, 1.7), 0.04)))

        assert make_plan(strip, 0.5, 0.5, 5, 1.0).wall_count < 5
        with pytest.raises(ValueError, match="too narrow"):
            make_plan(Section("thin_web", clockwise(resample(box(8.0, 0.3), 0.04))), 0.5, 0.5, 2, 1.0)


class TestRaster:
    @pytest.mark.parametrize(("density", "pitch"), [(1.0, 0.4), (0.25, 1.6)])
    def test_pitch(self, density, pitch):
        """Raster roads lie one spacing apart, divided by the infill density."""
        runs = [r for line in raster_runs(make_plan(disc(5.0), 0.4, 0.4, 2, density), 0.0, 0.0, 0.3) for r in line]
        rows = np.unique([round(float(r[0, 1]), 6) for r in runs])

        np.testing.assert_allclose(np.diff(rows), pitch, atol=1e-6)

    def test_every_point_lies_inside_the_walls(self):
        """Raster roads end on the innermost wall, never further out."""
        plan = make_plan(disc(5.0), 0.4, 0.4, 3, 1.0)
        layer = lay(np.random.default_rng(1), plan, 30.0, CALM)
        depth = plan.depth_at(layer.points_mm[layer.wall == RASTER_ID])

        assert depth.min() > 3 * 0.4 - 0.2

    def test_nearest_agrees_with_every_distance_taken(self):
        """The look-up gives the same distance as the plain search over all points (twin)."""
        plan = make_plan(disc(3.0), 0.4, 0.4, 2, 1.0)
        layer = lay(np.random.default_rng(2), plan, 45.0, CALM)
        points = np.random.default_rng(3).uniform(-2.5, 2.5, (200, 2))
        slow = np.hypot(*(points[:, None] - layer.points_mm).transpose(2, 0, 1)).min(1)

        # the samples lie 0.05 mm apart: the nearest sample is at most this much further than the line
        np.testing.assert_allclose(nearest(points, layer).distance_mm, slow, atol=0.026)


class TestShapes:
    @pytest.mark.parametrize("kind", sorted(MAKERS))
    def test_centred_and_clockwise(self, kind):
        """Every section is centred on its bounding box and clockwise; its holes lie inside."""
        section = MAKERS[kind](np.random.default_rng(5), 10.0)

        np.testing.assert_allclose(section.outer_mm.max(0) + section.outer_mm.min(0), 0, atol=1e-9)
        assert all(shoelace(r) > 0 for r in (section.outer_mm, *section.holes_mm))
        assert all((np.abs(h) < np.abs(section.outer_mm).max(0)).all() for h in section.holes_mm)


class TestCamera:
    @given(
        st.floats(-180, 180), st.tuples(st.floats(-40, 40), st.floats(-40, 40)),
        st.tuples(st.floats(-0.03, 0.03), st.floats(-0.03, 0.03)), st.floats(-0.02, 0.02),
    )  # fmt: skip
    @settings(max_examples=60, deadline=None)
    def test_there_and_back(self, turn, offset, keystone, k1):
        """Part mm to px and back loses less than a thousandth of a micrometre-sized pixel."""
        camera = Camera(640, 480, 12.0, turn, offset, keystone, k1)
        px = np.array([[0.0, 0.0], [639.0, 0.0], [320.0, 240.0], [10.0, 470.0]])

        np.testing.assert_allclose(camera.to_px(camera.to_mm(px)), px, atol=1e-3)

    def test_grid_is_the_map_of_every_pixel(self):
        """The quick grid equals the point-wise map."""
        camera = Camera(64, 48, 12.0, 33.0, (4.0, -2.0), (0.01, -0.02), 0.01)
        x, y = camera.grid_mm()

        np.testing.assert_allclose(camera.to_mm(np.array([[50.0, 7.0]]))[0], [x[7, 50], y[7, 50]], atol=1e-6)

    def test_area_of_a_tilted_disc(self):
        """Summed pixel areas give pi R^2 whatever the tilt; 0.3 % for the rim's whole pixels."""
        spec = first_spec(lambda s: s.plan.section.kind == "disc")
        mask = inside_mask(spec)
        radius = float(np.hypot(*spec.plan.section.outer_mm.T).mean())

        assert pixel_area_mm2(*spec.camera.grid_mm())[mask].sum() == pytest.approx(np.pi * radius**2, rel=3e-3)


class TestFill:
    @given(st.integers(0, 10_000))
    @settings(max_examples=30, deadline=None)
    def test_count_is_the_area(self, seed):
        """A filled polygon has as many pixels as its area, but for its rim."""
        rng = np.random.default_rng(seed)
        angle = np.sort(rng.uniform(0, 2 * np.pi, 9))
        p = np.c_[np.cos(angle), np.sin(angle)] * rng.uniform(20, 40, (9, 1)) + 50.3
        rim = np.hypot(*(np.roll(p, -1, 0) - p).T).sum()

        assert abs(fill_polygon(p, (100, 100)).sum() - abs(shoelace(p))) < 0.5 * rim

    def test_pixel_centres_decide(self):
        """A square from 1.5 to 4.5 holds the nine pixels 2, 3, 4."""
        mask = fill_polygon(np.array([[1.5, 1.5], [4.5, 1.5], [4.5, 4.5], [1.5, 4.5]]), (7, 7))

        assert mask.sum() == 9
        assert mask[2:5, 2:5].all()


class TestWeld:
    @given(st.floats(0.05, 0.9), st.integers(0, 1000))
    @settings(max_examples=30, deadline=None)
    def test_share_meets_the_target(self, target, seed):
        """The torn share of the nominal contact is the target, where enough contact met."""
        rng = np.random.default_rng(seed)
        n = 4000
        looks = weld.WeldLooks(target, 1, 2, 0, 0, 0.3, 0.3, 4, 0, 0.2, 0.15, 0.0, 0.3)
        able = rng.random(n) < 0.95
        band = rng.uniform(0, 1, n).astype(np.float32)
        s, ones = rng.standard_normal(n).astype(np.float32), np.ones(n, np.float32)
        margin = weld.torn_margin(s, band, looks, able, n, 0 * ones, 2 * ones)

        assert (able & (margin > 0)).sum() / n == pytest.approx(target, abs=2e-3)


class TestDefects:
    def test_unknown_pattern(self):
        """An unknown gap pattern is refused by name."""
        with pytest.raises(ValueError, match="'comb'"):
            defects.plan_defects(np.random.default_rng(0), make_plan(disc(4.0), 0.4, 0.4, 2, 1.0), "comb")

    @pytest.mark.parametrize("seed", range(5))
    def test_scattered_gaps_keep_apart(self, seed):
        """Two scattered gaps of one wall never touch, so that each is a gap of its own in the truth."""
        plan = make_plan(disc(5.0), 0.4, 0.4, 3, 1.0)
        gaps = defects.plan_defects(np.random.default_rng(seed), plan, "scattered").gaps
        for a in gaps:
            for b in gaps:
                if a is not b and a.wall == b.wall:
                    length = plan.walls[a.wall].length_mm
                    mid = (a.start_mm + a.end_mm - b.start_mm - b.end_mm) / 2
                    apart = abs((mid + length / 2) % length - length / 2)
                    assert apart > (a.length_mm + b.length_mm) / 2

    def test_gap_lies_where_the_truth_says(self):
        """Along a wall's centre line the void mask is on inside the gaps and off outside, but 0.15 mm at the ends."""
        spec = first_spec(lambda s: s.gap_pattern == "scattered" and len(s.defects.gaps) > 2)
        face = render_face(spec.seed, *SMALL)
        void = face.masks["void"] > 0
        checked = 0
        for wall, line in zip(face.truth["walls"], face.truth["photo"]["walls"], strict=True):
            p = np.rint(np.asarray(line["centreline_px"])).astype(int)
            at = np.arange(len(p)) * 0.3
            depth = np.full(len(p), -np.inf)
            for g in wall["gaps"]:
                a = (at - g["start_mm"] + wall["length_mm"] / 2 - g["length_mm"] / 2) % wall["length_mm"]
                depth = np.maximum(depth, g["length_mm"] / 2 - np.abs(a - wall["length_mm"] / 2))
            got = void[p[:, 1], p[:, 0]]
            assert got[depth > 0.15].all()
            assert not got[depth < -0.15].any()
            checked += int((depth > 0.15).sum())
        assert checked > 5


class TestPicture:
    def test_same_seed_same_bytes(self):
        """A seed gives the same photo, masks and truth every time, and another seed another face."""
        a, b, c = render_face(5, *SMALL), render_face(5, *SMALL), render_face(6, *SMALL)

        assert a.photo == b.photo
        assert json.dumps(a.truth) == json.dumps(b.truth)
        assert all((a.masks[k] == b.masks[k]).all() for k in a.masks)
        assert a.photo != c.photo

    def test_masks_nest(self, faces):
        """Bonded lies in nominal, nominal and void in the face; nothing is both bonded and void."""
        for f in faces:
            m = {k: v > 0 for k, v in f.masks.items()}
            assert not (m["bonded"] & ~m["nominal"]).any()
            assert not (m["nominal"] & ~m["face"]).any()
            assert not (m["void"] & ~m["face"]).any()
            assert not (m["bonded"] & m["void"]).any()
            assert (m["terrace"] == m["face"]).all()
            assert m["bonded"].any()

    def test_fraction_is_that_of_the_masks(self, faces):
        """The truth's bonded fraction equals the masks' pixel ratio but for the perspective's uneven pixels."""
        for f in faces:
            see = (f.masks["face"] > 0) & (f.masks["grease"] == 0)
            nominal = (f.masks["nominal"] > 0) & see
            ratio = ((f.masks["bonded"] > 0) & see).sum() / nominal.sum()
            assert f.truth["bonded_area_fraction"] == pytest.approx(ratio, abs=0.01)

    def test_outline_is_the_face(self, faces):
        """The outline polygon of the truth fills to the face mask."""
        for f in faces:
            photo = f.truth["photo"]
            mask = fill_polygon(np.asarray(photo["outline_px"]), SMALL[::-1])
            for ring in photo["holes_px"]:
                mask &= ~fill_polygon(np.asarray(ring), SMALL[::-1])
            face = f.masks["face"] > 0
            assert (mask & face).sum() / (mask | face).sum() > 0.998

    def test_whole_face_in_the_frame(self):
        """No face touches the picture's edge."""
        for seed in range(40, 70):
            p = (spec := sample_spec(seed, *SMALL)).camera.to_px(spec.plan.section.outer_mm)
            assert p.min() > 1
            assert (p.max(0) < np.array(SMALL) - 2).all()

    def test_command_writes_a_case(self, tmp_path):
        """The command writes photo, records and masks; a second run keeps what is there."""
        args = [str(tmp_path), "--count", "1", "--seed", "9", "--size", "320x240"]

        assert main(args) == 0
        folder = tmp_path / "face_000009"
        before = (folder / "photo.jpg").stat().st_mtime_ns
        assert main(args) == 0
        assert (folder / "photo.jpg").stat().st_mtime_ns == before
        with Image.open(folder / "photo.jpg") as photo:
            assert photo.size == (320, 240)
        assert {p.stem for p in (folder / "masks").iterdir()} == {
            "face", "nominal", "bonded", "void", "grease", "terrace", "walls",
        }  # fmt: skip
        assert json.loads((folder / "input.json").read_text())["surface"] == "fracture"


class TestParts:
    def test_srgb_curve(self):
        """Linear 0.2140 is encoded as 0.5 and 0.0031308 as 0.04045 (IEC 61966-2-1)."""
        got = optics.encode(np.array([0.21404, 0.0031308], np.float32), 0.0)

        np.testing.assert_allclose(got, [0.5, 0.04045], atol=6e-4)

    def test_quick_smoothing_is_gaussian(self):
        """The block-averaged smoothing of a spot stays within 4 % of the true one's peak."""
        a = np.zeros((200, 200), np.float32)
        a[80:120, 90:110] = 1
        true = gaussian_filter(a, 12.0)

        assert np.abs(smooth(a, 12.0) - true).max() < 0.04 * true.max()

    def test_noise_is_centred_and_unit(self):
        """A field has mean 0 and variance about 1 at any scale."""
        noise = Noise(np.random.default_rng(4), 0.02)
        y, x = np.mgrid[:400, :400].astype(np.float32) * np.float32(0.02)
        for scale, octaves in ((0.05, 1), (0.3, 3)):
            v = noise.field(x, y, scale, octaves=octaves)
            assert abs(v.mean()) < 0.15
            assert v.std() == pytest.approx(1, abs=0.2)
