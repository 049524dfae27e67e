"""Rubbed patches on outer surfaces: area, direction of the scratches, period of the layer lines."""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy import ndimage

from analysis.imaging.photo import Photo, read_photo
from analysis.imaging.scale import scale_from_um_per_px
from analysis.measures.rubbing import measure_rub
from tests.analysis.drawn import as_photo

FACES = Path(__file__).parent.parent / "faces"
SCALE = scale_from_um_per_px(10.0)


def layered(period_px: float, turn_deg: float, every_second: float = 0.0) -> Photo:
    """Layer lines of a period and direction, with camera noise; every second one may be brighter."""
    y, x = np.mgrid[:600, :800].astype(float)
    across = y * np.cos(np.radians(turn_deg)) - x * np.sin(np.radians(turn_deg))
    picture = 120 + 25 * np.cos(2 * np.pi * across / period_px) + every_second * np.cos(np.pi * across / period_px)
    picture += ndimage.gaussian_filter(np.random.default_rng(4).normal(0, 12, picture.shape), 1.0)
    return as_photo(np.repeat(np.clip(picture, 0, 255).astype(np.uint8)[..., None], 3, axis=2))


@pytest.mark.parametrize("turn_deg", [0.0, 30.0, 90.0, 155.0])
def test_drawn_layer_lines(turn_deg: float) -> None:
    """Lines 20 px apart at 10 µm/px have a period of 0.2 mm, in the direction drawn, and no rubbed patch."""
    measured = measure_rub(layered(20.0, turn_deg), SCALE)
    assert measured.layer_line_period_mm == pytest.approx(0.2, rel=0.02)
    assert measured.layer_line_deg is not None
    assert abs((measured.layer_line_deg - turn_deg + 90) % 180 - 90) < 2
    assert measured.rub_area_mm2 == 0.0
    assert measured.scratch_deg is None
    assert "scratch_deg" in measured.reasons


def test_every_second_line_brighter() -> None:
    """The period is from line to line, not from bright line to bright line."""
    measured = measure_rub(layered(32.5, 0.0, every_second=12.0), SCALE)
    assert measured.layer_line_period_mm == pytest.approx(0.325, rel=0.03)


def test_nothing_to_tell_a_patch_from() -> None:
    """Without layer lines nothing is measured and a reason is given, instead of 0."""
    noise = np.random.default_rng(2).integers(90, 150, (300, 400, 1), dtype=np.uint8).repeat(3, axis=2)
    measured = measure_rub(as_photo(noise), SCALE)
    assert measured.rub_area_mm2 is None
    assert "layer lines" in measured.reasons["rub_area_mm2"]


@pytest.mark.parametrize(("roughness", "area_mm2"), [(0.02, 0.0), (0.1, None)])
def test_rough_all_over_is_not_said_to_be_unrubbed(roughness: float, area_mm2: float | None) -> None:
    """Where all of the surface is rough along its lines and no patch stands out, the area is null with a reason."""
    y = np.mgrid[:600, :800][0]
    rough = ndimage.gaussian_filter(np.random.default_rng(8).normal(0, 1, y.shape), 1.5) * 5 * roughness
    picture = 90 * np.exp(0.2 * np.cos(2 * np.pi * y / 20.0) + rough)
    measured = measure_rub(as_photo(np.repeat(picture.astype(np.uint8)[..., None], 3, axis=2)), SCALE)
    assert measured.rub_area_mm2 == area_mm2
    assert ("worn all over" in measured.reasons.get("rub_area_mm2", "")) == (area_mm2 is None)
    assert measured.slopes_along_to_across is not None


@pytest.mark.parametrize("folder", sorted(FACES.glob("face_*")), ids=lambda p: p.name)
def test_rendered_outer_surfaces(folder: Path) -> None:
    """Area within 30 % and scratches within 10° of a rendered patch's truth; nothing found where nothing rubbed."""
    given, truth = (json.loads((folder / name).read_text()) for name in ("input.json", "truth.json"))
    if given["surface"] != "outer":
        pytest.skip("a fracture face")
    measured = measure_rub(read_photo(folder / "photo.jpg"), scale_from_um_per_px(given["um_per_px"]))
    assert measured.rub_area_mm2 == pytest.approx(truth["rub_patch_mm2"], rel=0.3, abs=0.5)
    if truth["rub_patch_mm2"]:
        assert measured.scratch_deg is not None
        assert abs((measured.scratch_deg - truth["scratch_direction_deg"] + 90) % 180 - 90) < 10
