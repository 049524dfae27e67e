"""Train the network of the layer planes: `python -m analysis.training.train_planes POINTS --out FILE`.

POINTS is what `analysis.training.plane_faces` wrote. The stored weights are 1050 steps on rendered faces alone: no
practice face was seen. To go on with practice faces: `--begin FIRST --practice 0.55 --rate 1.5e-3`; --fold leaves out
every second of them. Needs jax.
"""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.measures.plane_cues import NAMES
from analysis.measures.plane_network import DEPTH, LAYERS
from analysis.training.adam import adam

CROP = (128, 160)  # cells of plane_cues; about 21 by 27 roads
BATCH, PAIRS = 4, 1500
PRACTICE = "faces-"  # prefix of the practice faces' files
Weights = dict[str, tuple[Any, Any]]
_EVEN, _ODD = ([NAMES.index(f"{n}_{s}") for s in ("thin", "broad")] for n in ("even", "odd"))


def start_weights(seed: int) -> Weights:
    """He-scaled normal kernels, zero biases."""
    rng = np.random.default_rng(seed)
    out = {}
    for name, (a, b) in LAYERS.items():
        side = 1 if name == "out" else 3
        spread = np.sqrt((0.3 if name == "out" else 2.0) / (a * side * side))
        out[name] = (
            jnp.asarray(rng.normal(0, spread, (side, side, a, b)), jnp.float32),
            jnp.zeros(b, jnp.float32),
        )
    out["pairs"] = (jnp.array([1.0], jnp.float32), jnp.array([1.0], jnp.float32))  # scale and threshold
    return out


def forward(weights: Weights, cues: Any) -> Any:
    """Scores (faces, rows / 2, cols / 2, 1 + DEPTH): the same sums as `analysis.measures.plane_network`."""

    def conv(name: str, values: Any, step: int = 1) -> Any:
        kernel, bias = weights[name]
        out = jax.lax.conv_general_dilated(
            values, kernel, (step, step), [(1, 1), (1, 1)], dimension_numbers=("NHWC", "HWIO", "NHWC")
        )
        return jax.nn.relu(out + bias)

    def pooled(values: Any) -> Any:
        n, rows, cols, depth = values.shape
        return values.reshape(n, rows // 2, 2, cols // 2, 2, depth).mean((2, 4))

    def doubled(values: Any) -> Any:
        return jnp.repeat(jnp.repeat(values, 2, 1), 2, 2)

    first = conv("b", conv("a", cues, 2))
    second = conv("d", conv("c", pooled(first)))
    third = conv("f", conv("e", pooled(second)))
    second = conv("g", jnp.concatenate([second, doubled(third)], -1))
    first = conv("h", jnp.concatenate([first, doubled(second)], -1))
    return first @ weights["out"][0][0, 0] + weights["out"][1]


def loss(weights: Weights, batch: tuple[Any, ...]) -> Any:
    """Is there a step here; and do two places lie on one plane, by the distance of their numbers."""
    cues, step, inside, first, second, same, weight = batch
    scores = forward(weights, cues)
    odds = scores[..., 0]
    step_loss = jnp.logaddexp(0, odds) - step * odds
    total = (step_loss * inside * (1 + 2 * step)).sum() / inside.sum()
    flat = scores[..., 1:].reshape(scores.shape[0], -1, DEPTH)
    a, b = (jnp.take_along_axis(flat, at[..., None], 1) for at in (first, second))
    apart = jnp.sqrt(((a - b) ** 2).sum(-1) + 1e-3)
    together = weights["pairs"][0][0] * 3 * (weights["pairs"][1][0] - apart)
    pair_loss = jnp.logaddexp(0, together) - same * together
    return total + (pair_loss * weight).sum() / (weight.sum() + 1)


advance = adam(loss)


def turned(
    cues: npt.NDArray[np.float32], terrace: npt.NDArray[np.uint8], rng: np.random.Generator
) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.uint8]]:
    """One of the eight ways to lay a face down; directions and a cell's four pixels go with it."""
    cells = [NAMES.index(f"light{n}") for n in ("00", "01", "10", "11")]
    cues = cues.copy()
    if rng.random() < 0.5:
        cues, terrace = cues.swapaxes(0, 1).copy(), terrace.T
        cues[..., _EVEN] *= -1
        cues[..., cells] = cues[..., [cells[k] for k in (0, 2, 1, 3)]]
    if rng.random() < 0.5:
        cues, terrace = cues[::-1].copy(), terrace[::-1]
        cues[..., _ODD] *= -1
        cues[..., cells] = cues[..., [cells[k] for k in (2, 3, 0, 1)]]
    if rng.random() < 0.5:
        cues, terrace = cues[:, ::-1].copy(), terrace[:, ::-1]
        cues[..., _ODD] *= -1
        cues[..., cells] = cues[..., [cells[k] for k in (1, 0, 3, 2)]]
    return cues, terrace


