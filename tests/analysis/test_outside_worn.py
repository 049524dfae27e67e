"""Layer lines and wear on pictures that others took: gel imprints of abraded PLA, and three textures everyone has.

The gel pictures (ETSim/WearSurfacesDatasets, MIT, commit f0153eb) show a printed PLA surface after 0 to 2000 mm under
abrasive paper P220 or P60 at 200 g; a folder of them may lie beside the project, else those checks are skipped. They
have no scale: 10 µm/px is assumed here, so 0.183 mm stands for 18.3 px. Their pitch was found by a Fourier transform
elsewhere: 18.1 to 18.5 px over P220, 32.5 px (33.0 at 1600 and 2000 mm) over P60, where every second line is brighter
and twice the pitch the trap. The pictures at 0 and 1800 mm over P220 have another exposure and are left out of trends.
"""

import os
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from skimage import data

from analysis.examine import ExamineRequest, examine
from analysis.imaging.photo import read_photo
from analysis.imaging.scale import scale_from_um_per_px
from analysis.measures.rubbing import RubMeasure, measure_rub
from analysis.measures.rubjson import between_deg
from tests.analysis.drawn import as_photo

BESIDE = Path(__file__).resolve().parents[3] / "shared" / "data"
GEL = Path(os.environ.get("LAYERWITNESS_GEL_PICTURES", BESIDE / "pla-wear-gelsight"))
SCALE = scale_from_um_per_px(10.0)
OTHER_EXPOSURE = {0, 1800}
P220 = tuple(range(0, 2001, 200))
P60 = (0, 200, 400, 600, 800, 1600, 2000)


def picture(paper: str, distance_mm: int) -> Path:
    if not GEL.is_dir():
        pytest.skip("no pictures of worn surfaces beside the project")
    return GEL / f"pla_200g_s{paper}" / f"{distance_mm:04}mm.jpg"


def measured(paper: str, distance_mm: int) -> RubMeasure:
    return measure_rub(read_photo(picture(paper, distance_mm)), SCALE)


def spectral_direction(path: Path) -> float:
    """Direction of the lines from the strongest place of the plain two-dimensional spectrum."""
    grey = read_photo(path).srgb.mean(axis=2)
    window = np.hanning(grey.shape[0])[:, None] * np.hanning(grey.shape[1])
    power = np.abs(np.fft.rfft2((grey - grey.mean()) * window, (4096, 4096)))
    power[:, :40] *= np.hypot(*np.meshgrid(np.fft.fftfreq(4096), np.arange(40) / 4096, indexing="ij")) > 0.01
    row, column = np.unravel_index(np.argmax(power), power.shape)
    return float((np.degrees(np.arctan2(np.fft.fftfreq(4096)[row], column / 4096)) + 90.0) % 180.0)


@pytest.mark.parametrize(("paper", "distance_mm"), [("220", d) for d in P220] + [("60", d) for d in P60])
def test_pitch_of_real_layer_lines(paper: str, distance_mm: int) -> None:
    """Every picture has the pitch found elsewhere: neither twice it, nor half, nor something between."""
    period_mm = measured(paper, distance_mm).layer_line_period_mm
    least, most = (0.181, 0.185) if paper == "220" else (0.325, 0.330)
    assert period_mm is not None
    assert least - 0.001 < period_mm < most + 0.001


@pytest.mark.parametrize(("paper", "distance_mm"), [("220", d) for d in P220[::2]] + [("60", d) for d in P60[::2]])
def test_direction_of_real_layer_lines(paper: str, distance_mm: int) -> None:
    """Within a degree of where the picture's two-dimensional spectrum is strongest."""
    found = measured(paper, distance_mm).layer_line_deg
    assert found is not None
    assert between_deg(found, spectral_direction(picture(paper, distance_mm))) < 1.0


@pytest.mark.parametrize("paper", ["220", "60"])
def test_abrasive_paper_has_no_layer_lines(paper: str) -> None:
    """On the papers themselves nothing is measured, with a reason."""
    if not GEL.is_dir():
        pytest.skip("no pictures of worn surfaces beside the project")
    found = measure_rub(read_photo(GEL / f"pla_200g_s{paper}" / "sandpaper.jpg"), SCALE)
    assert found.rub_area_mm2 is None
    assert found.slopes_along_to_across is None
    assert {"rub_area_mm2", "slopes_along_to_across"} <= set(found.reasons)


def test_wear_rises_with_the_distance_rubbed() -> None:
    """Over P220 the slopes along the lines, against those across, rise with the distance: rank correlation >= 0.8."""
    distances = [d for d in P220 if d not in OTHER_EXPOSURE]
    wear = [measured("220", d).slopes_along_to_across for d in distances]
    assert None not in wear
    assert stats.spearmanr(distances, wear).statistic >= 0.8


@pytest.mark.parametrize("distance_mm", [0, 2000])
def test_no_patch_is_not_said_to_be_unworn(distance_mm: int) -> None:
    """Whether all of it is worn one picture doesn't tell: null with a reason or 0 with a warning, never a bare 0."""
    request = ExamineRequest(picture("220", distance_mm), 10.0, 0.4, 0.183, surface="outer")
    result = examine(request).result
    assert result["slopes_along_to_across"] is not None
    if result["rub_area_mm2"] is None:
        assert "worn all over" in result["reasons"]["rub_area_mm2"]
    else:
        assert any("worn evenly all over" in text for text in result["warnings"])


def textured(name: str) -> RubMeasure:
    grey = getattr(data, name)()
    return measure_rub(as_photo(np.repeat(grey[..., None], 3, axis=2)), SCALE)


def test_bricks_have_a_direction() -> None:
    """In scikit-image's picture of a brick pavement the long joints run up the picture, to within their own spread.

    They meet far above it: the outermost lean by some 8 degrees to either side, so 90 is right to a few degrees.
    """
    found = textured("brick").layer_line_deg
    assert found is not None
    assert between_deg(found, 90.0) < 4.0


@pytest.mark.parametrize("name", ["grass", "gravel"])
def test_grass_and_gravel_have_none(name: str) -> None:
    """scikit-image's grass and gravel are refused, with a reason, instead of given a direction."""
    found = textured(name)
    assert found.layer_line_deg is None
    assert found.rub_area_mm2 is None
    assert "layer lines" in found.reasons["layer_line_deg"]
