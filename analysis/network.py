"""A small stored network, run in plain numpy: cue planes of cells in, one score a class out for every point of a cell.

Four levels, each half as fine as the one above: pairs of 3 x 3 convolutions down, one more on the way up, where the
finer level's planes are laid beside the coarser ones. At the bottom the face's own average is added, so that a point
is judged knowing what the rest of the face looks like. Trained by `analysis/training/`; the weights are data.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from analysis.workview import Floats

LEVELS = 4
SHRINK = 2 ** (LEVELS - 1)
_FILE = Path(__file__).with_name("bonding_weights.npz")
_TILE, _SHARED = 640, 64  # a larger face is read in overlapping tiles, so that memory stays bounded

Layers = dict[str, tuple[Floats, Floats]]


@cache
def load_layers(path: Path = _FILE) -> Layers:
    """The stored weights: name -> (kernel (k, k, in, out), bias (out,)), float32.

    Kernels are kept as int8 with one scale an output plane; rounding them changes no face's share by more than 0.01.
    """
    with np.load(path) as stored:
        names = sorted({key.split(".")[0] for key in stored.files})
        return {
            name: (
                stored[f"{name}.kernel"].astype(np.float32) * stored[f"{name}.scale"].astype(np.float32),
                stored[f"{name}.bias"].astype(np.float32),
            )
            for name in names
        }


def classify(planes: Floats, inside_plane: int, layers: Layers | None = None) -> Floats:
    """Scores for every point of every cell.

    Parameters
    ----------
    planes : (rows, cols, k) cue planes of the cells; plane `inside_plane` is the share of the cell that is face.

    Returns
    -------
    (2*rows, 2*cols, classes) float32: the two by two points of each cell in place.
    """
    return _to_points(_in_tiles(planes, inside_plane, load_layers() if layers is None else layers))


def _to_points(scores: Floats) -> Floats:
    rows, cols, planes = scores.shape
    return scores.reshape(rows, cols, 2, 2, planes // 4).transpose(0, 2, 1, 3, 4).reshape(rows * 2, cols * 2, -1)


def _in_tiles(planes: Floats, inside_plane: int, layers: Layers) -> Floats:
    rows, cols = planes.shape[:2]
    if max(rows, cols) <= _TILE:
        return _classify_padded(planes, inside_plane, layers)
    out = np.zeros((rows, cols, layers["o"][1].size), np.float32)
    keep = _TILE - 2 * _SHARED
    for top in range(0, rows, keep):
        for left in range(0, cols, keep):
            r0, c0 = max(top - _SHARED, 0), max(left - _SHARED, 0)
            tile = planes[r0 : top + keep + _SHARED, c0 : left + keep + _SHARED]
            scores = _classify_padded(tile, inside_plane, layers)
            part = scores[top - r0 : top - r0 + keep, left - c0 : left - c0 + keep]
            out[top : top + part.shape[0], left : left + part.shape[1]] = part
    return out


def _classify_padded(planes: Floats, inside_plane: int, layers: Layers) -> Floats:
    rows, cols = planes.shape[:2]
    padded = np.pad(planes, ((0, -rows % SHRINK), (0, -cols % SHRINK), (0, 0)))
    return _forward(padded, inside_plane, layers)[:rows, :cols]


def _forward(planes: Floats, inside_plane: int, layers: Layers) -> Floats:
    """The network on planes whose sides are multiples of SHRINK."""
    weight = planes[..., inside_plane : inside_plane + 1]
    kept: list[Floats] = []
    field = planes
    for level in range(LEVELS):
        if level:
            field, weight = _half(field), _half(weight)
        field = np.maximum(_convolve(field, *layers[f"a{level}"]), 0)
        field = _level_out(_convolve(field, *layers[f"b{level}"]))
        kept.append(field)
    mean = (field * weight).sum((0, 1), keepdims=True) / (weight.sum() + 1e-3)
    field = np.maximum(field + _point(mean, *layers["g"]), 0)
    for level in reversed(range(LEVELS - 1)):
        finer = _point(field, *layers[f"u{level}"]).repeat(2, 0).repeat(2, 1)
        field = _level_out(_convolve(np.concatenate([finer, kept[level]], -1), *layers[f"c{level}"]))
    return _point(field, *layers["o"])


def _level_out(field: Floats) -> Floats:
    """Bring each point's planes to like size, then cut off below 0."""
    scale = 1 / np.sqrt(np.einsum("rck,rck->rc", field, field) / field.shape[-1] + 0.1)
    return np.asarray(np.maximum(field, 0) * scale[..., None], np.float32)


def _half(field: Floats) -> Floats:
    rows, cols, planes = field.shape
    return np.asarray(field.reshape(rows // 2, 2, cols // 2, 2, planes).mean((1, 3)), np.float32)


def _point(field: Floats, kernel: Floats, bias: Floats) -> Floats:
    return np.asarray(field @ kernel[0, 0] + bias, np.float32)


def _convolve(field: Floats, kernel: Floats, bias: Floats) -> Floats:
    """3 x 3 correlation with zeros around: three matrix products, one for each row of the kernel."""
    rows, cols, planes = field.shape
    wide = np.zeros((rows + 2, cols, 3 * planes), np.float32)
    wide[1:-1, 1:, :planes] = field[:, :-1]
    wide[1:-1, :, planes : 2 * planes] = field
    wide[1:-1, :-1, 2 * planes :] = field[:, 1:]
    flat = kernel.reshape(3, 3 * planes, -1)
    out = np.broadcast_to(bias, (rows * cols, bias.size)).copy()
    for k in range(3):
        out += wide[k : k + rows].reshape(rows * cols, 3 * planes) @ flat[k]
    return out.reshape(rows, cols, -1)
