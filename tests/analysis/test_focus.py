"""A focus series to one sharp picture with heights: series rendered from scikit-image's textures and known depths.

No real series with known heights was found; what is promised here holds for the rendered ones, blurred by a Gaussian
and by a round opening's disc.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage
from skimage import data

from analysis.fields.focus import Merged, merge_focus
from analysis.fields.levels import NO_LEVEL, levels_of, levels_of_planes
from analysis.fields.place import FieldsRefused, NoOverlap, ResidualTooLarge
from tests.analysis.rendered_focus import series

GRAVEL = data.gravel()[:240, :300]
COLS = np.indices(GRAVEL.shape)[1]
THREE_PLANES = np.where(COLS < 100, 2.5, np.where(COLS < 200, 4.5, 6.5))
COUNT = 9


def merged(slices: list[np.ndarray]) -> Merged:
    return merge_focus(slices, [f"{n}.png" for n in range(len(slices))])


def on_grid(picture: np.ndarray, found: Merged) -> np.ndarray:
    step, shape = found.depth.step, found.depth.index.shape
    return picture[: shape[0] * step, : shape[1] * step].reshape(shape[0], step, shape[1], step).mean((1, 3))


def fineness(grey: np.ndarray) -> float:
    return float((ndimage.gaussian_laplace(grey[16:-16, 16:-16].astype(float), 1) ** 2).mean())


@pytest.mark.parametrize("disc", [False, True], ids=["gaussian", "disc"])
def test_planes_and_a_slope_come_out_at_their_depth(disc: bool) -> None:
    """Depths between two slices are found to a twentieth of a slice in the middle, to a fifth for 95 of 100 places."""
    rows = np.indices(GRAVEL.shape)[0]
    depth = THREE_PLANES + (rows / GRAVEL.shape[0] - 0.5)
    slices, _ = series(GRAVEL, depth, COUNT, disc=disc)

    found = merged(slices)

    off = np.abs(found.depth.index - on_grid(depth, found))
    assert found.depth.known_share > 0.97
    assert np.nanmedian(off) < 0.05
    assert np.nanpercentile(off, 95) < 0.2


def test_the_picture_is_sharper_than_every_slice_and_true_to_the_face() -> None:
    """The merged picture has nearly all of the face's fine contrast, where no slice has half of it."""
    slices, _ = series(GRAVEL, THREE_PLANES - 0.5, COUNT)

    found = merged(slices)

    best = max(fineness(one[..., 0]) for one in slices)
    assert best < 0.5 * fineness(GRAVEL)
    assert fineness(found.srgb[..., 0]) > 0.9 * fineness(GRAVEL)
    inner = (slice(16, -16), slice(16, -16))
    off = np.abs(found.srgb[..., 0].astype(float) - GRAVEL)[inner].mean()
    assert off < 0.4 * min(np.abs(one[..., 0].astype(float) - GRAVEL)[inner].mean() for one in slices)


