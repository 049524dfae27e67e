"""How right and how sure the verdicts are: `python -m tests.bench.verdicts [FOLDER] [--unseen | --weights DIR]`.

Fracture faces only, photo alone; then again with the five most telling questions answered from the truth
(`tests/bench/honest.py` says by which rules). Only faces that neither the networks nor the evidence were tuned on
count: --unseen keeps to those, --weights takes `fold0.npz`, `gaps0.npz` ... and measures each face with the networks
that never saw it, --render N makes N faces from seeds that nothing was tuned on. --results scores the NAME.json of an
earlier run with the evidence as it is now.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from pathlib import Path
from typing import Any

from analysis.evidence.observations import from_measures
from analysis.training.practice import HELD_OUT
from analysis.training.render.__main__ import main as render
from tests.bench.honest import asked_and_answered, sights_of
from tests.bench.reading import by_network, fracture_faces, measure
from tests.bench.verdict_table import Told, told_of, verdict_table

OWN_SEED = 800_001  # seeds of training and of tuning lie below
QUESTIONS = 5


def main() -> None:
    """Measure or read results, weigh, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, nargs="?", default=Path(__file__).parents[1] / "faces")
    parser.add_argument("--unseen", action="store_true", help="only faces that nothing was tuned on")
    parser.add_argument("--weights", type=Path, help="folder of fold networks, each face by those that never saw it")
    parser.add_argument("--render", type=int, metavar="N", help="N freshly rendered faces instead of FOLDER")
    parser.add_argument("--results", type=Path, help="folder of one NAME.json a face; nothing is measured")
    parser.add_argument("--save", type=Path, help="folder for one NAME.json a face")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as fresh:
        if args.render:
            render([fresh, "--count", str(args.render), "--seed", str(OWN_SEED), "--size", "1224x918"])
            args.folder = Path(fresh)
        faces = [f for f in fracture_faces(args.folder) if not args.unseen or f.name in HELD_OUT]
        results = _results(faces, args)
        print("\n".join(report(faces, results)))


def _results(faces: list[Path], args: argparse.Namespace) -> dict[str, dict[str, Any] | None]:
    if args.results:
        return {
            f.name: json.loads((args.results / f"{f.name}.json").read_text())
            for f in faces
            if (args.results / f"{f.name}.json").exists()
        }
    found = {}
    for group in by_network(faces, args.weights):
        for face in group:
            found[face.name] = measure(face)
            if args.save:
                args.save.mkdir(parents=True, exist_ok=True)
                (args.save / f"{face.name}.json").write_text(json.dumps(found[face.name]))
    return found


def report(faces: list[Path], results: dict[str, dict[str, Any] | None]) -> list[str]:
    """Three tables: photo alone, five questions asked, and asked until five were answered."""
    chosen = [f for f in faces if f.name in results]
    alone = [told_of(f, results[f.name]) for f in chosen]
    lines = verdict_table(alone, f"Verdict, photo alone, {len(chosen)} fracture faces")
    for skip, title in ((False, "asked"), (True, "answered; can't tell isn't counted")):
        cases = [_with_answers(f, results[f.name], skip) for f in chosen]
        lines += ["", *verdict_table(cases, f"Photo, and the {QUESTIONS} most telling questions {title}", goals=False)]
    return lines


def _with_answers(face: Path, result: dict[str, Any] | None, skip_unknown: bool) -> Told:
    seen = from_measures(result) if result else []
    return told_of(face, result, asked_and_answered(seen, sights_of(face), QUESTIONS, skip_unknown))


if __name__ == "__main__":
    main()
