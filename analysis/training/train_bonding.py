"""Train the stored networks: `python -m analysis.training.train_bonding POINTS --out DIR [--fold K ...] [--final]`.

POINTS is what `analysis.training.practice` wrote, of rendered faces (`analysis.training.render`) and practice faces.
With --fold the practice faces are split by face (a mate and its re-lit copies go with it) and the scores of the faces
left out are written: what `fit_intervals` and every quoted error rest on. With --final all faces but
`practice.HELD_OUT` are used and `bonding_weights.npz` is written, to be laid beside `analysis/network.py`.

Needs jax (`pip install jax`). Same files, seeds and machine: same weights.
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

from analysis.network import SCORES, Network, score
from analysis.training.practice import HELD_OUT

FIRST, LAST, FOUND = 64, 48, 24  # widths: reading a point, judging it, summing up the face
BATCH, SAMPLE = 16, 384  # faces a step, points of each
PRACTICE = "faces-"  # prefix of the practice faces' files; the rest are rendered by this project
Weights = dict[str, tuple[Any, Any]]


@dataclass(frozen=True)
class Points:
    """One file of `practice.write_points`."""

    name: str
    face: str
    plain: bool  # the face itself: no mate, not re-lit
    cues: npt.NDArray[np.float16]
    kind: npt.NDArray[np.uint8]
    hidden: npt.NDArray[np.bool_]
    step: npt.NDArray[np.bool_]
    band_share: float
    facts: dict[str, str]

    @property
    def practice(self) -> bool:
        """One of the practice faces, not a rendered one."""
        return self.face.startswith(PRACTICE)


def load_points(folder: Path) -> tuple[list[Points], tuple[str, ...]]:
    """All files of a folder in order of name, and the cues' names."""
    found, names = [], ()
    for path in sorted(folder.glob("*.npz")):
        with np.load(path) as z:
            names = tuple(str(n) for n in z["cue_names"])
            plain = not bool(z["mate"]) and not int(z["light"])
            found.append(
                Points(
                    path.stem, str(z["face"]), plain, z["cues"], z["kind"], z["hidden"], z["step"],
                    float(z["band_share"]), json.loads(str(z["facts"])),
                )
            )  # fmt: skip
    return found, names


def start_weights(cues: int, seed: int) -> Weights:
    """He-scaled normal kernels, zero biases."""
    rng = np.random.default_rng(seed)
    shapes = {
        "a": (cues, FIRST), "b": (FIRST, FIRST), "p": (FIRST, FOUND), "c": (2 * FOUND, FOUND),
        "d": (FIRST + FOUND, LAST), "e": (LAST, LAST), "o": (LAST, len(SCORES)),
    }  # fmt: skip
    return {
        name: (
            (rng.normal(0, np.sqrt((0.3 if name == "o" else 2.0) / a), (a, b))).astype(np.float32),
            np.zeros(b, np.float32),
        )
        for name, (a, b) in shapes.items()
    }


def forward(weights: Weights, cues: Any, key: Any) -> Any:
    """Scores (faces, points, len(SCORES)) of standardised cues; the same sums as `analysis.network`."""

    def layer(name: str, values: Any) -> Any:
        return values @ weights[name][0] + weights[name][1]

    relu = jax.nn.relu
    points = relu(layer("b", relu(layer("a", cues))))
    found = layer("p", points)
    both = jnp.concatenate([found.mean(-2), jnp.sqrt(found.var(-2) + 1e-4)], -1)
    summary = relu(layer("c", both))
    summary = summary * jax.random.bernoulli(key, 0.8, summary.shape) / 0.8
    summary = jnp.broadcast_to(summary[:, None], (*points.shape[:2], summary.shape[-1]))
    return layer("o", relu(layer("e", relu(layer("d", jnp.concatenate([points, summary], -1))))))


def loss(weights: Weights, batch: tuple[Any, ...], key: Any) -> Any:
    """Cross entropies, and the squared error of each face's bonded fraction: a face must come out right as a whole."""
    cues, kind, hidden, step = batch
    scores = forward(weights, cues, key)
    known = 1 - hidden
    place = jnp.where(kind <= 1, 0, kind - 1)
    logs = jax.nn.log_softmax(scores[..., :3])
    entropy = -(jax.nn.one_hot(place, 3) * logs).sum(-1)
    total = ((entropy * known).sum(-1) / (known.sum(-1) + 1)).mean()
    contact = (kind <= 1) * known
    count = contact.sum(-1) + 20
    odds, bonded = scores[..., 3], (kind == 0).astype(jnp.float32)
    total += (((jnp.logaddexp(0, odds) - bonded * odds) * contact).sum(-1) / count).mean()
    off = ((jax.nn.sigmoid(odds) - bonded) * contact).sum(-1) / count
    total += 4 * (off**2).mean()
    for plane, truth in ((4, hidden), (5, step)):
        total += 0.2 * (jnp.logaddexp(0, scores[..., plane]) - truth * scores[..., plane]).mean()
    return total


