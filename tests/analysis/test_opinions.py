"""Two trainings' networks on one face: when the second is heard."""

from dataclasses import replace

import numpy as np
import pytest

from analysis.welds.bonding import _opinions
from analysis.welds.network import Network

CUES = ("a", "b")


def steady(bonded: float, second: bool = False) -> Network:
    """A network that says the same of every point: contact for sure, bonded with these log odds."""
    widths = {"a": (2, 4), "b": (4, 4), "p": (4, 3), "c": (6, 3), "d": (7, 4), "e": (4, 4), "o": (4, 6)}
    layers = {n: (np.zeros(w, np.float32), np.zeros(w[1], np.float32)) for n, w in widths.items()}
    layers["o"] = (layers["o"][0], np.array([9, -9, -9, bonded, 0, 0], np.float32))
    return Network(layers, np.zeros(2, np.float32), np.ones(2, np.float32), CUES, second)


POINTS = np.zeros((30, 2), np.float32)


def test_mixed_face_is_the_mean_of_both():
    """On a face that is not nearly all torn, the log odds of both opinions are averaged."""
    scores, apart = _opinions(POINTS, [steady(0.0), steady(-2.0, True)])

    assert scores[:, 3] == pytest.approx(-1.0)
    assert apart == pytest.approx((0.5 - 1 / (1 + np.exp(2.0))) / 2, abs=1e-4)


def test_wholly_torn_face_is_the_first_alone():
    """Where the first opinion holds nearly all for torn it stands, but the difference is told."""
    scores, apart = _opinions(POINTS, [steady(3.0), steady(-2.0, True)])

    assert scores[:, 3] == pytest.approx(3.0)
    assert apart > 0.3


def test_one_opinion_is_never_apart():
    """Without a second opinion nothing is said of a difference."""
    scores, apart = _opinions(POINTS, [steady(0.0), replace(steady(1.0), second=False)])

    assert scores[:, 3] == pytest.approx(0.5)
    assert apart == 0.0
