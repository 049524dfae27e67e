"""The goals of each measure, and the table that sets what was reached beside them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tests.bench.scoring import FaceScore

PROFILES = ("easy", "typical", "hard")
GOALS: dict[str, tuple[str, float | None, float | None, float | None]] = {
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
    "always_one_plane": ("", None, None, None),
    "outline_iou": (">=", 0.97, 0.94, 0.85),
    "rub_area_right": (">=", 0.90, 0.80, 0.60),
    "scratch_right": (">=", 0.90, 0.80, 0.60),
    "unrubbed_right": (">=", 0.90, 0.80, 0.60),
    "mate_fitted": (">=", 1.00, 0.90, 0.60),
    "wrong_mate_refused": (">=", 1.00, 0.90, 0.60),
}


def table(scores: Sequence[FaceScore]) -> list[str]:
    """One line a measure: value (how many it rests on) by profile and over all, then the goals."""
    lines = [f"{'':30s}" + "".join(f"{p:>15s}" for p in (*PROFILES, "all")) + "   goal easy / typical / hard"]
    for key, (sense, *goals) in GOALS.items():
        cells = []
        for part in [[s for s in scores if s.profile == p] for p in PROFILES] + [list(scores)]:
            value, count = reached(part, key)
            cells.append(f"{value:9.3f} ({count:3d})" if value is not None else f"{'-':>9s} ({count:3d})")
        goal = f"{sense} " + " / ".join("-" if g is None else f"{g:g}" for g in goals) if any(goals) else sense
        lines.append(f"{key:30s}" + "".join(f"{c:>15s}" for c in cells) + f"   {goal}")
    return lines


def reached(scores: Sequence[FaceScore], key: str) -> tuple[float | None, int]:
    """What the faces reached for one row, and how many faces (or gaps) it rests on."""
    if key == "gap_f1":
        found, false, missed = np.sum([s.gaps for s in scores], axis=0) if scores else (0, 0, 0)
        total = int(found + false + missed)
        return (float(2 * found / max(2 * found + false + missed, 1)) if total else None), total
    values = [s.values[key] for s in scores if key in s.values]
    return (float(np.mean(values)) if values else None), len(values)
