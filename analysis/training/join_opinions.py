"""Lay networks of two trainings into one file: `python -m analysis.training.join_opinions FIRST SECOND OUT`.

FIRST and SECOND are files of `set_network.store`; the cues of FIRST may be fewer (a cue that a network wasn't trained
on has weight 0 in it). The stored first opinion is the first network of those trained up to commit 7a2da1f, on faces
of the renderer as it was then. The second was trained on 467 faces of the renderer while it came to what it is now
(seeds from 50001, 60001, 70001, 80001, 90001), 113 faces of the former and the practice faces, most with a re-lit copy:
1800 steps, practice weight 5. One of each is kept: together they cost no more than the two networks did before.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from analysis.training.set_network import store
from analysis.welds.network import Network, load_networks


def with_cues(network: Network, names: Sequence[str]) -> Network:
    """The same network on more cues, those it doesn't know with weight 0."""
    at = [list(names).index(name) for name in network.cue_names]
    kernel, bias = network.layers["a"]
    wide = np.zeros((len(names), kernel.shape[1]), np.float32)
    middle, spread = np.zeros(len(names), np.float32), np.ones(len(names), np.float32)
    wide[at], middle[at], spread[at] = kernel, network.middle, network.spread
    return replace(
        network, layers=network.layers | {"a": (wide, bias)}, middle=middle, spread=spread, cue_names=tuple(names)
    )


def join(first: Sequence[Network], second: Sequence[Network]) -> list[Network]:
    """All of them on the second's cues, the second marked as such."""
    names = second[0].cue_names
    return [with_cues(n, names) for n in first] + [replace(n, second=True) for n in second]


def main() -> None:
    """Parse the command line and join."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("first", type=Path)
    parser.add_argument("second", type=Path)
    parser.add_argument("out", type=Path)
    args = parser.parse_args()
    store(join(load_networks(args.first), load_networks(args.second)), args.out)


if __name__ == "__main__":
    main()