@jax.jit
def advance(state: tuple[Any, ...], count: Any, rate: Any, batch: tuple[Any, ...], key: Any) -> tuple[Any, Any]:
    """One step of Adam with decoupled weight decay, and a running mean of the weights."""
    weights, first, second, mean = state
    value, slope = jax.value_and_grad(loss)(weights, batch, key)
    first = jax.tree.map(lambda m, g: 0.9 * m + 0.1 * g, first, slope)
    second = jax.tree.map(lambda v, g: 0.99 * v + 0.01 * g * g, second, slope)

    def move(p: Any, m: Any, v: Any) -> Any:
        change = m / (1 - 0.9**count) / (jnp.sqrt(v / (1 - 0.99**count)) + 1e-6)
        return p - rate * (change + (0.02 * p if p.ndim > 1 else 0))

    weights = jax.tree.map(move, weights, first, second)
    mean = jax.tree.map(lambda e, p: 0.995 * e + 0.005 * p, mean, weights)
    return (weights, first, second, mean), value


def standard(faces: Sequence[Points]) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32]]:
    """Mean and spread of each cue over an even sample of the training faces."""
    rng = np.random.default_rng(0)
    cues = np.concatenate([f.cues[rng.integers(0, len(f.cues), 400)] for f in faces]).astype(np.float32)
    return cues.mean(0), cues.std(0) + 1e-3


def train(faces: Sequence[Points], names: tuple[str, ...], steps: int, seed: int, weight: float) -> Network:
    """Train one network; a practice face is drawn `weight` times as often as a rendered one."""
    middle, spread = standard(faces)
    rng = np.random.default_rng(seed)
    weights = jax.tree.map(jnp.asarray, start_weights(len(middle), seed))
    zero = jax.tree.map(jnp.zeros_like, weights)
    state, key = (weights, zero, zero, weights), jax.random.PRNGKey(seed)
    often = np.array([weight if f.practice else 1.0 for f in faces])
    begun, running = time.time(), 0.0
    for count in range(1, steps + 1):
        drawn = rng.choice(len(faces), BATCH, p=often / often.sum())
        batch = _batch([faces[k] for k in drawn], middle, spread, rng)
        rate = 3e-3 * min(1, count / 100) * (0.5 * (1 + np.cos(np.pi * count / steps)) + 0.01)
        key, drop = jax.random.split(key)
        state, value = advance(state, float(count), rate, batch, drop)
        running = float(value) if count == 1 else 0.99 * running + 0.01 * float(value)
        if count % 500 == 0:
            print(f"  {count} loss {running:.4f} after {time.time() - begun:.0f} s", flush=True)
    layers = {name: (np.asarray(k), np.asarray(b)) for name, (k, b) in state[3].items()}
    return Network(layers, middle, spread, names)


def _batch(faces: Sequence[Points], middle: Any, spread: Any, rng: np.random.Generator) -> tuple[Any, ...]:
    """Points of each face; cues shifted a little face by face and point by point, some left out altogether."""
    at = [rng.integers(0, len(f.cues), SAMPLE) for f in faces]
    cues = np.stack(
        [np.clip((f.cues[i].astype(np.float32) - middle) / spread, -4, 4) for f, i in zip(faces, at, strict=True)]
    )
    count, width = len(faces), cues.shape[-1]
    cues += rng.normal(0, 0.12, (count, 1, width)) + 0.06 * rng.standard_normal(cues.shape, np.float32)
    cues *= rng.random((count, 1, width)) > 0.08
    kind, hidden, step = (
        np.stack([getattr(f, n)[i] for f, i in zip(faces, at, strict=True)]) for n in ("kind", "hidden", "step")
    )
    return cues.astype(np.float32), kind.astype(np.int32), hidden.astype(np.float32), step.astype(np.float32)


def split(faces: Sequence[Points], folds: int) -> dict[str, int]:
    """Fold of each practice face, spread evenly over mode and profile."""
    kinds = {f.face: (f.facts["primary"], f.facts["profile"], f.face) for f in faces if f.practice}
    return {name: place % folds for place, name in enumerate(sorted(kinds, key=lambda n: kinds[n]))}


