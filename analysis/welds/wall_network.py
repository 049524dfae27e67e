"""A small convolutional network on unrolled walls, run in plain numpy: a strip in, scores along the wall out.

Three layers of two-dimensional kernels look at the road and its neighbours (furrows, rounded ends, depth); five
widening one-dimensional ones then look along the wall. Between the second and third of them, the mean and spread of
what was found on all walls say what this face's light and filament are like. Trained by
`analysis/training/train_gaps.py`; the weights are data.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from analysis.roads.workview import Floats

SCORES = ("missing", "begins", "ends")
STRIDES = {"k1": (2, 2), "k2": (2, 2), "k3": (2, 1)}
EVERY = 4  # strip columns from one score to the next
DILATIONS = (1, 2, 4, 8, 16)  # places from one tap to the next of the kernels along the wall
GAPS = Path(__file__).with_name("gap_weights.npz")
_MARGIN = 40  # places read beyond the wall's start, round the closed wall: more than any kernel reaches


@dataclass(frozen=True)
class WallNetwork:
    """Kernels and biases by layer name."""

    layers: dict[str, tuple[Floats, Floats]]


@cache
def load_wall_network(path: Path) -> WallNetwork:
    """The stored network."""
    with np.load(path) as stored:
        names = [key.removesuffix(".kernel") for key in stored.files if key.endswith(".kernel")]
        return WallNetwork(
            {n: (stored[f"{n}.kernel"].astype(np.float32), stored[f"{n}.bias"].astype(np.float32)) for n in names}
        )


def score_walls(strips: Sequence[Floats], network: WallNetwork) -> list[Floats]:
    """Scores (columns / EVERY, len(SCORES)) of each wall of one face.

    Parameters
    ----------
    strips : as `wall_strips` reads them; every wall is closed, its last column lies beside its first.
    """
    if not strips:
        return []
    near = [_look(_closed(s, _MARGIN * EVERY), network)[_MARGIN:-_MARGIN] for s in strips]
    half = len(DILATIONS) // 2
    near = [_along(x, range(half), network) for x in near]
    together = np.concatenate(near)
    context = _dense(np.concatenate([together.mean(0), np.sqrt(together.var(0) + 1e-4)]), "c", network)
    far = [_along(x + context, range(half, len(DILATIONS)), network) for x in near]
    kernel, bias = network.layers["o"]
    return [np.asarray(x @ kernel + bias, np.float32) for x in far]


def _closed(strip: Floats, margin: int) -> Floats:
    return np.take(strip, np.arange(-margin, strip.shape[1] + margin), axis=1, mode="wrap")


def _look(x: Floats, network: WallNetwork) -> Floats:
    """The two-dimensional layers: (rows, columns, channels) -> (places, features)."""
    for name, stride in STRIDES.items():
        kernel, bias = network.layers[name]
        size = kernel.shape[0]
        padded = np.pad(x, ((size // 2, size // 2), (size // 2, size // 2), (0, 0)))
        rows, columns = (-(-n // s) for n, s in zip(x.shape[:2], stride, strict=True))
        # the kernel's columns side by side: one product a row of it, on memory that lies in order
        wide = np.concatenate([padded[:, c :: stride[1]][:, :columns] for c in range(size)], -1)
        total = np.broadcast_to(bias, (rows * columns, len(bias))).copy()
        for r in range(size):
            part = wide[r :: stride[0]][:rows].reshape(rows * columns, -1)
            total += part @ kernel[r].reshape(-1, len(bias))
        x = np.maximum(total, 0, out=total).reshape(rows, columns, -1)
    return _dense(x.transpose(1, 0, 2).reshape(x.shape[1], -1), "f", network)


def _along(x: Floats, layers: range, network: WallNetwork) -> Floats:
    """The one-dimensional layers, each added to what it read."""
    for n in layers:
        kernel, bias = network.layers[f"d{n}"]
        step = DILATIONS[n]
        total = np.roll(x, step, axis=0) @ kernel[0] + x @ kernel[1] + np.roll(x, -step, axis=0) @ kernel[2]
        x = x + np.maximum(total + bias, 0)
    return x


def _dense(x: Floats, name: str, network: WallNetwork) -> Floats:
    kernel, bias = network.layers[name]
    return np.asarray(np.maximum(x @ kernel + bias, 0), np.float32)
