"""What 2, 4 and 8 marks of a person better: `python -m tests.bench.marked [FOLDER] [--unseen | --weights DIR]`.

The marks are simulated from the truth (`tests/bench/marking.py`): "spread" far from each other in clear places of both
kinds, "corrects" going first where the layers shown are wrong, "mistaken" with one of four or eight wrong. Only faces
that the network never saw count: --unseen takes those kept out of the stored one's training; --weights takes
`fold0.npz`, `gaps0.npz` ... as `analysis.training` wrote them and measures each face with those that never saw it.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.common.classes import BONDED
from analysis.examine import Examination, ExamineRequest, examine
from analysis.training.fit_intervals import true_shares
from analysis.training.practice import HELD_OUT
from tests.bench.marking import WAYS, mistaken, set_marks
from tests.bench.reading import by_network, fracture_faces
from tests.bench.scoring import read_mask

COUNTS = (2, 4, 8)
KEYS = ("bonded_share_of_face", "bonded_area_fraction")


@dataclass(frozen=True)
class Row:
    """One measuring: off, held and width of share and fraction; a null or a refusal is off by 1 and missed."""

    way: str
    marks: int
    off: tuple[float, float]
    held: tuple[float, float]
    width: tuple[float, float]


def request_of(folder: Path, marks: Sequence[Any] = ()) -> ExamineRequest:
    """What `input.json` tells a person, and the marks."""
    known = json.loads((folder / "input.json").read_text())
    return ExamineRequest(
        photo=folder / known["photo"],
        um_per_px=known["um_per_px"],
        line_width_mm=known["line_width_mm"],
        layer_height_mm=known["layer_height_mm"],
        wall_count=known.get("wall_count"),
        contact_band_mm=known.get("contact_band_mm"),
        mate=folder / known["mate"] if known.get("mate") else None,
        mate_um_per_px=known.get("mate_um_per_px"),
        marks=marks,
    )


def wrong_places(folder: Path, found: Examination) -> npt.NDArray[np.bool_]:
    """Where on contact the layers shown say the opposite of the truth, (rows, cols) of the photo."""
    bonded, nominal = read_mask(folder, "bonded"), read_mask(folder, "nominal")
    row, col = np.indices(bonded.shape, sparse=True)
    at = [
        np.floor((place + 0.5 - origin) / found.px_per_pixel).astype(int)
        for place, origin in ((row, found.origin_px[1]), (col, found.origin_px[0]))
    ]
    there = (at[0] >= 0) & (at[1] >= 0) & (at[0] < found.labels.shape[0]) & (at[1] < found.labels.shape[1])
    rows, cols = (np.clip(a, 0, n - 1) for a, n in zip(at, found.labels.shape, strict=True))
    return np.asarray(nominal & there & ((found.labels[rows, cols] == BONDED) != bonded))


def rows_of(folder: Path, seeds: int) -> Iterator[Row]:
    """Measure one face without and with marks."""
    try:
        plain = examine(request_of(folder))
    except ValueError as error:
        print(f"  {folder.name} refused: {error}")
        for way in WAYS:
            yield from (Row(way, n, (1, 1), (0, 0), (1, 1)) for n in (0, *COUNTS))
        return
    wrong = wrong_places(folder, plain)
    for way in WAYS:
        yield _row(way, 0, folder, plain)
        for count in COUNTS if way != "mistaken" else COUNTS[1:]:
            for seed in range(seeds):
                marks = set_marks(folder, count, seed, wrong if way == "corrects" else None)
                marks = mistaken(marks) if way == "mistaken" else marks
                yield _row(way, count, folder, examine(request_of(folder, marks)))


def _row(way: str, count: int, folder: Path, found: Examination) -> Row:
    off, held, width = [], [], []
    for key, true in zip(KEYS, true_shares(folder), strict=True):
        entry = found.result[key]
        low, high = entry["interval"] if entry else (2.0, 3.0)
        off.append(abs(entry["value"] - true) if entry else 1.0)
        held.append(float(low <= true <= high))
        width.append(high - low)
    return Row(way, count, tuple(off), tuple(held), tuple(width))  # type: ignore[arg-type]


def table(rows: Sequence[Row]) -> list[str]:
    """Mean error, coverage and width by way and number of marks."""
    lines = [f"{'':16s}{'share off':>10s}{'held':>6s}{'width':>7s}{'fraction off':>14s}{'held':>6s}{'width':>7s}     n"]
    for way in WAYS:
        for count in (0, *COUNTS):
            part = [r for r in rows if r.way == way and r.marks == count]
            if part:
                off, held, width = (np.mean([getattr(r, name) for r in part], 0) for name in ("off", "held", "width"))
                lines.append(
                    f"{way:9s}{count:2d} marks{off[0]:9.3f}{held[0]:6.2f}{width[0]:7.2f}"
                    f"{off[1]:14.3f}{held[1]:6.2f}{width[1]:7.2f}{len(part):6d}"
                )
    return lines


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, nargs="?", default=Path(__file__).parents[1] / "faces")
    parser.add_argument("--unseen", action="store_true", help="only faces the stored network never saw")
    parser.add_argument("--weights", type=Path, help="folder of fold networks, each face by those that never saw it")
    parser.add_argument("--seeds", type=int, default=1, help="sets of marks a face")
    args = parser.parse_args()
    faces = [f for f in fracture_faces(args.folder) if not args.unseen or f.name in HELD_OUT]
    rows: list[Row] = []
    for group in by_network(faces, args.weights):
        for face in group:
            found = list(rows_of(face, args.seeds))
            rows += found
            print(f"  {face.name}: fraction off " + " ".join(f"{r.marks}:{r.off[1]:.3f}" for r in found), flush=True)
    seen = "" if args.unseen or args.weights else ", faces the network was trained on among them"
    print(f"\n{len(faces)} faces{seen}, {args.seeds} sets of marks each; n is measurings\n" + "\n".join(table(rows)))


if __name__ == "__main__":
    main()
