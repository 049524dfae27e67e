"""Train the networks that tell missing wall roads: `python -m analysis.training.train_gaps WALLS --out DIR ...`.

WALLS is what `analysis.training.practice --walls` wrote. Folds and --final as in `train_bonding`; the final weights
are `gap_weights.npz`.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jax.numpy as jnp
import numpy as np
import numpy.typing as npt

from analysis.training.practice import HELD_OUT
from analysis.training.set_network import PRACTICE, split, store, train


@dataclass(frozen=True)
class Walls:
    """One file of `practice.write_walls`."""

    face: str
    cues: npt.NDArray[np.float16]
    missing: npt.NDArray[np.bool_]
    hidden: npt.NDArray[np.bool_]
    facts: dict[str, str]


def load_walls(folder: Path) -> tuple[list[Walls], tuple[str, ...]]:
    """All files of a folder in order of name, and the cues' names."""
    found: list[Walls] = []
    names: tuple[str, ...] = ()
    for path in sorted(folder.glob("*.npz")):
        with np.load(path) as z:
            names = tuple(str(n) for n in z["cue_names"])
            found.append(Walls(str(z["face"]), z["cues"], z["missing"], z["hidden"], json.loads(str(z["facts"]))))
    return found, names


def loss(scores: Any, truths: tuple[Any, ...]) -> Any:
    """Cross entropy where it can be seen; half weight under grease, where a gap still shows at its ends."""
    missing, hidden = truths
    odds = scores[..., 0]
    return ((jnp.logaddexp(0, odds) - missing * odds) * (1 - 0.5 * hidden)).mean()


def main() -> None:
    """Parse the command line and train."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("walls", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--steps", type=int, default=3000)
    parser.add_argument("--folds", type=int, default=4)
    parser.add_argument("--fold", type=int, nargs="*", default=[])
    parser.add_argument("--final", action="store_true")
    parser.add_argument("--practice-weight", type=float, default=3.0)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    faces, names = load_walls(args.walls)
    where = split(faces, args.folds)
    print(f"{len(faces)} files of {len({f.face for f in faces})} faces", flush=True)
    for fold in args.fold:
        chosen = [f for f in faces if where.get(f.face) != fold]
        network = train(chosen, names, ("missing", "hidden"), 1, loss, args.steps, fold, args.practice_weight)
        store([network], args.out / f"gaps{fold}.npz")
    if args.final:
        chosen = [f for f in faces if f.face.removeprefix(PRACTICE) not in HELD_OUT]
        network = train(chosen, names, ("missing", "hidden"), 1, loss, args.steps, 100, args.practice_weight)
        store([network], args.out / "gap_weights.npz")


if __name__ == "__main__":
    main()
