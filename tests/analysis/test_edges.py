"""The level along the edges of torn patches."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from analysis.welds.edges import edge_cues


@settings(max_examples=20, deadline=None)
@given(st.floats(0.1, 0.9), st.integers(0, 1000))
def test_level_lies_between_the_kinds_whatever_their_share(share, seed):
    """Patches that take up 10 to 90 % of the face are told from the rest by the sign of the cue."""
    rng = np.random.default_rng(seed)
    field = ndimage.gaussian_filter(rng.standard_normal((160, 160)), 8)
    torn = field > np.quantile(field, 1 - share)
    signal = (0.2 + 0.4 * torn + 0.03 * rng.standard_normal(torn.shape)).astype(np.float32)
    found = edge_cues({"light": signal}, np.ones_like(torn), 12.0)

    assert np.median(found["light_edge"][torn]) > 0 > np.median(found["light_edge"][~torn])
    assert found["light_edge_share"][0, 0] == pytest.approx(share, abs=0.1)


def test_another_light_changes_nothing():
    """Scale and offset of the signal leave the cues as they are."""
    rng = np.random.default_rng(3)
    signal = ndimage.gaussian_filter(rng.standard_normal((80, 80)), 3).astype(np.float32)
    tops = np.ones(signal.shape, bool)
    one, two = edge_cues({"a": signal}, tops, 12.0), edge_cues({"a": 5 + 30 * signal}, tops, 12.0)

    assert np.corrcoef(one["a_edge"].ravel(), two["a_edge"].ravel())[0, 1] > 0.999
    assert one["a_edge_share"][0, 0] == pytest.approx(two["a_edge_share"][0, 0], abs=0.01)


def test_local_level_follows_the_light():
    """Where the light falls off across the face, the neighbourhood's level still tells the two kinds apart."""
    rng = np.random.default_rng(5)
    field = ndimage.gaussian_filter(rng.standard_normal((240, 240)), 5)
    torn = field > 0
    signal = (0.3 * torn + np.linspace(0, 0.8, 240)[None, :]).astype(np.float32)
    found = edge_cues({"a": signal}, np.ones_like(torn), 12.0)
    near = ((found["a_edge_near"] > 0) == torn).mean()

    assert near > 0.85 > ((found["a_edge"] > 0) == torn).mean()
