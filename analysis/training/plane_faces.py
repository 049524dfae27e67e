"""Faces with known layer planes, laid out for training: `python -m analysis.training.plane_faces OUT [FACES ...]`.

Of each face: the cues of `analysis.measures.plane_cues` and the number of the terrace at each cell. FACES are folders
of faces; with --count N faces are rendered besides, seeds from --seed, with more steps than the plain renderer draws.
"""

from __future__ import annotations

import argparse
import io
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from analysis.measures.plane_cues import plane_cues
from analysis.roads.walls import find_walls
from analysis.roads.workview import Workview, make_workview
from analysis.training.render.scene import render_spec
from analysis.training.render.spec import sample_spec

COUNTS = (0.4, 0.3, 0.2, 0.1)  # of one to four planes among the faces rendered here
SIZES = ((1224, 918), (1632, 1224))


def lay_out(
    photo: Image.Image, terrace: npt.NDArray[np.uint8], known: dict[str, Any], truth: dict[str, Any], side: str
) -> dict[str, Any]:
    """Cues (float16), terrace a cell (uint8), counts and facts of one half."""
    shot = truth["mate" if side == "mate" else "photo"]
    view = make_workview(
        np.asarray(photo.convert("RGB")),
        1.0,
        known["mate_um_per_px" if side == "mate" else "um_per_px"],
        known["line_width_mm"],
        np.array(shot["outline_px"]),
        [np.array(h) for h in shot["holes_px"]],
    )
    spacing = known.get("road_spacing_mm", known["line_width_mm"]) / view.mm_per_px
    cues = plane_cues(view, find_walls(view, known["wall_count"], spacing))
    return {
        "cues": cues.astype(np.float16),
        "terrace": _cells(terrace, view),
        "planes": truth["terraces"],
        "facts": json.dumps([truth["profile"], truth["labels"]["primary"], truth["colour"]]),
    }


def _cells(terrace: npt.NDArray[np.uint8], view: Workview) -> npt.NDArray[np.uint8]:
    """The terrace map at the middle of each cell of two by two working pixels."""
    rows, cols = (n // 2 for n in view.inside.shape)
    row, col = np.mgrid[:rows, :cols] * 2 + 0.5
    xy = np.rint(view.to_photo(np.c_[col.ravel(), row.ravel()])).astype(int)
    xy = np.clip(xy, 0, np.array(terrace.shape[::-1]) - 1)
    return np.asarray(terrace[xy[:, 1], xy[:, 0]].reshape(rows, cols), np.uint8)


def stored_faces(roots: list[Path]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Fracture faces in folders, and their mates."""
    for root in roots:
        for path in sorted(root.glob("*/truth.json")):
            truth = json.loads(path.read_text())
            known = json.loads((path.parent / "input.json").read_text())
            if known["surface"] != "fracture":
                continue
            for side, masks in (("photo", "masks"), ("mate", "masks_mate")):
                if (path.parent / masks).exists():
                    terrace = np.asarray(Image.open(path.parent / masks / "terrace.png"))
                    photo = Image.open(path.parent / known[side])
                    name = f"{root.name}-{path.parent.name}{'m' if side == 'mate' else ''}"
                    yield name, lay_out(photo, terrace, known, truth, side)


def rendered_faces(first: int, count: int) -> Iterator[tuple[str, dict[str, Any]]]:
    """Faces of the project's own renderer with a number of planes drawn from COUNTS."""
    for seed in range(first, first + count):
        rng = np.random.default_rng([seed, 9])
        spec = sample_spec(seed, *SIZES[seed % 2])
        planes = int(rng.choice(4, p=COUNTS)) + 1
        shares = tuple(float(v) for v in rng.dirichlet(np.full(planes, 4.0)))
        face = render_spec(replace(spec, terraces=replace(spec.terraces, shares=shares)))
        known: dict[str, Any] = dict(face.input)
        yield (
            f"drawn-{seed}",
            lay_out(Image.open(io.BytesIO(face.photo)), face.masks["terrace"], known, dict(face.truth), "photo"),
        )


def main() -> None:
    """Parse the command line and write one file a half."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=Path)
    parser.add_argument("faces", type=Path, nargs="*")
    parser.add_argument("--count", type=int, default=0)
    parser.add_argument("--seed", type=int, default=700_001)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for source in (stored_faces(args.faces), rendered_faces(args.seed, args.count)):
        for name, laid in source:
            np.savez(args.out / f"{name}.npz", **laid)


if __name__ == "__main__":
    main()
