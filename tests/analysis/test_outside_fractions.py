"""Shares, counts and scales on micrographs that others took, whose phase shares or scale bars are known.

A folder of them may lie beside the project, else these checks are skipped:

* electrode slices: a segmented three-phase battery electrode (tldr-group/taufactor, MIT, commit fb64548), 256 slices of
  256 x 256 px with values 0, 85 and 170; whole-stack shares 0.449917, 0.400466, 0.149616, counted exactly;
* glass: SEM of glass with bubbles and sand (Scientific Python Lectures, CC BY 4.0), with the recipe of its tutorial:
  60 rows cut off, median over 7 x 7, bubbles up to 50, sand up to 114. Field width 3.25 mm, a drawn bar of 1.0 mm;
* nanoporous gold: palette TIFF (aquami 1.1.0, MIT), field width 556.0 nm, a drawn bar of 20 nm.
"""

import csv
import io
import os
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageSequence
from scipy import ndimage
from skimage import measure

from analysis.imaging.photo import check_photo, read_photo
from analysis.imaging.scale import scale_from_points, scale_from_um_per_px
from analysis.measures.countgrid import CountGrid, Layout, lay_grid
from analysis.measures.facecount import FaceCount, face_count, tally

BESIDE = Path(__file__).resolve().parents[3] / "shared" / "data"
FOLDER = Path(os.environ.get("LAYERWITNESS_MICROGRAPHS", BESIDE / "area-fraction-truth"))
PHASES = {"pore": (0, 0.449917), "particle": (85, 0.400466), "binder": (170, 0.149616)}
COLUMNS = {"pore": "pore_0", "particle": "particle_85", "binder": "binder_170"}
Grey = NDArray[np.uint8]


def beside(name: str) -> Path:
    if not FOLDER.is_dir():
        pytest.skip("no micrographs with known shares beside the project")
    return FOLDER / name


def grey_of(name: str) -> Grey:
    srgb = read_photo(beside(name)).srgb
    assert (srgb == srgb[..., :1]).all()
    return srgb[..., 0]


def stack() -> list[Grey]:
    with Image.open(beside("electrode_3phase_256cube.tiff")) as image:
        return [np.asarray(frame) for frame in ImageSequence.Iterator(image)]


def grid_on(shape: tuple[int, int], points: int, fields: int, seed: int, layout: Layout = "throws") -> CountGrid:
    """Points on a whole picture, to the outer edges of its pixels."""
    right, bottom = shape[1] - 0.5, shape[0] - 0.5
    box = [(-0.5, -0.5), (right, -0.5), (right, bottom), (-0.5, bottom)]
    return lay_grid(box, [], points, fields, seed, layout)


def seen(phase: NDArray[np.bool_], grid: CountGrid) -> list[str]:
    """The keys that a person presses who sees every point's pixel rightly."""
    x, y = np.rint(grid.points_px).astype(int).T
    hit = phase[np.clip(y, 0, phase.shape[0] - 1), np.clip(x, 0, phase.shape[1] - 1)]
    return ["b" if one else "e" for one in hit]


def counted(phase: NDArray[np.bool_], grid: CountGrid) -> FaceCount:
    return face_count(tally(seen(phase, grid), grid.field_of.tolist()))


def coverage(counts: list[FaceCount], true: float) -> float:
    held = [count.interval is not None and count.interval[0] <= true <= count.interval[1] for count in counts]
    return float(np.mean(held))


class TestElectrode:
    """The shares are exact, so an interval's promise can be put to the test."""

    def test_slices_are_read_to_the_pixel(self) -> None:
        """Phase shares of each slice as in the table that came with them, to the table's last digit."""
        with beside("electrode_slice_fractions.csv").open(newline="") as file:
            for row in csv.DictReader(file):
                grey = grey_of(f"electrode_slice_{int(row['slice']):03}.png")
                for phase, (value, _) in PHASES.items():
                    assert (grey == value).mean() == pytest.approx(float(row[COLUMNS[phase]]), abs=5.1e-7)

    def test_first_page_of_a_stack_is_the_photo(self) -> None:
        """A TIFF of many pages is read as its first, the slice 0."""
        assert (grey_of("electrode_3phase_256cube.tiff") == grey_of("electrode_slice_000.png")).all()

    @pytest.mark.parametrize("phase", PHASES)
    def test_fields_from_slices_hold_the_whole(self, phase: str) -> None:
        """Eight slices drawn from 256, one field each: 95 % intervals hold the whole stack's share (200 trials).

        91 to 98 in 100 allow for chance, and for t's being only nearly right for shares of few points.
        """
        value, true = PHASES[phase]
        slices, chance = stack(), np.random.default_rng(11)
        assert np.mean([one == value for one in slices]) == pytest.approx(true, abs=5e-7)
        counts = []
        for trial in range(200):
            drawn = chance.choice(256, 8, replace=False).tolist()
            codes = [seen(slices[k] == value, grid_on((256, 256), 49, 1, 1000 * trial + k)) for k in drawn]
            fields = [number for number, one in enumerate(codes) for _ in one]
            counts.append(face_count(tally([code for one in codes for code in one], fields)))
        assert 0.91 <= coverage(counts, true) <= 0.98

    @pytest.mark.parametrize("phase", PHASES)
    @pytest.mark.parametrize(("layout", "most"), [("throws", 0.98), ("patches", 1.0)])
    def test_count_of_one_slice_holds_its_share(self, phase: str, layout: Layout, most: float) -> None:
        """Ten fields on one slice: 95 % intervals hold that slice's share at least 91 times in 100 (300 trials).

        Patches cover the face evenly, so their spread overstates the error; they may hold it more often.
        """
        there = grey_of("electrode_slice_128.png") == PHASES[phase][0]
        counts = [counted(there, grid_on(there.shape, 25, 10, seed, layout)) for seed in range(300)]
        assert 0.91 <= coverage(counts, float(there.mean())) <= most
        assert np.mean([count.share for count in counts]) == pytest.approx(there.mean(), abs=0.01)


