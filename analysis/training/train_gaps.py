"""Train the network that reads unrolled walls: `python -m analysis.training.train_gaps STRIPS --out DIR ...`.

STRIPS is what `analysis.training.gap_faces` and, of the practice faces, `analysis.training.unroll` wrote. A first
network is trained on this project's own rendered faces alone (`first.npz`); each --fold then goes on from it with the
practice faces of the other folds (`gaps0.npz`, ...), and --final with all practice faces but those the tests score
(`gap_weights.npz`).
Needs jax (`pip install jax`; 0.10.2 made the stored weights). Same files, seeds and machine: same bytes, if
`XLA_FLAGS=--xla_cpu_multi_thread_eigen=false OMP_NUM_THREADS=1` are set. The stored weights come from these scripts on
the tree of commit 9a03cba; later commits smooth and pool in another order of sums, which moves the strips' last digits.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import numpy.typing as npt

from analysis.training.adam import adam
from analysis.training.practice import HELD_OUT
from analysis.training.set_network import PRACTICE, split
from analysis.training.vary_strips import varied
from analysis.welds.wall_network import DILATIONS, EVERY, STRIDES, WallNetwork, load_wall_network
from analysis.welds.wall_strips import CHANNELS

FACES, CROPS, COLUMNS = 6, 2, 384  # faces a step, crops of each, their length in strip pixels
SPARED = 12  # places at each end of a crop that aren't judged: what lies beyond can't be seen
WIDTHS = (12, 20, 28, 40)
FLAT = 5 * WIDTHS[2]  # rows left after the strides
END_WEIGHT = 6.0
Weights = dict[str, tuple[Any, Any]]


@dataclass(frozen=True)
class Unrolled:
    """One file of `unroll`."""

    face: str
    strips: npt.NDArray[np.float16]  # (channels, rows, columns)
    columns: npt.NDArray[np.int64]
    missing: npt.NDArray[np.bool_]
    hidden: npt.NDArray[np.bool_]
    facts: dict[str, str]


def load(folder: Path) -> list[Unrolled]:
    """All files of a folder in order of name."""
    found = []
    for path in sorted(folder.glob("*.npz")):
        with np.load(path) as z:
            facts = json.loads(str(z["facts"]))
            strips = np.ascontiguousarray(np.moveaxis(z["strips"], -1, 0))
            found.append(Unrolled(str(z["face"]), strips, z["columns"], z["missing"], z["hidden"], facts))
    return found


def start_weights(seed: int) -> Weights:
    """He-scaled normal kernels, zero biases."""
    rng = np.random.default_rng(seed)
    a, b, c, d = WIDTHS
    shapes: dict[str, tuple[int, ...]] = {
        "k1": (5, 5, len(CHANNELS), a),
        "k2": (3, 3, a, b),
        "k3": (3, 3, b, c),
        "f": (FLAT, d),
        "c": (2 * d, d),
        "o": (d, 3),
    }
    shapes |= {f"d{n}": (3, d, d) for n in range(len(DILATIONS))}

    def scale(name: str, shape: tuple[int, ...]) -> float:
        return float(np.sqrt((0.2 if name[0] in "od" else 2.0) / np.prod(shape[:-1])))

    return {
        name: (rng.normal(0, scale(name, s), s).astype(np.float32), np.zeros(s[-1], np.float32))
        for name, s in shapes.items()
    }


def forward(weights: Weights, strips: Any) -> Any:
    """Scores (faces, crops, places, 3); the same sums as `analysis.welds.wall_network`."""
    faces, crops = strips.shape[:2]
    x = strips.reshape(faces * crops, *strips.shape[2:])
    for name, stride in STRIDES.items():
        kernel, bias = weights[name]
        pad = kernel.shape[0] // 2
        x = jax.lax.conv_general_dilated(
            x, kernel, stride, ((pad, pad), (pad, pad)), dimension_numbers=("NHWC", "HWIO", "NHWC")
        )
        x = jax.nn.relu(x + bias)
    x = x.transpose(0, 2, 1, 3).reshape(faces * crops, x.shape[2], -1)
    x = jax.nn.relu(x @ weights["f"][0] + weights["f"][1])
    for n, step in enumerate(DILATIONS):
        if n == len(DILATIONS) // 2:
            x = x + _context(weights, x, faces)
        kernel, bias = weights[f"d{n}"]
        y = jax.lax.conv_general_dilated(
            x, kernel, (1,), ((step, step),), rhs_dilation=(step,), dimension_numbers=("NWC", "WIO", "NWC")
        )
        x = x + jax.nn.relu(y + bias)
    x = x @ weights["o"][0] + weights["o"][1]
    return x.reshape(faces, crops, *x.shape[1:])


def _context(weights: Weights, x: Any, faces: int) -> Any:
    together = x.reshape(faces, -1, x.shape[-1])
    both = jnp.concatenate([together.mean(1), jnp.sqrt(together.var(1) + 1e-4)], -1)
    found = jax.nn.relu(both @ weights["c"][0] + weights["c"][1])
    return jnp.repeat(found, x.shape[0] // faces, 0)[:, None]


def loss(weights: Weights, batch: tuple[Any, ...]) -> Any:
    """Cross entropy of "missing", and of "here it begins" and "here it ends"; half weight under grease.

    Ends are few and tell most: each weighs as much as `END_WEIGHT` places without one.
    """
    strips, truths, hidden = batch
    scores = forward(weights, strips)
    one = jnp.logaddexp(0, scores) - truths * scores
    few = jnp.array([1.0, END_WEIGHT, END_WEIGHT])
    weight = (1 - 0.5 * hidden)[..., None] * (truths * few + (1 - truths))
    return (one * weight)[:, :, SPARED:-SPARED].mean()


def train(faces: Sequence[Unrolled], start: Weights, steps: int, seed: int, weight: float, rate: float) -> WallNetwork:
    """Go on from `start`; a practice face is drawn `weight` times as often as a rendered one."""
    rng = np.random.default_rng(seed)
    weights = jax.tree.map(jnp.asarray, start)
    zero = jax.tree.map(jnp.zeros_like, weights)
    state = (weights, zero, zero, weights)
    often = np.array(
        [(weight if f.face.startswith(PRACTICE) else 1.0) * (2.0 if f.missing.any() else 1.0) for f in faces]
    )
    advance = adam(loss)
    begun, running = time.time(), 0.0
    for count in range(1, steps + 1):
        drawn = [faces[k] for k in rng.choice(len(faces), FACES, p=often / often.sum())]
        now = rate * min(1, count / 100) * (0.5 * (1 + np.cos(np.pi * count / steps)) + 0.01)
        state, value = advance(state, float(count), now, _batch(drawn, rng))
        running = float(value) if count == 1 else 0.98 * running + 0.02 * float(value)
        if count % 100 == 0:
            print(f"  {count} loss {running:.4f} after {time.time() - begun:.0f} s", flush=True)
    return WallNetwork({name: (np.asarray(k), np.asarray(b)) for name, (k, b) in state[3].items()})


def _batch(faces: Sequence[Unrolled], rng: np.random.Generator) -> tuple[Any, ...]:
    drawn = [[_crop(f, rng) for _ in range(CROPS)] for f in faces]
    strips, truths, hidden = (np.stack([np.stack([c[n] for c in face]) for face in drawn]) for n in range(3))
    return np.moveaxis(strips, 2, -1), truths, hidden


def _crop(face: Unrolled, rng: np.random.Generator) -> tuple[npt.NDArray[np.float32], ...]:
    """A stretch of one wall under other light: strip (channels, rows, columns), truths (places, 3), hidden."""
    ends = np.cumsum(face.columns)
    middle = int(rng.integers(ends[-1]))
    if face.missing.any() and rng.random() < 0.4:
        middle = int(rng.choice(np.flatnonzero(face.missing)))
    wall = int(np.searchsorted(ends, middle, side="right"))
    first, count = int(ends[wall] - face.columns[wall]), int(face.columns[wall])
    stretch = rng.uniform(0.85, 1.2) * rng.choice([-1, 1])
    at = np.rint((np.arange(COLUMNS) - COLUMNS / 2) * stretch + middle + rng.integers(-128, 129) - first)
    at = first + at.astype(int) % count
    strip = varied(face.strips[:, :, at].astype(np.float32), rng)
    missing, hidden = face.missing[at].astype(np.float32), face.hidden[at].astype(np.float32)
    change = np.diff(missing, prepend=missing[:1])
    near = np.ones(2 * EVERY + 1)
    begins, stops = (np.convolve(change == sign, near, "same") > 0 for sign in (1, -1))
    truths = np.stack([missing, begins, stops], -1)[::EVERY].astype(np.float32)
    return strip, truths, hidden[::EVERY]


def store(network: WallNetwork, path: Path) -> None:
    """Keep the weights as float16: rounding changes no score by more than a few hundredths."""
    arrays = {}
    for name, (kernel, bias) in network.layers.items():
        arrays[f"{name}.kernel"] = np.asarray(kernel, np.float16)
        arrays[f"{name}.bias"] = np.asarray(bias, np.float16)
    np.savez_compressed(path, **arrays)  # type: ignore[arg-type]


def main() -> None:
    """Parse the command line and train."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("strips", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--first-steps", type=int, default=2400)
    parser.add_argument("--steps", type=int, default=600)
    parser.add_argument("--folds", type=int, default=4)
    parser.add_argument("--fold", type=int, nargs="*", default=[])
    parser.add_argument("--final", action="store_true")
    parser.add_argument("--practice-weight", type=float, default=8.0)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    faces = [f for f in load(args.strips) if not f.face.startswith("render_test")]
    where = split(faces, args.folds)
    print(f"{len(faces)} files of {len({f.face for f in faces})} faces", flush=True)
    first = args.out / "first.npz"
    if not first.exists():
        rendered = [f for f in faces if not f.face.startswith(PRACTICE)]
        store(train(rendered, start_weights(0), args.first_steps, 0, 1.0, 3e-3), first)
    start = load_wall_network(first).layers
    for fold in args.fold:
        chosen = [f for f in faces if where.get(f.face) != fold]
        network = train(chosen, start, args.steps, fold, args.practice_weight, 1e-3)
        store(network, args.out / f"gaps{fold}.npz")
    if args.final:
        chosen = [f for f in faces if f.face.removeprefix(PRACTICE) not in HELD_OUT]
        network = train(chosen, start, args.steps, 100, args.practice_weight, 1e-3)
        store(network, args.out / "gap_weights.npz")


if __name__ == "__main__":
    main()
