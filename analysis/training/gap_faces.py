"""Render the faces that the gap network learns from, unrolled: `python -m analysis.training.gap_faces OUT`.

Two sets of seeds, always the same. The plain ones are what `analysis.training.render` draws. On the lean ones every
part has gaps, half of them little longer than a road is wide, mostly on white, natural and black filament, and every
second has little contrast: pale tearing, shallow hollows, light from all sides, an exposure that is off. One file a
face; files already there are kept.
"""

from __future__ import annotations

import argparse
import io
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from analysis.roads.workview import make_workview
from analysis.training.practice import sample_mask
from analysis.training.render.defects import Defects, Stretch
from analysis.training.render.filament import Filament, sample_filament
from analysis.training.render.roads import Plan
from analysis.training.render.scene import render_spec
from analysis.training.render.spec import Spec, sample_spec
from analysis.training.unroll import write_strips

PLAIN = range(1, 121)
LEAN = range(200_001, 200_151)
SIZE = (1224, 918)
HARD_FILAMENTS = ("white", "natural", "black", "cf_black", "dark_grey")


def lean(seed: int) -> Spec:
    """The description of a lean face."""
    rng = np.random.default_rng([seed, 7])
    spec = sample_spec(seed, *SIZE)
    filament = _filament(rng) if rng.random() < 0.7 else spec.filament
    spec = replace(spec, filament=filament, behind=replace(spec.behind, filament=filament))
    spec = replace(spec, defects=replace(spec.defects, gaps=_gaps(rng, spec.plan, spec.defects)))
    return _flat(rng, spec) if rng.random() < 0.5 else spec


def _filament(rng: np.random.Generator) -> Filament:
    while True:
        drawn = sample_filament(rng)
        if drawn.name in HARD_FILAMENTS:
            return drawn


def _gaps(rng: np.random.Generator, plan: Plan, planned: Defects) -> list[Stretch]:
    """The planned gaps and two to seven more, apart from each other and from thin stretches."""
    width, found = plan.line_width_mm, list(planned.gaps)
    for _ in range(int(rng.integers(2, 8))):
        wall = int(rng.integers(len(plan.walls)))
        round_mm = plan.walls[wall].length_mm
        roads = rng.uniform(1.3, 3.5) if rng.random() < 0.5 else 1 + rng.lognormal(np.log(5), 0.5)
        start, length = float(rng.uniform(0, round_mm)), float(min(roads * width, 0.35 * round_mm))
        if all(_apart(s, wall, start, length, round_mm) > 2 * width for s in (*found, *planned.thin)):
            found.append(Stretch(wall, start, start + length))
    return found


def _apart(other: Stretch, wall: int, start: float, length: float, round_mm: float) -> float:
    """From end to end along the wall, in mm; below 0 where they overlap."""
    if other.wall != wall:
        return np.inf
    middle = (other.start_mm + other.end_mm) / 2 - start - length / 2
    between = abs((middle + round_mm / 2) % round_mm - round_mm / 2)
    return float(between - (other.length_mm + length) / 2)


def _flat(rng: np.random.Generator, spec: Spec) -> Spec:
    """Little contrast, by any of its causes."""
    off = float(rng.uniform(0.3, 1.1)) * (1 if max(spec.filament.base) > 0.4 else rng.choice([-1, 1]))
    whitening = spec.filament.whitening * float(rng.uniform(0.2, 0.7))
    ambient, hollow = float(rng.uniform(0.3, 0.65)), spec.lighting.hollow * float(rng.uniform(0.4, 0.8))
    return replace(
        spec,
        filament=replace(spec.filament, whitening=whitening),
        lighting=replace(spec.lighting, ambient=ambient, hollow=hollow),
        optics=replace(spec.optics, ev=float(off), contrast=float(rng.uniform(0, 0.3))),
    )


def specs(sets: list[str]) -> Iterator[tuple[str, Spec]]:
    """Names and descriptions of all faces of the named sets."""
    if "plain" in sets:
        yield from ((f"plain-{seed:06d}", sample_spec(seed, *SIZE)) for seed in PLAIN)
    if "lean" in sets:
        yield from ((f"lean-{seed:06d}", lean(seed)) for seed in LEAN)


def write_face(path: Path, name: str, spec: Spec) -> None:
    """Render one face and write its walls."""
    face = render_spec(spec)
    known: dict[str, Any] = dict(face.input)
    truth: dict[str, Any] = dict(face.truth)
    view = make_workview(
        np.asarray(Image.open(io.BytesIO(face.photo)).convert("RGB")),
        1.0,
        known["um_per_px"],
        known["line_width_mm"],
        np.array(truth["photo"]["outline_px"]),
        [np.array(h) for h in truth["photo"]["holes_px"]],
    )
    void, hidden = (sample_mask(face.masks[m], view) > 0 for m in ("void", "grease"))
    write_strips(path, name, view, known, truth, void, hidden)


def main() -> None:
    """Parse the command line and write one file a face."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("out", type=Path)
    parser.add_argument("--sets", nargs="*", default=["plain", "lean"], choices=["plain", "lean"])
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for name, spec in specs(args.sets):
        path = args.out / f"{name}.npz"
        if not path.exists():
            write_face(path, name, spec)


if __name__ == "__main__":
    main()