class TestGlass:
    """A tutorial's recipe on our reading of the photo, and a scale told twice."""

    def regions(self) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        smooth = ndimage.median_filter(grey_of("glass_sem_MV_HFV_012.jpg")[:-60], size=(7, 7))
        return smooth <= 50, (smooth > 50) & (smooth <= 114)

    def test_recipe_gives_its_shares(self) -> None:
        """Bubbles 0.1955, sand 0.2138, glass 0.5906, as the recipe gives elsewhere."""
        bubbles, sand = self.regions()
        assert bubbles.mean() == pytest.approx(0.1955, abs=5e-4)
        assert sand.mean() == pytest.approx(0.2138, abs=5e-4)
        assert (~bubbles & ~sand).mean() == pytest.approx(0.5906, abs=5e-4)

    def test_recipe_gives_its_bubbles(self) -> None:
        """104 bubbles of 1699.875 px on average, 65 px in the middle."""
        labels = measure.label(self.regions()[0], connectivity=1)
        sizes = np.bincount(labels.ravel())[1:]
        assert len(sizes) == 104
        assert sizes.mean() == pytest.approx(1699.875, rel=0.002)
        assert np.median(sizes) == pytest.approx(65.0, abs=2)

    @pytest.mark.parametrize("layout", ["throws", "patches"])
    def test_count_by_hand_agrees_with_the_recipe(self, layout: Layout) -> None:
        """Ten fields of 49 points hold the recipe's share of bubbles at least 91 times in 100 (200 trials)."""
        bubbles = self.regions()[0]
        counts = [counted(bubbles, grid_on(bubbles.shape, 49, 10, seed, layout)) for seed in range(200)]
        assert coverage(counts, float(bubbles.mean())) >= 0.91

    def test_pixels_are_no_points(self) -> None:
        """Of 64 tiles, the interval that takes each pixel for a point holds the picture's share in less than a third.

        Neighbouring pixels lie in the same bubble; that is why a count of points has fields.
        """
        bubbles = self.regions()[0][:880]
        tiles = bubbles.reshape(8, 110, 8, 128).mean(axis=(1, 3))
        half = 1.96 * np.sqrt(tiles * (1 - tiles) / (110 * 128))
        assert (np.abs(tiles - bubbles.mean()) <= half).mean() < 0.33

    def test_bar_and_field_width_agree(self) -> None:
        """The drawn bar of 1.0 mm and 3.25 mm over 1024 px are one scale, within what two line ends allow."""
        caption = grey_of("glass_sem_MV_HFV_012.jpg")[890:905, 550:1000] > 200
        columns = np.nonzero(caption.any(axis=0))[0] + 550
        bar = scale_from_points((columns[0], 898), (columns[-1], 898), 1.0)
        width = scale_from_um_per_px(3250 / 1024)
        assert columns[[0, -1]].tolist() == pytest.approx([609, 926], abs=2)
        assert abs(bar.um_per_px / width.um_per_px - 1) < 2 * bar.relative_sd
        assert 0.002 < bar.relative_sd < 0.01


class TestGold:
    """A palette TIFF, and its scale told twice."""

    def test_palette_is_looked_up(self) -> None:
        """Every pixel has its palette's colour, by the file's own uncompressed bytes and its ColorMap (TIFF 6.0, 5)."""
        data = beside("nanoporous_gold_sem.tif").read_bytes()
        with Image.open(io.BytesIO(data)) as image:
            tags = dict(image.tag_v2)
        assert (tags[259], tags[262]) == (1, 3)  # not compressed; palette
        colours = np.array(tags[320]).reshape(3, 256).T // 257
        codes = np.frombuffer(data, np.uint8, 1024 * 768, tags[273][0]).reshape(768, 1024)
        assert (read_photo(data).srgb == colours[codes]).all()
        facts = check_photo(data)
        assert (facts.format, facts.width_px, facts.height_px, facts.bits) == ("TIFF", 1024, 768, 8)

    def test_bar_and_field_width_agree(self) -> None:
        """The ends of the bar of 20 nm lie 37 px apart, and 556.0 nm over 1024 px say the same within their spread."""
        box = grey_of("nanoporous_gold_sem.tif")[715:755, 280:340] < 128
        ticks = np.nonzero(box.sum(axis=0) >= 18)[0] + 280
        first, last = ticks[ticks < 310].mean(), ticks[ticks > 310].mean()
        bar = scale_from_points((first, 734), (last, 734), 20e-6)
        assert last - first == pytest.approx(37, abs=0.6)
        assert abs(bar.um_per_px / (0.556 / 1024) - 1) < 2 * bar.relative_sd
