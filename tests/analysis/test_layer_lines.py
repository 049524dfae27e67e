"""Direction, period and wear of drawn layer lines."""

import numpy as np
import pytest
from scipy import ndimage

from analysis.measures.layer_lines import Grey, LayerLines, find_layer_lines, slopes_of
from analysis.measures.rubjson import between_deg

UM = 10.0


def drawn(
    period_px: float, turn_deg: float = 0.0, bow_px: float = 0.0, second: float = 0.0, rough: float = 0.01
) -> Grey:
    """Log brightness of lines that bow by `bow_px` from end to end; every second one brighter by `second`."""
    y, x = np.mgrid[:500, :700].astype(float)
    turn = np.radians(turn_deg)
    across = y * np.cos(turn) - x * np.sin(turn) + bow_px * ((x - 350) / 350) ** 2
    lines = 0.2 * np.cos(2 * np.pi * across / period_px) + second * np.cos(np.pi * across / period_px)
    noise = ndimage.gaussian_filter(np.random.default_rng(8).normal(0, 1, lines.shape), 1.5) * rough
    return np.asarray(4.5 + lines + noise * 5, dtype=np.float32)


def found(grey: Grey) -> LayerLines:
    lines = find_layer_lines(grey, slopes_of(grey), UM)
    assert lines is not None
    return lines


@pytest.mark.parametrize("turn_deg", [0.0, 4.5, 45.0, 88.0, 137.0, 179.0])
@pytest.mark.parametrize("period_px", [9.0, 18.3, 32.5])
def test_period_and_direction_as_drawn(period_px: float, turn_deg: float) -> None:
    """The period to 1 %, the direction to half a degree, whichever way the lines run."""
    lines = found(drawn(period_px, turn_deg))
    assert lines.period_px == pytest.approx(period_px, rel=0.01)
    assert between_deg(lines.deg, turn_deg) < 0.5


def test_bowed_lines_keep_their_period() -> None:
    """Lines of a round side that bow by a whole period are measured as well as straight ones."""
    assert found(drawn(18.3, bow_px=18.3)).period_px == pytest.approx(18.3, rel=0.02)


def test_every_second_line_brighter_is_no_period() -> None:
    """The distance from line to line, as long as the lines themselves are plainer than their taking turns."""
    assert found(drawn(18.3, second=0.1)).period_px == pytest.approx(18.3, rel=0.01)


def test_two_edges_a_line_are_one_line() -> None:
    """Where nearly as much power lies at twice the strongest period, that is the lines' own."""
    assert found(drawn(12.5, second=0.17)).period_px == pytest.approx(25.0, rel=0.01)


def test_slopes_along_rise_with_roughness() -> None:
    """The rougher the surface along its lines, the higher, from next to 0."""
    rough = [found(drawn(18.3, rough=rough)).slopes_along_to_across for rough in (0.0, 0.02, 0.05, 0.1)]
    assert rough[0] < 0.01
    assert rough == sorted(rough)


def test_lines_without_a_rhythm_have_no_period() -> None:
    """Scratches side by side at random have a direction, but no period is made up for them."""
    profile = ndimage.gaussian_filter1d(np.random.default_rng(3).normal(0, 1, 500), 2.0)
    lines = found(np.asarray(4.5 + np.repeat(profile[:, None], 700, axis=1), dtype=np.float32))
    assert lines.period_px is None


def test_a_plain_surface_has_no_lines() -> None:
    """Noise agrees on no direction."""
    noise = np.random.default_rng(5).normal(4.5, 0.1, (300, 400)).astype(np.float32)
    assert find_layer_lines(noise, slopes_of(noise), UM) is None
