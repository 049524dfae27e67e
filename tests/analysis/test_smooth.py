"""Smoothing and pooling by the quick way against the plain way: scipy's filter, numpy's means and maxima."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from analysis.common.smooth import block_max, block_mean, gauss

SIZES = st.integers(1, 150)


@settings(max_examples=60, deadline=None)
@given(
    rows=SIZES,
    cols=SIZES,
    sigma=st.floats(0.3, 40),
    order=st.sampled_from([(0, 0), (1, 0), (0, 1), (2, 0), (0, 2), (1, 1)]),
    truncate=st.sampled_from([2.0, 2.5, 4.0]),
)
def test_it_is_scipys_filter(rows: int, cols: int, sigma: float, order: tuple[int, int], truncate: float) -> None:
    """Any size, width, derivative and cut gives scipy's picture, up to float32's rounding; small pictures too."""
    picture = np.random.default_rng(rows * 151 + cols).normal(0, 1, (rows, cols)).astype(np.float32)
    plain = ndimage.gaussian_filter(picture.astype(float), sigma, order=order, truncate=truncate)
    assert gauss(picture, sigma, order=order, truncate=truncate) == pytest.approx(plain, abs=4e-6)


@settings(max_examples=40, deadline=None)
@given(rows=st.integers(4, 40), cols=st.integers(4, 40), size=st.integers(1, 4), deep=st.booleans())
def test_blocks_are_numpys_means_and_maxima(rows: int, cols: int, size: int, deep: bool) -> None:
    """Blocks hold the mean and the maximum of their own pixels, and rows and columns left over are dropped."""
    shape = (rows, cols, 3) if deep else (rows, cols)
    picture = np.random.default_rng(rows * 41 + cols).normal(0, 1, shape).astype(np.float32)
    m, n = rows // size, cols // size
    blocks = picture[: m * size, : n * size].reshape(m, size, n, size, *shape[2:])
    assert block_mean(picture, size) == pytest.approx(blocks.mean((1, 3)), abs=1e-6)
    if not deep:
        assert (block_max(picture, size) == blocks.max((1, 3))).all()
