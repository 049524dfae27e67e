"""Train the stored networks: `python -m analysis.training.train_bonding POINTS --out DIR [--fold K ...] [--final]`.

POINTS is what `analysis.training.practice` wrote, of rendered faces (`analysis.training.render`) and practice faces.
With --fold the practice faces are split by face (a mate and its re-lit copies go with it) and the scores of the faces
left out are written: what `fit_intervals` and every quoted error rest on. With --final all faces but
`practice.HELD_OUT` are used and `bonding_weights.npz` is written, to be laid beside `analysis/welds/network.py`.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import numpy.typing as npt

from analysis.training.practice import HELD_OUT
from analysis.training.set_network import PRACTICE, split, store, train
from analysis.welds.network import SCORES, Network, score


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


def load_points(folder: Path) -> tuple[list[Points], tuple[str, ...]]:
    """All files of a folder in order of name, and the cues' names."""
    found: list[Points] = []
    names: tuple[str, ...] = ()
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


def loss(scores: Any, truths: tuple[Any, ...]) -> Any:
    """Cross entropies, and the squared error of each face's bonded fraction: a face must come out right as a whole."""
    kind, hidden, step = truths
    kind = kind.astype(jnp.int32)
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
    total += 8 * (off**2).mean()
    for plane, truth in ((4, hidden), (5, step)):
        total += 0.2 * (jnp.logaddexp(0, scores[..., plane]) - truth * scores[..., plane]).mean()
    return total


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
            f"{true:.3f} ({share - true:+.3f}) fraction {fraction:.3f} of {true_fraction:.3f} "
            f"({fraction - true_fraction:+.3f})"
        )
    for profile in ("easy", "typical", "hard", ""):
        part = [r for r in rows if r[0].facts["profile"].startswith(profile)]
        if part:
            share = float(np.mean([abs(r[1] - r[2]) for r in part]))
            fraction = float(np.mean([abs(r[3] - r[4]) for r in part]))
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
    parser.add_argument("--members", type=int, default=2, help="networks whose scores are averaged")
    parser.add_argument("--practice-weight", type=float, default=2.5)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    faces, names = load_points(args.points)
    where = split(faces, args.folds)
    print(
        f"{len(faces)} files of {len({f.face for f in faces})} faces, {len(where)} of them practice faces", flush=True
    )

    def networks(chosen: list[Points], seed: int) -> list[Network]:
        how = (len(SCORES), loss, args.steps)
        truths = ("kind", "hidden", "step")
        return [train(chosen, names, truths, *how, seed + k, args.practice_weight) for k in range(args.members)]

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
