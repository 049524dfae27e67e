"""Render faces into a folder: `python -m analysis.training.render OUT --count 200 --seed 1 [--size 1400x1050]`."""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path

from PIL import Image

from analysis.training.render.scene import Rendered, render_face


def save(face: Rendered, folder: Path) -> None:
    """Write one face as photo.jpg, input.json, truth.json and masks/*.png."""
    (folder / "masks").mkdir(parents=True, exist_ok=True)
    (folder / "photo.jpg").write_bytes(face.photo)
    for name, picture in face.masks.items():
        Image.fromarray(picture).save(folder / "masks" / f"{name}.png", compress_level=1)
    (folder / "input.json").write_text(json.dumps(face.input, indent=1))
    # truth last: a folder without it is one that isn't finished
    (folder / "truth.json").write_text(json.dumps(face.truth, indent=1))


def main(argv: list[str] | None = None) -> int:
    """Render `count` faces with seeds `seed`, `seed` + 1, ... ; faces already there are kept."""
    ap = argparse.ArgumentParser(prog="python -m analysis.training.render", description=__doc__)
    ap.add_argument("out", type=Path)
    ap.add_argument("--count", type=int, default=20)
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--size", default="1400x1050", help="width x height in px")
    a = ap.parse_args(argv)
    width, height = (int(v) for v in a.size.split("x"))
    for seed in range(a.seed, a.seed + a.count):
        folder = a.out / f"face_{seed:06d}"
        if (folder / "truth.json").exists():
            continue
        t0 = time.process_time()
        save(render_face(seed, width, height), folder)
        print(f"{folder.name} {time.process_time() - t0:.1f} s", file=sys.stderr, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
