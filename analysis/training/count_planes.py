"""Fit how sure a division makes us of another plane: `python -m analysis.training.count_planes OUT --rendered ...`.

The halves are files of `analysis.training.plane_faces`, of faces that the weights before them were not trained on.
Writes the two rows of `plane_counting.txt`: is it more than one plane; is it one more still.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from analysis.measures.plane_network import load_layers, run
from analysis.measures.plane_split import splits
from analysis.measures.planes import face_evidence, places
from analysis.roads.workview import Bools

HELD = 10.0  # how tightly the regression's weights are held to 0: the faces are few


def evidence(path: Path, weights: Path) -> tuple[list[tuple[float, ...]], int]:
    """What speaks for two, three and four planes on one stored half, and how many it has."""
    with np.load(path) as stored:
        cues, planes = stored["cues"].astype(np.float32), int(stored["planes"])
    scores, inside = run(cues, load_layers(weights)), on_face(cues)
    face = face_evidence(cues, scores, inside)
    return [(s.loose, *face) for s in splits(scores[..., 0], scores[..., 1:], inside)[1:]], planes


def on_face(cues: npt.NDArray[np.float32]) -> Bools:
    """The face's places, by the last cue."""
    return places(np.repeat(np.repeat(cues[..., -1] > 0.5, 2, 0), 2, 1))


def fitted(rows: list[tuple[float, ...]], more: list[bool], often: list[float]) -> npt.NDArray[np.float64]:
    """Weights of the evidence and a bias: logistic regression with a ridge on standardised evidence."""
    table, truth, times = np.array(rows), np.array(more, float), np.array(often)
    middle, spread = table.mean(0), table.std(0) + 1e-6
    standard = (table - middle) / spread

    def cost(weights: npt.NDArray[np.float64]) -> float:
        odds = standard @ weights[:-1] + weights[-1]
        return float((times * (np.logaddexp(0, odds) - truth * odds)).sum() + HELD / 2 * (weights[:-1] ** 2).sum())

    best = np.asarray(minimize(cost, np.zeros(table.shape[1] + 1)).x)
    return np.asarray(np.r_[best[:-1] / spread, best[-1] - (best[:-1] * middle / spread).sum()])


def fit(found: list[tuple[list[tuple[float, ...]], int, float]]) -> list[npt.NDArray[np.float64]]:
    """The two regressions from evidence, number of planes and weight of each half."""
    out = []
    for place in (0, 1):
        cases = [
            (rows[k], planes >= k + 2, often)
            for rows, planes, often in found
            for k in range(len(rows))
            if min(k, 1) == place and planes >= k + 1
        ]
        out.append(fitted(*(list(v) for v in zip(*cases, strict=True))))
    return out


def main() -> None:
    """Parse the command line and fit."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=Path)
    parser.add_argument("--rendered", nargs="+", metavar="FILE", help="weights, then halves")
    parser.add_argument(
        "--practice", nargs="+", action="append", metavar="FILE", help="weights, then halves; counts twice"
    )
    args = parser.parse_args()
    found = []
    for (weights, *halves), often in [(args.rendered, 1.0), *((p, 2.0) for p in args.practice or ())]:
        found += [(*evidence(Path(half), Path(weights)), often) for half in halves]
    np.savetxt(args.out, fit(found), fmt="%.4f")


if __name__ == "__main__":
    main()
