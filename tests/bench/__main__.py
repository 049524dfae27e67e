"""Measure practice faces and print each error beside its goal: `python -m tests.bench [FOLDER] [--unseen]`.

FOLDER holds one folder a face (default: tests/faces). The two plain answers, one Otsu threshold inside the true
outline and the best constant, are worked out in the same run. Faces that the stored network was trained on flatter
it: --unseen leaves them out, and the table says how many each row rests on.
"""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from analysis.examine import ExamineRequest, examine
from analysis.training.practice import HELD_OUT
from tests.bench.scoring import FaceScore, score_fracture

PROFILES = ("easy", "typical", "hard")
GOALS = {
    "bonded_share_of_face_error": ("<=", 0.04, 0.06, 0.10),
    "otsu_error": ("", None, None, None),
    "constant_error": ("", None, None, None),
    "bonded_share_of_face_held": ("0.85 to 0.97 over all", None, None, None),
    "bonded_share_of_face_width": ("<=", 0.20, 0.20, None),
    "bonded_area_fraction_error": ("<=", 0.06, 0.09, 0.15),
    "bonded_area_fraction_held": ("0.85 to 0.97 over all", None, None, None),
    "bonded_area_fraction_width": ("<=", 0.20, 0.20, None),
    "continuity_error": ("<=", 0.03, 0.05, 0.10),
    "gap_f1": (">=", 0.90, 0.80, 0.60),
    "planes_right": (">=", 0.90, 0.80, 0.60),
    "outline_iou": (">=", 0.97, 0.94, 0.85),
}


def measure(folder: Path, own_outline: bool = True) -> dict[str, Any] | None:
    """The result for one face by what `input.json` tells a person, or None where it is refused."""
    known = json.loads((folder / "input.json").read_text())
    outline = None
    if not own_outline:
        photo = json.loads((folder / "truth.json").read_text())["photo"]
        outline = {"outline_px": photo["outline_px"], "holes_px": photo["holes_px"]}
    try:
        return examine(
            ExamineRequest(
                photo=folder / known["photo"],
                um_per_px=known["um_per_px"],
                line_width_mm=known["line_width_mm"],
                layer_height_mm=known["layer_height_mm"],
                wall_count=known.get("wall_count"),
                contact_band_mm=known.get("contact_band_mm"),
                surface=known["surface"],
                mate=folder / known["mate"] if known.get("mate") else None,
                mate_um_per_px=known.get("mate_um_per_px"),
                outline=outline,
            )
        ).result
    except ValueError as error:
        print(f"  {folder.name} refused: {error}")
        return None


def fracture_faces(folder: Path) -> list[Path]:
    """Folders of fracture faces, sorted by name."""
    found = [p.parent for p in sorted(folder.glob("*/truth.json"))]
    return [p for p in found if json.loads((p / "input.json").read_text())["surface"] == "fracture"]


def table(scores: Sequence[FaceScore]) -> list[str]:
    """One line a measure: value (faces) by profile and over all, then the goals."""
    lines = [f"{'':30s}" + "".join(f"{p:>15s}" for p in (*PROFILES, "all")) + "   goal easy / typical / hard"]
    for key, (sense, *goals) in GOALS.items():
        cells = []
        for part in [[s for s in scores if s.profile == p] for p in PROFILES] + [list(scores)]:
            value, count = _mean(part, key)
            cells.append(f"{value:9.3f} ({count:3d})" if value is not None else f"{'-':>9s} ({count:3d})")
        goal = f"{sense} " + " / ".join("-" if g is None else f"{g:g}" for g in goals) if any(goals) else sense
        lines.append(f"{key:30s}" + "".join(f"{c:>15s}" for c in cells) + f"   {goal}")
    return lines


def _mean(scores: Sequence[FaceScore], key: str) -> tuple[float | None, int]:
    if key == "gap_f1":
        found, false, missed = np.sum([s.gaps for s in scores], axis=0) if scores else (0, 0, 0)
        total = int(found + false + missed)
        return (float(2 * found / max(2 * found + false + missed, 1)) if total else None), total
    values = [s.values[key] for s in scores]
    return (float(np.mean(values)) if values else None), len(values)


def main() -> None:
    """Measure, score, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, nargs="?", default=Path(__file__).parents[1] / "faces")
    parser.add_argument("--unseen", action="store_true", help="only faces the stored network never saw")
    parser.add_argument("--true-outline", action="store_true", help="measure inside the true outline")
    parser.add_argument("--save", type=Path, help="folder for one NAME.json a face")
    args = parser.parse_args()
    scores, seconds = [], []
    for face in fracture_faces(args.folder):
        if args.unseen and face.name not in HELD_OUT:
            continue
        begun = time.perf_counter()
        result = measure(face, own_outline=not args.true_outline)
        seconds.append(time.perf_counter() - begun)
        scores.append(score_fracture(face, result))
        print(_line(scores[-1], seconds[-1]), flush=True)
        if args.save and result:
            args.save.mkdir(parents=True, exist_ok=True)
            (args.save / f"{face.name}.json").write_text(json.dumps(result))
    seen = "" if args.unseen else ", faces the network was trained on among them"
    print(f"\n{len(scores)} faces{seen}; {np.mean(seconds):.2f} s a face")
    print("\n".join(table(scores)))


def _line(score: FaceScore, seconds: float) -> str:
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
