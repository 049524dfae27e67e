"""Faces with known truth as unrolled walls: `python -m analysis.training.unroll OUT FACES [FACES ...]`.

One file a face and one a mate; files already there are kept.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import numpy as np
from scipy import ndimage

from analysis.roads.walls import find_walls, trace_walls
from analysis.roads.workview import Bools, Workview
from analysis.training.practice import facts_of, read_mask, view_of
from analysis.welds.wall_strips import ROWS, STRIP_PX, strip_places, wall_strips

SPARE = 8  # rows beyond what the network reads, so that training can shift the strip


def unroll(folder: Path, out: Path, prefix: str, mate: bool) -> None:
    """One file of a stored face or of its mate."""
    path = out / f"{prefix}{folder.name}{'m' if mate else ''}.npz"
    if path.exists():
        return
    truth = json.loads((folder / "truth.json").read_text())
    known = json.loads((folder / "input.json").read_text())
    view = view_of(folder, truth, known, mate)
    masks = folder / ("masks_mate" if mate else "masks")
    void = read_mask(masks / f"{'void_here' if mate else 'void'}.png", view) > 0
    hidden = read_mask(masks / "grease.png", view) > 0
    write_strips(path, f"{prefix}{folder.name}", view, known, truth, void, hidden)


def write_strips(
    path: Path, face: str, view: Workview, known: dict[str, Any], truth: dict[str, Any], void: Bools, hidden: Bools
) -> None:
    """Strips of all walls side by side, their lengths, where the road is missing, where grease hides it.

    `void` and `hidden` are at the working pixels' centres. A face on which no wall is found is left out.
    """
    spacing = known.get("road_spacing_mm", known["line_width_mm"]) / view.mm_per_px
    walls = trace_walls(view, find_walls(view, known["wall_count"], spacing))
    if not walls:
        return
    along = []
    for mask in (void, hidden):
        read = [
            ndimage.map_coordinates(mask.astype(np.float32), strip_places(view, w, STRIP_PX // 2), order=1)
            for w in walls
        ]
        along.append(np.concatenate([r.mean(0) > 0.5 for r in read]))
    strips = wall_strips(view, walls, ROWS + 2 * SPARE)
    np.savez_compressed(
        path,
        strips=np.concatenate(strips, 1).astype(np.float16),
        columns=np.array([s.shape[1] for s in strips]),
        missing=along[0],
        hidden=along[1],
        face=face,
        facts=facts_of(truth),
    )


def main() -> None:
    """Parse the command line and unroll the walls of every fracture face."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=Path)
    parser.add_argument("faces", type=Path, nargs="+")
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for root in args.faces:
        for path in sorted(root.glob("*/truth.json")):
            truth = json.loads(path.read_text())
            if "rub_patch_mm2" in truth or truth["labels"]["primary"] == "interference_rub":
                continue
            for mate in (False, True):
                if not mate or (path.parent / "masks_mate").exists():
                    unroll(path.parent, args.out, f"{root.name}-", mate)


if __name__ == "__main__":
    main()
