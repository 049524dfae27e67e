"""Train the stored network on practice faces: `python -m analysis.training.train_bonding FACES [--fold K | --final]`.

With --fold K of --folds N the faces (a mate with its face) are split, and the predictions for the faces left out are
written as out-of-fold probabilities: what `fit_intervals` and every quoted error rest on. With --final all faces but
`practice.HELD_OUT` are used and `analysis/bonding_weights.npz` is written. Needs jax and scipy; same seeds, same
machine, same result.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np

from analysis.bonding import CUE_NAMES, INSIDE_PLANE, lay_out_cues
from analysis.network import LEVELS, SHRINK
from analysis.training.augment import draw_crop, quarter_turn
from analysis.training.practice import HELD_OUT, PracticeFace, load_faces, turned

WIDTHS = (32, 40, 48, 48)
SCORES = 6  # four classes, grease, border
SIDE, BATCH = 192, 4
Weights = dict[str, tuple[Any, Any]]


def start_weights(seed: int) -> Weights:
    """He-scaled normal kernels, zero biases."""
    rng = np.random.default_rng(seed)
    out: Weights = {}

    def add(name: str, size: int, planes: int, made: int, gain: float = 2.0) -> None:
        kernel = rng.normal(0, np.sqrt(gain / (size * size * planes)), (size, size, planes, made))
        out[name] = (kernel.astype(np.float32), np.zeros(made, np.float32))

    for level in range(LEVELS):
        add(f"a{level}", 3, WIDTHS[level - 1] if level else len(CUE_NAMES), WIDTHS[level])
        add(f"b{level}", 3, WIDTHS[level], WIDTHS[level])
    add("g", 1, WIDTHS[-1], WIDTHS[-1])
    for level in range(LEVELS - 1):
        add(f"u{level}", 1, WIDTHS[level + 1], WIDTHS[level])
        add(f"c{level}", 3, 2 * WIDTHS[level], WIDTHS[level])
    add("o", 1, WIDTHS[0], SCORES * 4, 0.3)
    return out


def _conv(field: Any, layer: tuple[Any, Any]) -> Any:
    numbers = ("NHWC", "HWIO", "NHWC")
    return jax.lax.conv_general_dilated(field, layer[0], (1, 1), "SAME", dimension_numbers=numbers) + layer[1]


def _level_out(field: Any) -> Any:
    return jax.nn.relu(field) * jax.lax.rsqrt((field * field).mean(-1, keepdims=True) + 0.1)


def _half(field: Any) -> Any:
    n, rows, cols, planes = field.shape
    return field.reshape(n, rows // 2, 2, cols // 2, 2, planes).mean((2, 4))


def forward(weights: Weights, cues: Any, key: Any = None) -> Any:
    """Scores (n, 2*rows, 2*cols, SCORES); the same sums as `analysis.network`."""
    inside = cues[..., INSIDE_PLANE : INSIDE_PLANE + 1]
    field, kept = cues, []
    for level in range(LEVELS):
        if level:
            field, inside = _half(field), _half(inside)
        field = jax.nn.relu(_conv(field, weights[f"a{level}"]))
        field = _level_out(_conv(field, weights[f"b{level}"]))
        kept.append(field)
    if key is not None:
        field = field * jax.random.bernoulli(key, 0.85, (field.shape[0], 1, 1, field.shape[3])) / 0.85
    mean = (field * inside).sum((1, 2), keepdims=True) / (inside.sum((1, 2), keepdims=True) + 1e-3)
    field = jax.nn.relu(field + _conv(mean, weights["g"]))
    for level in reversed(range(LEVELS - 1)):
        finer = jnp.repeat(jnp.repeat(_conv(field, weights[f"u{level}"]), 2, 1), 2, 2)
        field = _level_out(_conv(jnp.concatenate([finer, kept[level]], -1), weights[f"c{level}"]))
    scores = _conv(field, weights["o"])
    n, rows, cols, _ = scores.shape
    return scores.reshape(n, rows, cols, 2, 2, SCORES).transpose(0, 1, 3, 2, 4, 5).reshape(n, rows * 2, cols * 2, SCORES)


def loss(weights: Weights, batch: tuple[Any, ...], key: Any) -> Any:
    """Cross entropy of the classes, plus the squared error of the crop's bonded share, grease and border."""
    cues, kind, grease, border, inside = batch
    scores = forward(weights, cues, key)
    known = inside * (1 - grease)
    count = known.sum((1, 2)) + 200.0
    logs = jax.nn.log_softmax(scores[..., :4])
    entropy = -(jax.nn.one_hot(kind, 4) * logs).sum(-1)
    total = ((entropy * known).sum((1, 2)) / count).mean()
    bonded = (known * (jnp.exp(logs[..., 0]) - (kind == 0))).sum((1, 2)) / count
    total += 3 * (bonded**2).mean()
    for plane, truth, weight in ((4, grease, 0.3), (5, border, 0.5)):
        score = scores[..., plane]
        total += weight * (((jnp.logaddexp(0, score) - truth * score) * inside).sum((1, 2)) / (inside.sum((1, 2)) + 200)).mean()
    return total


