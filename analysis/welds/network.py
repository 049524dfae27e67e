"""A small stored network, run in plain numpy: a point's cues in, scores out, judged against the rest of its face.

Two layers read each point by itself; the mean and spread of what they found over the whole face are boiled down to a
few numbers that say what this face's light and filament are like; two more layers judge each point knowing them. So
the same brightness can mean "torn" on one face and "bare" on another. Trained by `analysis/training/`; the weights
are data.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from analysis.roads.workview import Floats

SCORES = ("contact", "missing", "other", "bonded given contact", "hidden", "step")
BONDING = Path(__file__).with_name("bonding_weights.npz")
_CLIP = 4.0  # standard deviations: a cue further out says no more
_AT_ONCE = 65536  # points held in memory at a time


@dataclass(frozen=True)
class Network:
    """Weights by layer name (in, out) with bias (out,), and the mean and spread that cues are standardised by."""

    layers: dict[str, tuple[Floats, Floats]]
    middle: Floats
    spread: Floats
    cue_names: tuple[str, ...]
    second: bool = False  # a second opinion, from a network trained on other faces


@cache
def load_networks(path: Path) -> tuple[Network, ...]:
    """The stored networks: some alike but for where their training began, then those that give a second opinion."""
    with np.load(path) as stored:
        names = tuple(str(n) for n in stored["cue_names"])
        members = range(int(stored["members"]))
        firsts = len(members) - int(stored["seconds"])
        return tuple(
            Network(
                layers={
                    key.split(".")[1]: (
                        stored[key].astype(np.float32),
                        stored[key.replace(".kernel", ".bias")].astype(np.float32),
                    )
                    for key in stored.files
                    if key.startswith(f"{k}.") and key.endswith(".kernel")
                },
                middle=stored[f"{k}.middle"],
                spread=stored[f"{k}.spread"],
                cue_names=names,
                second=k >= firsts,
            )
            for k in members
        )


def score(cues: Floats, face: npt.NDArray[np.bool_], network: Network) -> Floats:
    """Scores (n, m) of n points of one face, in the order of `SCORES`.

    Parameters
    ----------
    cues : (n, k) in the order of `network.cue_names`.
    face : (n,) which of the points stand for the face when it is summed up (all, or an even sample of them).
    """
    pieces = [slice(k, k + _AT_ONCE) for k in range(0, len(cues), _AT_ONCE)]
    first = np.concatenate([_read_points(cues[p], network) for p in pieces])
    summary = _sum_up(first[face], network)
    return np.concatenate([_judge(first[p], summary, network) for p in pieces])


def _layer(values: Floats, name: str, network: Network) -> Floats:
    kernel, bias = network.layers[name]
    out = np.asarray(values @ kernel, np.float32)
    out += bias
    return out


def _positive(values: Floats) -> Floats:
    return np.maximum(values, 0, out=values)


def _read_points(cues: Floats, network: Network) -> Floats:
    standard = np.subtract(cues, network.middle, dtype=np.float32)  # in place from here on: it is most of the memory
    standard /= network.spread
    np.clip(standard, -_CLIP, _CLIP, out=standard)
    return _positive(_layer(_positive(_layer(standard, "a", network)), "b", network))


def _sum_up(points: Floats, network: Network) -> Floats:
    found = _layer(points, "p", network)
    both = np.concatenate([found.mean(0), np.sqrt(found.var(0) + 1e-4)])
    return np.maximum(_layer(both, "c", network), 0)


def _judge(points: Floats, summary: Floats, network: Network) -> Floats:
    together = np.concatenate([points, np.broadcast_to(summary, (len(points), summary.size))], 1)
    hidden = _positive(_layer(together, "d", network))
    return _layer(_positive(_layer(hidden, "e", network)), "o", network)