def store(networks: Sequence[Network], path: Path) -> None:
    """Keep the networks as float16: rounding changes no score by more than a few thousandths."""
    out: dict[str, Any] = {
        "members": len(networks),
        "cue_names": networks[0].cue_names,
        "middle": networks[0].middle,
        "spread": networks[0].spread,
    }
    for k, network in enumerate(networks):
        for name, (kernel, bias) in network.layers.items():
            out[f"{k}.{name}.kernel"], out[f"{k}.{name}.bias"] = kernel.astype(np.float16), bias.astype(np.float16)
    np.savez_compressed(path, **out)


def unseen_scores(networks: Sequence[Network], face: Points) -> Any:
    """Mean scores of a face's sample."""
    cues = face.cues.astype(np.float32)
    every = np.ones(len(cues), bool)
    return np.mean([score(cues, every, n) for n in networks], axis=0)


def errors(face: Points, scores: Any) -> tuple[float, float, float, float]:
    """Share and fraction as measured and as they are, by the face's sample."""
    odds = np.exp(scores[:, :3] - scores[:, :3].max(1, keepdims=True))
    contact, missing, _ = (odds / odds.sum(1, keepdims=True)).T
    bonded = contact / (1 + np.exp(-scores[:, 3]))
    known = ~face.hidden
    nominal = (contact + face.band_share * missing)[known].sum()
    true = (face.kind == 0)[known].sum()
    true_nominal = (face.kind <= 1)[known].sum() + face.band_share * (face.kind == 2)[known].sum()
    top = bonded[known].sum()
    return top / known.sum(), true / known.sum(), top / nominal, true / max(true_nominal, 1)


def report(faces: Sequence[Points], found: dict[str, Any]) -> None:
    """Print the mean absolute errors of the plain practice faces among those found, by profile."""
    rows = [(f, *errors(f, found[f.name])) for f in faces if f.plain and f.name in found]
    for f, share, true, fraction, true_fraction in rows:
        print(
            f"  {f.face} {f.facts['profile']:8s}{f.facts['primary']:19s}{f.facts['colour']:10s} share {share:.3f} of "
            f"{true:.3f} ({share - true:+.3f}) fraction {fraction:.3f} of {true_fraction:.3f} ({fraction - true_fraction:+.3f})"
        )
    for profile in ("easy", "typical", "hard", ""):
        part = [r for r in rows if r[0].facts["profile"].startswith(profile)]
        if part:
            share = np.mean([abs(r[1] - r[2]) for r in part])
            fraction = np.mean([abs(r[3] - r[4]) for r in part])
            print(
                f"{profile or 'all':8s} {len(part):3d} faces: share off {share:.3f}, fraction off {fraction:.3f}",
                flush=True,
            )


def main() -> None:
    """Parse the command line and train."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("points", type=Path)
    parser.add_argument("--out", type=Path, required=True, help="folder for weights and out-of-fold scores")
    parser.add_argument("--steps", type=int, default=3000)
    parser.add_argument("--folds", type=int, default=4)
    parser.add_argument("--fold", type=int, nargs="*", default=[])
    parser.add_argument("--final", action="store_true")
    parser.add_argument("--members", type=int, default=1, help="networks whose scores are averaged")
    parser.add_argument("--practice-weight", type=float, default=1.5)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    faces, names = load_points(args.points)
    where = split(faces, args.folds)
    print(
        f"{len(faces)} files of {len({f.face for f in faces})} faces, {len(where)} of them practice faces", flush=True
    )

    def networks(chosen: list[Points], seed: int) -> list[Network]:
        return [train(chosen, names, args.steps, seed + k, args.practice_weight) for k in range(args.members)]

    everything: dict[str, Any] = {}
    for fold in args.fold:
        trained = networks([f for f in faces if where.get(f.face) != fold], 10 * fold)
        store(trained, args.out / f"fold{fold}.npz")
        unseen = {f.name: unseen_scores(trained, f) for f in faces if where.get(f.face) == fold}
        np.savez_compressed(args.out / f"unseen{fold}.npz", **unseen)
        everything |= unseen
        report(faces, unseen)
    if len(args.fold) > 1:
        report(faces, everything)
    if args.final:
        chosen = [f for f in faces if f.face.removeprefix(PRACTICE) not in HELD_OUT]
        store(networks(chosen, 100), args.out / "bonding_weights.npz")


if __name__ == "__main__":
    main()
