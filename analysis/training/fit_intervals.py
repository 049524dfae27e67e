"""Measure faces with networks that never saw them, and fit the intervals to what they got wrong.

`python -m analysis.training.fit_intervals FACES --weights DIR --out DIR [--rendered FACES ...] [--write]`: DIR holds
`fold0.npz` ... as `train_bonding --fold` wrote them. --rendered names folders of our own faces that no training saw;
they are measured with the stored weights, and every folder counts alike. Each face's result is written to OUT as
NAME.json. The fit is checked in nine parts, each by the rest; --write stores it beside
`analysis/measures/intervals.py`. The stored fit rests on the 36 practice fracture faces in four folds and on 117 of
120 rendered ones (three were refused): seeds from 900001, 1224x918, half of the renderer up to commit 7a2da1f and half
of that of 9a03cba.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image
from scipy.optimize import minimize

from analysis.examine import Examination, ExamineRequest, examine
from analysis.measures import gaps
from analysis.measures.intervals import Z90
from analysis.welds import bonding
from analysis.welds.network import load_networks
from analysis.welds.wall_network import load_wall_network

Rows = npt.NDArray[np.float64]
MISSED = 2 / 0.10  # what one unit outside a 90 % interval costs beside one unit of its width
PARTS = 9
TERMS = ("floor", "doubt", "middle", "threshold", "apart")
_HEAD = (
    "# Fitted by analysis/training/fit_intervals.py on faces that the networks had not seen.",
    "# Reader's standard deviation: floor + doubt * doubt^2 + middle * sqrt(v (1 - v)) + threshold * threshold part",
    "# + apart * how far the two opinions differ.",
)
_TARGET = Path(__file__).parents[1] / "measures" / "interval_calibration.txt"


def fold_of(faces: list[Path], folds: int) -> dict[str, int]:
    """The split that `train_bonding` made."""
    kinds = {}
    for face in faces:
        truth = json.loads((face / "truth.json").read_text())
        kinds[face.name] = (truth["labels"]["primary"], truth["profile"], f"faces-{face.name}")
    return {name: place % folds for place, name in enumerate(sorted(kinds, key=lambda n: kinds[n]))}


def measure(face: Path, outline: dict[str, Any] | None = None) -> Examination:
    """One practice face by what `input.json` tells."""
    known = json.loads((face / "input.json").read_text())
    return examine(
        ExamineRequest(
            photo=face / known["photo"],
            um_per_px=known["um_per_px"],
            line_width_mm=known["line_width_mm"],
            layer_height_mm=known["layer_height_mm"],
            wall_count=known["wall_count"],
            contact_band_mm=known["contact_band_mm"],
            mate=face / known["mate"] if known.get("mate") else None,
            mate_um_per_px=known.get("mate_um_per_px"),
            outline=outline,
        )
    )


def _use(module: ModuleType, loader: str, weights: object) -> None:
    """Let a module find these weights instead of the stored ones."""
    setattr(module, loader, lambda path: weights)


def true_shares(face: Path) -> tuple[float, float]:
    """Bonded share of the face and of the contact, both without grease."""
    masks = [np.asarray(Image.open(face / "masks" / f"{n}.png")) > 0 for n in ("face", "grease", "bonded")]
    known = masks[0] & ~masks[1]
    truth = json.loads((face / "truth.json").read_text())
    return float((masks[2] & known).sum() / known.sum()), float(truth["bonded_area_fraction"])


def terms(found: Examination, key: str) -> tuple[Rows, float]:
    """What the reader's standard deviation is built from, and the rest of the spread, for one face."""
    assert found.spread is not None
    parts = found.spread.parts
    value = found.result[key]["value"]
    share, fraction = (found.result[k]["value"] for k in ("bonded_share_of_face", "bonded_area_fraction"))
    contact = share / max(fraction, 1e-6)  # nominal contact over face
    over = 1 / max(contact, 1e-6) if key == "bonded_area_fraction" else 1.0
    rest = np.hypot(parts["outline"], parts["scale"]) * over
    joint = parts["joint"]
    middle = np.sqrt(max(value * (1 - value), 0.0))
    row = [1.0, parts["reader"] ** 2, middle, parts["threshold"] * over, parts["apart"] * over * contact]
    return np.array(row) * joint, float(rest)


