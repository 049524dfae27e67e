"""The training of the network that judges points: many faces at a time, some points of each, judged as sets.

Needs jax (`pip install jax`). Same files, seeds and machine: same weights.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Any, Protocol

import jax
import jax.numpy as jnp
import numpy as np
import numpy.typing as npt

from analysis.welds.network import Network

FIRST, LAST, FOUND = 64, 48, 24  # widths: reading a point, judging it, summing up the face
BATCH, SAMPLE = 24, 192  # faces a step, points of each
PRACTICE = "faces-"  # prefix of the practice faces' files; the rest are rendered by this project
Weights = dict[str, tuple[Any, Any]]
Loss = Callable[[Any, tuple[Any, ...]], Any]  # scores (faces, points, outputs), truths -> one number


class Labelled(Protocol):
    """Whose file it is and what the face is."""

    @property
    def face(self) -> str:
        """The same for a face, its mate and their re-lit copies."""

    @property
    def facts(self) -> dict[str, str]:
        """Profile, primary mode and colour."""


class FaceFile(Labelled, Protocol):
    """What the training asks of a file: its cues, and its truths by name."""

    @property
    def cues(self) -> npt.NDArray[np.float16]:
        """(n, k)."""


def start_weights(cues: int, outputs: int, seed: int) -> Weights:
    """He-scaled normal kernels, zero biases."""
    rng = np.random.default_rng(seed)
    shapes = {
        "a": (cues, FIRST),
        "b": (FIRST, FIRST),
        "p": (FIRST, FOUND),
        "c": (2 * FOUND, FOUND),
        "d": (FIRST + FOUND, LAST),
        "e": (LAST, LAST),
        "o": (LAST, outputs),
    }
    return {
        name: (
            rng.normal(0, np.sqrt((0.3 if name == "o" else 2.0) / a), (a, b)).astype(np.float32),
            np.zeros(b, np.float32),
        )
        for name, (a, b) in shapes.items()
    }


def forward(weights: Weights, cues: Any, key: Any) -> Any:
    """Scores (faces, points, outputs) of standardised cues; the same sums as `analysis.welds.network`."""

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


def adam(loss: Loss) -> Callable[..., tuple[Any, Any]]:
    """One step of Adam with decoupled weight decay, and a running mean of the weights."""

    def total(weights: Weights, batch: tuple[Any, ...], key: Any) -> Any:
        return loss(forward(weights, batch[0], key), batch[1:])

    def advance(state: tuple[Any, ...], count: Any, rate: Any, batch: tuple[Any, ...], key: Any) -> tuple[Any, Any]:
        weights, first, second, mean = state
        value, slope = jax.value_and_grad(total)(weights, batch, key)
        first = jax.tree.map(lambda m, g: 0.9 * m + 0.1 * g, first, slope)
        second = jax.tree.map(lambda v, g: 0.99 * v + 0.01 * g * g, second, slope)

        def move(p: Any, m: Any, v: Any) -> Any:
            change = m / (1 - 0.9**count) / (jnp.sqrt(v / (1 - 0.99**count)) + 1e-6)
            return p - rate * (change + (0.02 * p if p.ndim > 1 else 0))

        weights = jax.tree.map(move, weights, first, second)
        mean = jax.tree.map(lambda e, p: 0.995 * e + 0.005 * p, mean, weights)
        return (weights, first, second, mean), value

    return jax.jit(advance)  # type: ignore[no-any-return]


def standard(faces: Sequence[FaceFile]) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.float32]]:
    """Mean and spread of each cue over an even sample of the training faces."""
    rng = np.random.default_rng(0)
    cues = np.concatenate([f.cues[rng.integers(0, len(f.cues), 400)] for f in faces]).astype(np.float32)
    return cues.mean(0), cues.std(0) + 1e-3


def train(
    faces: Sequence[FaceFile],
    names: tuple[str, ...],
    truths: tuple[str, ...],
    outputs: int,
    loss: Loss,
    steps: int,
    seed: int,
    weight: float,
) -> Network:
    """Train one network on the named truths; a practice face is drawn `weight` times as often as a rendered one."""
    middle, spread = standard(faces)
    rng = np.random.default_rng(seed)
    weights = jax.tree.map(jnp.asarray, start_weights(len(middle), outputs, seed))
    zero = jax.tree.map(jnp.zeros_like, weights)
    state, key = (weights, zero, zero, weights), jax.random.PRNGKey(seed)
    often = np.array([weight if f.face.startswith(PRACTICE) else 1.0 for f in faces])
    advance = adam(loss)
    begun, running = time.time(), 0.0
    for count in range(1, steps + 1):
        drawn = [faces[k] for k in rng.choice(len(faces), BATCH, p=often / often.sum())]
        batch = _batch(drawn, truths, middle, spread, rng)
        rate = 3e-3 * min(1, count / 100) * (0.5 * (1 + np.cos(np.pi * count / steps)) + 0.01)
        key, drop = jax.random.split(key)
        state, value = advance(state, float(count), rate, batch, drop)
        running = float(value) if count == 1 else 0.99 * running + 0.01 * float(value)
        if count % 500 == 0:
            print(f"  {count} loss {running:.4f} after {time.time() - begun:.0f} s", flush=True)
    layers = {name: (np.asarray(k), np.asarray(b)) for name, (k, b) in state[3].items()}
    return Network(layers, middle, spread, names)


def _batch(
    faces: Sequence[FaceFile], truths: tuple[str, ...], middle: Any, spread: Any, rng: np.random.Generator
) -> tuple[Any, ...]:
    """Points of each face; cues shifted a little face by face and point by point, some left out altogether."""
    at = [rng.integers(0, len(f.cues), SAMPLE) for f in faces]
    raw = np.stack([f.cues[i].astype(np.float32) for f, i in zip(faces, at, strict=True)])
    cues = np.clip((raw - middle) / spread, -4, 4)
    count, width = len(faces), cues.shape[-1]
    cues += rng.normal(0, 0.12, (count, 1, width)) + 0.06 * rng.standard_normal(cues.shape, np.float32)
    cues *= rng.random((count, 1, width)) > 0.08
    values = [np.stack([getattr(f, name)[i] for f, i in zip(faces, at, strict=True)]) for name in truths]
    return (cues.astype(np.float32), *(v.astype(np.float32) for v in values))


def split(faces: Sequence[Labelled], folds: int) -> dict[str, int]:
    """Fold of each practice face, spread evenly over mode and profile."""
    kinds = {f.face: (f.facts["primary"], f.facts["profile"], f.face) for f in faces if f.face.startswith(PRACTICE)}
    return {name: place % folds for place, name in enumerate(sorted(kinds, key=lambda n: kinds[n]))}


def store(networks: Sequence[Network], path: Any) -> None:
    """Keep the networks as float16: rounding changes no score by more than a few thousandths."""
    out: dict[str, Any] = {
        "members": len(networks),
        "seconds": sum(n.second for n in networks),
        "cue_names": networks[0].cue_names,
    }
    for k, network in enumerate(networks):
        out[f"{k}.middle"], out[f"{k}.spread"] = network.middle, network.spread
        for name, (kernel, bias) in network.layers.items():
            out[f"{k}.{name}.kernel"], out[f"{k}.{name}.bias"] = kernel.astype(np.float16), bias.astype(np.float16)
    np.savez_compressed(path, **out)
