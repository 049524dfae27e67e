"""Measure practice faces with networks that never saw them, and fit the intervals to what they got wrong.

`python -m analysis.training.fit_intervals FACES --weights DIR --out DIR [--write]`: DIR holds `fold0.npz` ... as
`train_bonding --fold` wrote them. Each face's result is written to OUT as NAME.json. The fit is checked by leaving
one face out at a time; --write stores it beside `analysis/intervals.py`.
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
from scipy.optimize import nnls

from analysis.examine import Examination, ExamineRequest, examine
from analysis.measures import gaps
from analysis.measures.intervals import Z90
from analysis.welds import bonding
from analysis.welds.network import load_networks
from analysis.welds.wall_network import load_wall_network

Rows = npt.NDArray[np.float64]
AIM = 0.92  # share of faces to be held: the middle of 0.85 to 0.97, a little to the safe side
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


def fit(rows: Rows, rest: Rows, off: Rows) -> Rows:
    """Weights of the terms so that AIM of the faces are held: shape by least squares of |error|, size by quantile."""
    start, _ = nnls(rows, off)
    start = np.maximum(start, [0.005, 0, 0, 0, 0])
    needed = np.sqrt(np.maximum((off / Z90) ** 2 - rest**2, 0)) / np.maximum(rows @ start, 1e-6)
    return np.asarray(start * np.quantile(needed, AIM))


def main() -> None:
    """Parse the command line, measure, fit, check."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("faces", type=Path)
    parser.add_argument("--weights", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--write", action="store_true")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    faces = [p.parent for p in sorted(args.faces.glob("*/truth.json"))]
    faces = [f for f in faces if json.loads((f / "input.json").read_text())["surface"] == "fracture"]
    folds = len(list(args.weights.glob("fold*.npz")))
    where = fold_of(faces, folds)
    found: dict[str, Examination] = {}
    for fold in range(folds):
        _use(bonding, "load_networks", load_networks(args.weights / f"fold{fold}.npz"))
        unseen_gaps = args.weights / f"gaps{fold}.npz"
        if unseen_gaps.exists():  # the shares don't rest on the gaps
            _use(gaps, "load_wall_network", load_wall_network(unseen_gaps))
        for face in faces:
            if where[face.name] != fold:
                continue
            try:
                found[face.name] = measure(face)
            except ValueError as error:
                print(f"{face.name} refused: {error}")
                continue
            (args.out / f"{face.name}.json").write_text(json.dumps(found[face.name].result))
    lines = list(_HEAD)
    for place, key in enumerate(("bonded_share_of_face", "bonded_area_fraction")):
        lines += _fit_one(key, place, faces, found)
    lines.append("sampling 0")
    print("\n".join(lines))
    if args.write:
        _TARGET.write_text("\n".join(lines) + "\n")


def _fit_one(key: str, place: int, faces: list[Path], found: dict[str, Examination]) -> list[str]:
    names = [f for f in faces if f.name in found and found[f.name].result[key] is not None]
    built = [terms(found[f.name], key) for f in names]
    rows, rest = np.array([b[0] for b in built]), np.array([b[1] for b in built])
    off = np.array([abs(found[f.name].result[key]["value"] - true_shares(f)[place]) for f in names])
    held, widths = [], []
    for k in range(len(names)):
        others = np.arange(len(names)) != k
        weights = fit(rows[others], rest[others], off[others])
        half = Z90 * np.hypot(rows[k] @ weights, rest[k])
        held.append(off[k] <= half)
        value = found[names[k].name].result[key]["value"]
        widths.append(min(value + half, 1) - max(value - half, 0))
    print(f"{key}: off {off.mean():.3f}; one left out: held {np.mean(held):.2f}, mean width {np.mean(widths):.2f}")
    weights = fit(rows, rest, off)
    short = "share" if place == 0 else "fraction"
    return [f"{short}_{name} {value:.5f}" for name, value in zip(TERMS, weights, strict=True)]


if __name__ == "__main__":
    main()