def fit(rows: Rows, rest: Rows, off: Rows, counts: Rows) -> Rows:
    """Weights of the terms with the least mean interval score: width, and twenty times what lies outside.

    The score is least where 90 % are held and the width goes with the error (T. Gneiting, A. E. Raftery, J. Am.
    Stat. Assoc. 102:359, 2007, sec. 6.2).

    Parameters
    ----------
    rows, rest, off : what the reader's deviation is built from, the other parts, |error|; one row a face.
    counts : how much each face counts.
    """
    size = np.maximum(rows.std(0), 1e-6)
    size[0] = 1.0

    def score(logs: Rows) -> float:
        half = Z90 * np.hypot(rows @ (np.exp(logs) / size), rest)
        return float((counts * (2 * half + MISSED * np.maximum(off - half, 0))).mean())

    starts = [np.random.default_rng(k).normal(-3.5, 0.7, rows.shape[1]) for k in range(6)]
    steps = {"maxiter": 1500, "fatol": 1e-5, "xatol": 1e-2}
    ends = [minimize(score, start, method="Nelder-Mead", options=steps) for start in starts]
    return np.asarray(np.exp(min(ends, key=lambda e: float(e.fun)).x) / size)


def measure_unseen(faces: list[Path], weights: Path) -> dict[Path, Examination]:
    """Each practice face with the networks that never saw it."""
    folds = len(list(weights.glob("fold*.npz")))
    where = fold_of(faces, folds)
    found: dict[Path, Examination] = {}
    for fold in range(folds):
        _use(bonding, "load_networks", load_networks(weights / f"fold{fold}.npz"))
        unseen_gaps = weights / f"gaps{fold}.npz"
        if unseen_gaps.exists():  # the shares hardly rest on the gaps
            _use(gaps, "load_wall_network", load_wall_network(unseen_gaps))
        found |= measure_all([f for f in faces if where[f.name] == fold])
    return found


def measure_all(faces: list[Path]) -> dict[Path, Examination]:
    """The faces that aren't refused."""
    found = {}
    for face in faces:
        try:
            found[face] = measure(face)
        except ValueError as error:
            print(f"{face.name} refused: {error}")
    return found


def fracture_faces(root: Path) -> list[Path]:
    """Folders of fracture faces by name."""
    faces = [p.parent for p in sorted(root.glob("*/truth.json"))]
    return [f for f in faces if json.loads((f / "input.json").read_text())["surface"] == "fracture"]


def main() -> None:
    """Parse the command line, measure, fit, check."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("faces", type=Path)
    parser.add_argument("--weights", type=Path, required=True)
    parser.add_argument("--rendered", type=Path, nargs="*", default=[], help="faces of our own that no training saw")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    sets = [measure_all(fracture_faces(root)) for root in args.rendered]  # first: with the stored weights
    sets.append(measure_unseen(fracture_faces(args.faces), args.weights))
    for found in sets:
        for face, one in found.items():
            (args.out / f"{face.name}.json").write_text(json.dumps(one.result))
    lines = list(_HEAD)
    for place, key in enumerate(("bonded_share_of_face", "bonded_area_fraction")):
        lines += _fit_one(key, place, sets)
    lines.append("sampling 0")
    print("\n".join(lines))
    if args.write:
        _TARGET.write_text("\n".join(lines) + "\n")


def _fit_one(key: str, place: int, sets: list[dict[Path, Examination]]) -> list[str]:
    judged = [[(f, e) for f, e in found.items() if e.result[key] is not None] for found in sets]
    flat = [pair for part in judged for pair in part]
    counts = np.concatenate([np.full(len(part), len(flat) / len(judged) / len(part)) for part in judged])
    built = [terms(e, key) for _, e in flat]
    rows, rest = np.array([b[0] for b in built]), np.array([b[1] for b in built])
    value = np.array([e.result[key]["value"] for _, e in flat])
    off = np.abs(value - np.array([true_shares(f)[place] for f, _ in flat]))
    half = np.zeros(len(flat))
    part_of = np.random.default_rng(1).permutation(len(flat)) % PARTS
    for part in range(PARTS):
        of, others = part_of == part, part_of != part
        half[of] = Z90 * np.hypot(rows[of] @ fit(rows[others], rest[others], off[others], counts[others]), rest[of])
    width = np.minimum(value + half, 1) - np.maximum(value - half, 0)
    ends = np.cumsum([len(part) for part in judged])
    for first, last in zip([0, *ends[:-1]], ends, strict=True):
        of = slice(first, last)
        print(
            f"{key}: {last - first} faces, off {off[of].mean():.3f}; fitted without them: "
            f"held {np.mean(off[of] <= half[of]):.2f}, mean width {width[of].mean():.2f}"
        )
    weights = fit(rows, rest, off, counts)
    short = "share" if place == 0 else "fraction"
    return [f"{short}_{name} {number:.5f}" for name, number in zip(TERMS, weights, strict=True)]


if __name__ == "__main__":
    main()