def cropped(values: npt.NDArray[Any], corner: tuple[int, int]) -> npt.NDArray[Any]:
    """A window of CROP, zeros where it leaves the face's grid."""
    part = values[corner[0] : corner[0] + CROP[0], corner[1] : corner[1] + CROP[1]]
    pads = [(0, CROP[k] - part.shape[k]) for k in (0, 1)] + [(0, 0)] * (values.ndim - 2)
    return np.pad(part, pads)


def example(face: dict[str, Any], rng: np.random.Generator) -> tuple[npt.NDArray[Any], ...]:
    """One window of one face with its truth, and pairs of places."""
    cues, terrace = turned(face["cues"].astype(np.float32), face["terrace"], rng)
    if (cues.shape[0] > cues.shape[1]) != (CROP[0] > CROP[1]) and rng.random() < 0.9:
        cues = cues.swapaxes(0, 1).copy()
        terrace = terrace.T
        cues[..., _EVEN] *= -1
        cells = [NAMES.index(f"light{n}") for n in ("00", "01", "10", "11")]
        cues[..., cells] = cues[..., [cells[k] for k in (0, 2, 1, 3)]]
    free = [max(n - c, 0) for n, c in zip(cues.shape[:2], CROP, strict=True)]
    corner = (int(rng.integers(0, free[0] + 1)), int(rng.integers(0, free[1] + 1)))
    cues, terrace = cropped(cues, corner), cropped(terrace, corner)
    cues[..., :13] *= 1 + 0.15 * rng.standard_normal(13)
    cues[..., :9] += 0.1 * rng.standard_normal(9) * cues[..., -1:]
    cues += 0.08 * rng.standard_normal(cues.shape, np.float32) * cues[..., -1:]
    place = terrace[::2, ::2]
    inside = place > 0
    step = _steps(terrace)[::2, ::2] & inside
    return cues.astype(np.float32), step, inside, *_pairs(place, rng)


def _steps(terrace: npt.NDArray[np.uint8]) -> npt.NDArray[np.bool_]:
    high = ndimage.maximum_filter(terrace, 3)
    low = ndimage.minimum_filter(np.where(terrace > 0, terrace, 99), 3)
    return np.asarray((high != low) & (low < 99) & (high > 0))


def _pairs(place: npt.NDArray[np.uint8], rng: np.random.Generator) -> tuple[npt.NDArray[Any], ...]:
    """Flat numbers of two places, whether they share a plane, and a weight; half of the pairs near each other."""
    rows, cols = place.shape
    points = np.flatnonzero(place.ravel())
    if len(points) < 10:
        zero = np.zeros(PAIRS, np.int32)
        return zero, zero, zero.astype(np.float32), zero.astype(np.float32)
    first = rng.choice(points, PAIRS)
    offset = np.rint(rng.normal(0, 8, (PAIRS, 2))).astype(int)
    row, col = first // cols + offset[:, 0], first % cols + offset[:, 1]
    near = (row >= 0) & (row < rows) & (col >= 0) & (col < cols) & (rng.random(PAIRS) < 0.5)
    second = np.where(near, np.clip(row, 0, rows - 1) * cols + np.clip(col, 0, cols - 1), rng.choice(points, PAIRS))
    flat = place.ravel()
    same = flat[first] == flat[second]
    weight = (flat[second] > 0) * np.where(same, 1.0, 2.0)
    return first.astype(np.int32), second.astype(np.int32), same.astype(np.float32), weight.astype(np.float32)