def test_breathing_and_shaking_are_taken_out() -> None:
    """Slices that grow by 0.3 % each and shake by 1.5 px are laid on each other to half a pixel at the corners."""
    slices, ways = series(GRAVEL, THREE_PLANES, COUNT, breathing=0.003, jitter=1.5)

    found = merged(slices)

    ends = np.array([[0, 0, 1], [299, 0, 1], [299, 239, 1], [0, 239, 1]], float).T
    for place, way in zip(found.places, ways, strict=True):
        x, y, _ = np.linalg.inv(ways[COUNT // 2].params) @ way.params @ ends
        assert np.abs(place.of(ends[0] + 1j * ends[1]) - (x + 1j * y)).max() < 0.6
    assert np.nanmedian(np.abs(found.depth.index - on_grid(THREE_PLANES, found))) < 0.1


def test_what_was_never_sharp_stays_unknown() -> None:
    """A blank patch and a plane below the last slice have no height; the rest has."""
    texture = GRAVEL.copy()
    texture[:120, :100] = 120
    depth = np.where(COLS < 200, 3.5, COUNT + 2.5)

    found = merged(series(texture, depth, COUNT)[0])

    known = np.isfinite(found.depth.index)
    step = found.depth.step
    assert known[8 // step : 104 // step, : 84 // step].mean() < 0.02
    assert known[:, 216 // step :].mean() < 0.02
    assert known[136 // step :, : 190 // step].mean() > 0.97
    assert (found.depth.confidence[~known] == 0).all()
    assert 0.2 < found.depth.beyond_share < 0.36  # a third lies below; what of it is too soft is unknown all the same


def test_heights_are_given_in_mm_with_the_right_sign() -> None:
    """Slices of 50 µm: two slices deeper is a tenth of a millimetre lower, or higher where the series runs upward."""
    found = merged(series(GRAVEL, THREE_PLANES, COUNT)[0])
    cut = found.depth.index.shape[1] // 3

    down, up = (np.nanmedian(found.height_mm(50.0, first)[:, : cut - 4]) for first in (True, False))

    assert down == pytest.approx((COUNT - 1 - 2.5) * 0.05, abs=0.005)
    assert up == pytest.approx(2.5 * 0.05, abs=0.005)


def test_a_stranger_in_the_series_and_a_series_without_focus_are_refused() -> None:
    """Each refusal names the picture or says what to take."""
    slices, _ = series(GRAVEL, THREE_PLANES, 5)
    stranger = np.repeat(data.brick()[:240, :300, None], 3, 2)

    with pytest.raises((NoOverlap, ResidualTooLarge), match=r"2\.png"):
        merged([slices[0], slices[1], stranger, slices[3], slices[4]])
    with pytest.raises(FieldsRefused, match="goes through focus"):
        merged([slices[2]] * 4)
    with pytest.raises(FieldsRefused, match="of one size"):
        merged([slices[0], slices[1], slices[2][:200]])
    with pytest.raises(FieldsRefused, match="3 to 60 slices"):
        merged(slices[:2])


@given(
    steps=st.lists(st.integers(-3, 3), min_size=3, max_size=3, unique=True),
    layer_mm=st.sampled_from([0.1, 0.2, 0.28]),
    tilt=st.tuples(st.floats(-0.02, 0.02), st.floats(-0.02, 0.02)),
    scatter=st.floats(0.0, 0.12),
)
@settings(max_examples=25)
def test_steps_are_counted_in_layers_under_any_tilt(
    steps: list[int], layer_mm: float, tilt: tuple[float, float], scatter: float
) -> None:
    """Three planes at whole layers on a tilted piece, rough by an eighth of a layer: their steps come out exactly."""
    planes, height = staircase(steps, layer_mm, tilt, scatter)

    found = levels_of(height, np.ones(height.shape, np.float32), 0.1, layer_mm)

    assert found.numbers is not None
    assert found.fit > 0.7
    level = levels_of_planes(planes, found)
    relative = [level[n][0] - level[1][0] for n in (1, 2, 3)]
    assert relative == [k - steps[0] for k in steps]
    assert found.scatter_mm == pytest.approx(scatter * layer_mm, abs=0.03 * layer_mm)


def staircase(
    steps: list[int], layer_mm: float, tilt: tuple[float, float], scatter: float
) -> tuple[np.ndarray, np.ndarray]:
    """Numbers of three planes side by side and their heights on a grid of 0.1 mm, 12 by 9 mm."""
    rows, cols = np.indices((90, 120))
    planes = (1 + (cols + rows // 3 > 50) + (cols > 80)).astype(np.int32)
    flat = np.array([0, *steps])[planes] * layer_mm
    rough = np.random.default_rng(7).normal(0, scatter * layer_mm, flat.shape)
    return planes, (flat + rough + tilt[0] * cols * 0.1 + tilt[1] * rows * 0.1 + 0.437).astype(np.float32)


def test_steps_that_are_no_whole_layers_are_not_counted() -> None:
    """Planes 0.37 and 0.61 of a layer apart fit less well than planes at whole layers; without any planes none fits."""
    _, height = staircase([0, 1, 2], 0.2, (0.01, 0), 0.05)
    sure = np.ones(height.shape, np.float32)
    rough = np.random.default_rng(5).normal(0, 0.3, height.shape).astype(np.float32)

    assert levels_of(height, sure, 0.1, 0.2).fit > 0.9
    assert levels_of(height, sure, 0.1, 0.2).others < 0.6
    assert levels_of(height, sure, 0.1, 0.146).fit < 0.8
    none = levels_of(rough, sure, 0.1, 0.2)
    assert none.numbers is None
    assert none.count == 0
    assert "scatter" in str(none.reason)


def test_an_unknown_height_has_no_level() -> None:
    """Nothing is counted where nothing is known, and a map without known places says so."""
    _, height = staircase([0, 1, 2], 0.2, (0, 0), 0.05)
    height[:30] = np.nan

    found = levels_of(height, np.ones(height.shape, np.float32), 0.1, 0.2)

    assert found.numbers is not None
    assert (found.numbers[:30] == NO_LEVEL).all()
    assert found.count == 3
    nothing = levels_of(np.full((9, 9), np.nan, np.float32), np.zeros((9, 9), np.float32), 0.1, 0.2)
    assert (nothing.numbers, nothing.reason) == (None, "Too little of the height is known.")


def test_levels_of_a_rendered_series_are_the_planes_of_the_face() -> None:
    """From the slices to the count: planes two slices of 50 µm apart are one layer of 0.1 mm apart."""
    found = merged(series(GRAVEL, THREE_PLANES, COUNT)[0])
    depth = found.depth

    levels = levels_of(found.height_mm(50.0, True), depth.confidence, 0.02 * depth.step, 0.1)
    planes = (1 + on_grid((COLS >= 100).astype(int) + (COLS >= 200), found)).round().astype(np.int32)

    assert levels.fit > 0.9
    assert levels.count == 3
    steps = levels_of_planes(planes, levels)
    assert [steps[n][0] - steps[1][0] for n in (1, 2, 3)] == [0, -1, -2]
    assert min(share for _, share in steps.values()) > 0.95