@jax.jit
def step(state: tuple[Any, ...], count: Any, rate: Any, batch: tuple[Any, ...], key: Any) -> tuple[tuple[Any, ...], Any]:
    """One step of Adam with decoupled weight decay, gradients cut to norm 1, and a running mean of the weights."""
    weights, first, second, mean = state
    value, slope = jax.value_and_grad(loss)(weights, batch, key)
    norm = jnp.sqrt(sum((g**2).sum() for g in jax.tree.leaves(slope)))
    slope = jax.tree.map(lambda g: g * jnp.minimum(1, 1 / (norm + 1e-6)), slope)
    first = jax.tree.map(lambda m, g: 0.9 * m + 0.1 * g, first, slope)
    second = jax.tree.map(lambda v, g: 0.99 * v + 0.01 * g * g, second, slope)

    def move(p: Any, m: Any, v: Any) -> Any:
        change = m / (1 - 0.9**count) / (jnp.sqrt(v / (1 - 0.99**count)) + 1e-6)
        return p - rate * (change + (1e-3 * p if p.ndim > 1 else 0))

    weights = jax.tree.map(move, weights, first, second)
    mean = jax.tree.map(lambda e, p: 0.99 * e + 0.01 * p, mean, weights)
    return (weights, first, second, mean), value


def train(faces: list[PracticeFace], steps: int, seed: int) -> Weights:
    """Train on these faces and their turned and zoomed copies."""
    rng = np.random.default_rng(seed)
    pool = [*faces, *(turned(f, rng.uniform(0, 360), rng.uniform(0.88, 1.14)) for f in faces)]
    weights = jax.tree.map(jnp.asarray, start_weights(seed))
    zero = jax.tree.map(jnp.zeros_like, weights)
    state = (weights, zero, zero, weights)
    key = jax.random.PRNGKey(seed)
    queue: list[int] = []
    begun, running = time.time(), 0.0
    for count in range(1, steps + 1):
        crops = []
        for _ in range(BATCH):
            queue = queue or list(rng.permutation(len(pool)))
            crops.append(quarter_turn(draw_crop(pool[queue.pop()], rng, SIDE), rng))
        batch = [np.stack(v) for v in zip(*crops, strict=True)]
        batch = [batch[0], batch[1].astype(np.int32), *(v.astype(np.float32) for v in batch[2:])]
        rate = 2.5e-3 * min(1, count / 50) * (0.5 * (1 + np.cos(np.pi * count / steps)) + 0.01)
        key, now = jax.random.split(key)
        state, value = step(state, float(count), rate, tuple(batch), now)
        running = float(value) if count == 1 else 0.98 * running + 0.02 * float(value)
        if count % 100 == 0:
            print(f"{count} loss {running:.4f} after {time.time() - begun:.0f} s", flush=True)
    return {name: (np.asarray(k), np.asarray(b)) for name, (k, b) in state[3].items()}


_forward = jax.jit(forward)


def predict(weights: Weights, face: PracticeFace) -> Any:
    """Scores (rows, cols, SCORES) of a whole face."""
    cues = lay_out_cues(face.lightness, face.chroma, face.own, face.place, face.inside)
    rows, cols = cues.shape[:2]
    padded = np.pad(cues, ((0, -rows % SHRINK), (0, -cols % SHRINK), (0, 0)))
    return np.asarray(_forward(weights, padded[None])[0])[: rows * 2, : cols * 2]


def split(faces: list[PracticeFace], folds: int) -> dict[str, int]:
    """Fold of each face, spread evenly over mode and profile; a mate goes with its face."""
    kinds = {f.face: (f.facts["primary"], f.facts["profile"], f.face) for f in faces}
    return {name: place % folds for place, name in enumerate(sorted(kinds, key=lambda n: kinds[n]))}


def store(weights: Weights, path: Path) -> None:
    """Keep kernels as int8 with one scale an output plane, biases as float32."""
    out: dict[str, Any] = {}
    for name, (kernel, bias) in weights.items():
        scale = np.maximum(np.abs(kernel).max((0, 1, 2)), 1e-8) / 127
        out[f"{name}.kernel"] = np.rint(kernel / scale).astype(np.int8)
        out[f"{name}.scale"] = scale.astype(np.float32)
        out[f"{name}.bias"] = bias.astype(np.float32)
    np.savez_compressed(path, **out)


def main() -> None:
    """Parse the command line and train."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("faces", type=Path)
    parser.add_argument("--out", type=Path, required=True, help="folder for weights and out-of-fold scores")
    parser.add_argument("--steps", type=int, default=1600)
    parser.add_argument("--folds", type=int, default=4)
    parser.add_argument("--fold", type=int, nargs="*", default=[])
    parser.add_argument("--final", action="store_true")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    faces = load_faces(args.faces)
    where = split(faces, args.folds)
    for fold in args.fold:
        weights = train([f for f in faces if where[f.face] != fold], args.steps, seed=fold)
        store(weights, args.out / f"fold{fold}.npz")
        unseen = {f.name: predict(weights, f).astype(np.float16) for f in faces if where[f.face] == fold}
        np.savez_compressed(args.out / f"unseen{fold}.npz", **unseen)
        print(f"fold {fold} done: {sorted(unseen)}", flush=True)
    if args.final:
        weights = train([f for f in faces if f.face not in HELD_OUT], args.steps, seed=100)
        store(weights, args.out / "bonding_weights.npz")


if __name__ == "__main__":
    main()