def load_faces(
    folder: Path, without: list[str], fold: int | None
) -> tuple[list[dict[str, Any]], npt.NDArray[np.bool_]]:
    """Halves to train on, and which are practice faces; a fold takes out every second one, a face with its mate."""
    practice = sorted(
        {p.stem.removesuffix("m") for p in folder.glob(f"{PRACTICE}*.npz")}, key=lambda n: _kind(folder, n)
    )
    out = {n for k, n in enumerate(practice) if k % 2 == fold}
    paths = [
        p
        for p in sorted(folder.glob("*.npz"))
        if not p.name.startswith(tuple(without)) and p.stem.removesuffix("m") not in out
    ]
    return [dict(np.load(p)) for p in paths], np.array([p.name.startswith(PRACTICE) for p in paths])


def _kind(folder: Path, name: str) -> tuple[list[str], str]:
    return json.loads(str(np.load(folder / f"{name}.npz")["facts"])), name


def drawn_often(faces: list[dict[str, Any]], practice: npt.NDArray[np.bool_], share: float) -> npt.NDArray[np.float64]:
    """How often each half is drawn: several planes more often than one, practice faces in the given share."""
    often = np.where([int(f["planes"]) > 1 for f in faces], 1.0, 0.6)
    for chosen, part in ((practice, share), (~practice, 1 - share)):
        often[chosen] *= part / max(often[chosen].sum(), 1e-9)
    return np.asarray(often / often.sum())


def main() -> None:
    """Parse the command line and train."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("points", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--without", nargs="*", default=[], help="beginnings of names of files to leave out")
    parser.add_argument("--begin", type=Path, help="weights to go on from")
    parser.add_argument("--fold", type=int, help="leave out every second practice face, from 0 or from 1 on")
    parser.add_argument("--practice", type=float, default=0.0, help="share of draws that are practice faces")
    parser.add_argument("--steps", type=int, default=1500)
    parser.add_argument("--rate", type=float, default=2.5e-3)
    parser.add_argument("--seed", type=int, default=0)
    args = parser.parse_args()
    faces, practice = load_faces(args.points, args.without, args.fold)
    often = drawn_often(faces, practice, args.practice)
    rng = np.random.default_rng(args.seed)
    weights = start_weights(args.seed)
    if args.begin:
        with np.load(args.begin) as kept:
            weights = {
                n: tuple(jnp.asarray(kept[f"{n}.{k}"], jnp.float32) for k in ("kernel", "bias")) for n in weights
            }
    zero = jax.tree.map(jnp.zeros_like, weights)
    state: tuple[Any, ...] = (weights, zero, zero, weights)
    begun, running = time.time(), 0.0
    for count in range(1, args.steps + 1):
        drawn = [example(faces[k], rng) for k in rng.choice(len(faces), BATCH, p=often)]
        batch = tuple(_stacked(v) for v in zip(*drawn, strict=True))
        rate = args.rate * min(1, count / 100) * (0.5 * (1 + np.cos(np.pi * count / args.steps)) + 0.01)
        state, value = advance(state, float(count), rate, batch)
        running = float(value) if count == 1 else 0.99 * running + 0.01 * float(value)
        if count % 100 == 0:
            print(f"  {count} loss {running:.4f} after {time.time() - begun:.0f} s", flush=True)
            store(state[3], args.out)
    store(state[3], args.out)


def _stacked(values: tuple[npt.NDArray[Any], ...]) -> npt.NDArray[Any]:
    kind = np.int32 if values[0].dtype == np.int32 else np.float32
    return np.stack(values).astype(kind)


def store(weights: Weights, path: Path) -> None:
    """Keep the weights as float16."""
    out: dict[str, Any] = {}
    for name, (kernel, bias) in weights.items():
        out[f"{name}.kernel"] = np.asarray(kernel).astype(np.float16)
        out[f"{name}.bias"] = np.asarray(bias).astype(np.float16)
    np.savez_compressed(path, **out)


if __name__ == "__main__":
    main()
