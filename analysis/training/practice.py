"""Faces with known truth, laid out for training: the cues of an even sample of points, and what each point is.

`python -m analysis.training.practice OUT FACES [FACES ...] [--relit N]` writes one file a face (and one a
mate, and N more under other light); files already there are kept, so folders may grow and be read again.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image
from scipy import ndimage

from analysis.roads.walls import find_walls
from analysis.roads.workview import Workview, make_workview
from analysis.training.relight import relit
from analysis.welds.cues import measure_cues

# Never trained on: the tests score these four (four colours, all profiles and modes).
HELD_OUT = ("face_06", "face_12", "face_39", "face_47")

BONDED, BARE, MISSING, OTHER = range(4)
POINTS = 8000  # kept of each face


def view_of(folder: Path, truth: dict[str, Any], known: dict[str, Any], mate: bool) -> Workview:
    """The face at working resolution, by its true outline."""
    shot = truth["mate"] if mate else truth["photo"]
    srgb = np.asarray(Image.open(folder / known["mate" if mate else "photo"]).convert("RGB"))
    return make_workview(
        srgb,
        1.0,
        known["mate_um_per_px" if mate else "um_per_px"],
        known["line_width_mm"],
        np.array(shot["outline_px"]),
        [np.array(h) for h in shot["holes_px"]],
    )


def read_mask(path: Path, view: Workview) -> npt.NDArray[np.uint8]:
    """A truth mask at the working pixels' centres; zeros where there is no such mask."""
    rows, cols = view.inside.shape
    if not path.exists():
        return np.zeros((rows, cols), np.uint8)
    return sample_mask(np.asarray(Image.open(path)), view)


def sample_mask(mask: npt.NDArray[np.uint8], view: Workview) -> npt.NDArray[np.uint8]:
    """A mask of the photo's size at the working pixels' centres."""
    rows, cols = view.inside.shape
    row, col = np.mgrid[:rows, :cols]
    xy = np.rint(view.to_photo(np.c_[col.ravel(), row.ravel()].astype(float))).astype(int)
    xy = np.clip(xy, 0, np.array(mask.shape[::-1]) - 1)
    return np.asarray(mask[xy[:, 1], xy[:, 0]].reshape(rows, cols), np.uint8)


def truth_maps(folder: Path, view: Workview, mate: bool) -> dict[str, npt.NDArray[Any]]:
    """`kind` (the four classes), `hidden` by grease, `step` within two points of a step between terraces."""
    masks = folder / ("masks_mate" if mate else "masks")
    kind = np.full(view.inside.shape, OTHER, np.uint8)
    kind[read_mask(masks / "nominal.png", view) > 0] = BARE
    kind[read_mask(masks / f"{'void_here' if mate else 'void'}.png", view) > 0] = MISSING
    kind[read_mask(masks / "bonded.png", view) > 0] = BONDED
    terrace = read_mask(masks / "terrace.png", view).astype(float)
    step = ndimage.maximum_filter(terrace, 5) != ndimage.minimum_filter(np.where(terrace > 0, terrace, 99), 5)
    step &= ndimage.binary_erosion(terrace > 0, iterations=3)
    return {"kind": kind, "hidden": read_mask(masks / "grease.png", view) > 0, "step": step}


def write_points(folder: Path, out: Path, prefix: str, mate: bool, light: int) -> None:
    """One file: cues (n, k) float16, kind, hidden, step (n,), and what the face is."""
    name = f"{prefix}{folder.name}{'m' if mate else ''}" + (f"-{light}" if light else "")
    path = out / f"{name}.npz"
    if path.exists():
        return
    truth = json.loads((folder / "truth.json").read_text())
    known = json.loads((folder / "input.json").read_text())
    view = view_of(folder, truth, known, mate)
    rng = np.random.default_rng(int(hashlib.sha256(name.encode()).hexdigest()[:8], 16))
    spacing = known.get("road_spacing_mm", known["line_width_mm"]) / view.mm_per_px
    field = find_walls(view, known["wall_count"], spacing)
    band_share = known["contact_band_mm"] / known["line_width_mm"]
    cues = measure_cues(relit(view, rng) if light else view, field, band_share)
    maps = truth_maps(folder, view, mate)
    points = np.flatnonzero(view.inside.ravel())
    if len(points) > POINTS:
        points = np.sort(rng.choice(points, POINTS, replace=False))
    chosen = {key: value.ravel()[points] for key, value in maps.items()}
    np.savez(
        path,
        cues=np.nan_to_num(cues.planes.reshape(-1, cues.planes.shape[-1])[points]).astype(np.float16),
        cue_names=np.array(cues.names),
        band_share=np.float64(band_share),
        face=np.array(f"{prefix}{folder.name}"),
        mate=np.array(mate),
        light=np.array(light),
        facts=np.array(facts_of(truth)),
        kind=chosen["kind"],
        hidden=chosen["hidden"],
        step=chosen["step"],
    )


def facts_of(truth: dict[str, Any]) -> str:
    return json.dumps({"profile": truth["profile"], "primary": truth["labels"]["primary"], "colour": truth["colour"]})


def main() -> None:
    """Parse the command line and write the points of every fracture face."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=Path)
    parser.add_argument("faces", type=Path, nargs="+")
    parser.add_argument("--relit", type=int, default=1)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for root in args.faces:
        for path in sorted(root.glob("*/truth.json")):
            truth = json.loads(path.read_text())
            if "rub_patch_mm2" in truth or truth["labels"]["primary"] == "interference_rub":
                continue
            for mate in (False, True):
                if mate and not (path.parent / "masks_mate").exists():
                    continue
                for light in range(args.relit + 1):
                    write_points(path.parent, args.out, f"{root.name}-", mate, light)


if __name__ == "__main__":
    main()
