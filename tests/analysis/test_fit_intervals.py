"""The fit of the intervals, on errors whose spread is known."""

import numpy as np
import pytest

from analysis.measures.intervals import Z90
from analysis.training.fit_intervals import fit

SPREAD = np.array([0.01, 0.0, 0.1, 0.3, 0.0])


def drawn(count: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Terms, other parts and |error| of `count` faces."""
    rng = np.random.default_rng(seed)
    rows = np.c_[np.ones(count), rng.uniform(0, 1, (count, 4)) ** 2]
    rest = rng.uniform(0, 0.02, count)
    return rows, rest, np.abs(rng.normal(0, np.hypot(rows @ SPREAD, rest)))


def test_holds_nine_of_ten_fresh_faces():
    """Fitted on 300 faces, the interval holds 90 % of 4000 others, and no wider on average than it has to be."""
    rows, rest, off = drawn(300, 1)
    found = fit(rows, rest, off, np.ones(len(off)))
    fresh, others, fresh_off = drawn(4000, 2)
    half = Z90 * np.hypot(fresh @ found, others)
    needed = Z90 * np.hypot(fresh @ SPREAD, others)

    assert np.mean(fresh_off <= half) == pytest.approx(0.90, abs=0.03)
    assert half.mean() == pytest.approx(needed.mean(), rel=0.10)
    assert np.corrcoef(half, needed)[0, 1] > 0.95


def test_a_set_that_counts_more_is_followed():
    """Where two sets of faces err differently, the one that counts more is held."""
    rows, rest, off = drawn(200, 3)
    wild = np.r_[np.full(100, 3.0), np.full(100, 1.0)] * off
    widths = [fit(rows, rest, wild, np.r_[np.full(100, c), np.full(100, 2 - c)]) @ rows.mean(0) for c in (0.1, 1.9)]

    assert widths[1] > 1.5 * widths[0]
