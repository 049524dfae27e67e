"""Measure faces with truth and print each figure beside its goal: `python -m tests.bench [FOLDER] [--unseen]`.

FOLDER holds one folder a face (default: tests/faces). The plain answers, one Otsu threshold inside the true outline,
the best constant and "one plane", are worked out in the same run. Faces that the stored weights were trained on
flatter them: --unseen leaves those out, and --render N makes N faces of our own from seeds that no weights were
trained on. Every figure says how many faces or gaps it rests on; a refusal counts as wrong.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from pathlib import Path

import numpy as np

from analysis.training.practice import HELD_OUT
from analysis.training.render.__main__ import main as render
from tests.bench.reading import faces, known_of, measure, wrong_pairs
from tests.bench.scoring import FaceScore, score_fracture, score_outer, score_wrong_mate
from tests.bench.table import table
from tests.bench.verdicts import report as verdicts

OWN_SEED = 700_001  # far from the seeds of training


def main() -> None:
    """Measure, score, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, nargs="?", default=Path(__file__).parents[1] / "faces")
    parser.add_argument("--unseen", action="store_true", help="only faces the stored weights never saw")
    parser.add_argument("--render", type=int, metavar="N", help="N freshly rendered faces instead of FOLDER")
    parser.add_argument("--true-outline", action="store_true", help="measure inside the true outline")
    parser.add_argument("--save", type=Path, help="folder for one NAME.json a face")
    args = parser.parse_args()
    if args.render:
        with tempfile.TemporaryDirectory() as folder:
            render([folder, "--count", str(args.render), "--seed", str(OWN_SEED), "--size", "1224x918"])
            report(faces(Path(folder)), args, "rendered for this run, never trained on")
        return
    chosen = faces(args.folder)
    if args.unseen:
        chosen = [face for face in chosen if face.name in HELD_OUT or known_of(face)["surface"] == "outer"]
    report(chosen, args, "never trained on" if args.unseen else "faces the weights were trained on among them")


def report(chosen: list[Path], args: argparse.Namespace, what: str) -> None:
    """Measure each face, then each one that has a mate with a wrong mate, and print the table."""
    scores, seconds, results = [], [], {}
    for face in chosen:
        begun = time.perf_counter()
        result = measure(face, own_outline=not args.true_outline)
        seconds.append(time.perf_counter() - begun)
        if args.save and result:
            args.save.mkdir(parents=True, exist_ok=True)
            (args.save / f"{face.name}.json").write_text(json.dumps(result))
        outer = known_of(face)["surface"] == "outer"
        if not outer:
            results[face.name] = result
        scores.append(score_outer(face, result) if outer else score_fracture(face, result))
        print(line(scores[-1], seconds[-1]), flush=True)
    for face, other in wrong_pairs(chosen):
        scores.append(score_wrong_mate(face, measure(face, mate=other)))
        print(line(scores[-1], 0.0), flush=True)
    print(f"\n{len(chosen)} faces, {what}; {np.mean(seconds):.2f} s a face")
    print("\n".join([*table(scores), "", *verdicts(chosen, results)]))


def line(score: FaceScore, seconds: float) -> str:
    """One face in one line."""
    if "outline_iou" not in score.values:
        said = ", ".join(f"{key} {'yes' if value else 'NO'}" for key, value in score.values.items())
        return f"  {score.name} {score.profile:8s} {said}"
    v = score.values
    found, false, missed = score.gaps
    return (
        f"  {score.name} {score.profile:8s} share off {v['bonded_share_of_face_error']:.3f}"
        f" fraction off {v['bonded_area_fraction_error']:.3f} continuity off {v['continuity_error']:.3f}"
        f" gaps {found}/{false}/{missed} planes {'right' if v['planes_right'] else 'wrong'}"
        f" outline {v['outline_iou']:.3f} {seconds:.2f} s"
    )


if __name__ == "__main__":
    main()
