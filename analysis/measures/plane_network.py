"""A small stored network that sees where planes meet, run in plain numpy.

It reads the cues of `plane_cues` at three sizes, a quarter, an eighth and a sixteenth of the working grid, and says of
each place how likely a step between two layers passes there, and in a few numbers what the plane there looks like:
places on one plane get near numbers, places on two planes far ones. Trained by `analysis/training/train_planes.py`.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from analysis.common.smooth import block_mean
from analysis.roads.workview import Floats

WEIGHTS = Path(__file__).with_name("plane_weights.npz")
CELL = 4  # working pixels a side of a place
DEPTH = 4  # numbers that stand for a plane
LAYERS = {  # name: (inputs, outputs); 3 by 3 places each, but for `out`
    "a": (17, 24),
    "b": (24, 32),
    "c": (32, 48),
    "d": (48, 48),
    "e": (48, 48),
    "f": (48, 48),
    "g": (96, 48),
    "h": (80, 32),
    "out": (32, 1 + DEPTH),
}
Layers = dict[str, tuple[Floats, Floats]]


@cache
def load_layers(path: Path = WEIGHTS) -> Layers:
    """Kernels (rows, cols, in, out) and biases (out,)."""
    with np.load(path) as stored:
        return {n: (stored[f"{n}.kernel"].astype(np.float32), stored[f"{n}.bias"].astype(np.float32)) for n in LAYERS}


def run(cues: Floats, layers: Layers) -> Floats:
    """Score (rows / 2, cols / 2, 1 + DEPTH) of each place: log odds of a step, then the plane's numbers.

    cues : (rows, cols, k) as `plane_cues` gives them; padded here to what the halvings need.
    """
    rows, cols = cues.shape[:2]
    cues = np.pad(cues, ((0, -rows % 16), (0, -cols % 16), (0, 0)))
    first = _conv(_conv(cues, layers["a"], 2), layers["b"])
    second = _conv(_conv(block_mean(first, 2), layers["c"]), layers["d"])
    third = _conv(_conv(block_mean(second, 2), layers["e"]), layers["f"])
    second = _conv(np.concatenate([second, _doubled(third)], -1), layers["g"])
    first = _conv(np.concatenate([first, _doubled(second)], -1), layers["h"])
    kernel, bias = layers["out"]
    out = first @ kernel[0, 0] + bias
    return np.asarray(out[: (rows + 1) // 2, : (cols + 1) // 2], np.float32)


def _conv(values: Floats, layer: tuple[Floats, Floats], step: int = 1) -> Floats:
    """3 by 3 convolution with zeros beyond the edge, then the positive part; each `step`-th place, from the first."""
    kernel, bias = layer
    rows, cols = (n // step for n in values.shape[:2])
    padded = np.pad(values, ((1, 1), (1, 1), (0, 0)))
    # the three columns side by side: one product a row of the kernel, on memory that lies in order
    wide = np.concatenate([padded[:, c : c + cols * step : step] for c in range(3)], -1)
    out = np.broadcast_to(bias, (rows * cols, len(bias))).copy()
    for r in range(3):
        out += wide[r : r + rows * step : step].reshape(rows * cols, -1) @ kernel[r].reshape(-1, len(bias))
    return np.asarray(np.maximum(out, 0, out=out).reshape(rows, cols, -1))


def _doubled(values: Floats) -> Floats:
    return np.repeat(np.repeat(values, 2, 0), 2, 1)
