"""How far a result is from a practice face's truth. A refusal or a null counts as wrong: error 1, interval missed."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw
from skimage.filters import threshold_otsu

CONSTANT = 0.35  # the answer that is least wrong when always given


@dataclass(frozen=True)
class FaceScore:
    """One face: errors by name, and gap counts (found, false, missed)."""

    name: str
    profile: str
    values: dict[str, float]
    gaps: np.ndarray = field(default_factory=lambda: np.zeros(3, int))


def read_mask(folder: Path, name: str) -> np.ndarray:
    return np.asarray(Image.open(folder / "masks" / f"{name}.png")) > 0


def score_fracture(folder: Path, result: dict[str, Any] | None) -> FaceScore:
    """Errors of one fracture face beside those of the two plain answers."""
    truth = json.loads((folder / "truth.json").read_text())
    result = result or {}
    face, grease, bonded = (read_mask(folder, n) for n in ("face", "grease", "bonded"))
    known = face & ~grease
    share = float((bonded & known).sum() / known.sum())
    values = _shares(result, "bonded_share_of_face", share) | _shares(
        result, "bonded_area_fraction", truth["bonded_area_fraction"]
    )
    values["otsu_error"] = abs(otsu_share(folder, known) - share)
    values["constant_error"] = abs(CONSTANT - share)
    values["outline_iou"] = _iou(result, face)
    values["continuity_error"] = _continuity(truth, result)
    values["planes_right"] = float(len(result.get("layer_planes") or []) == truth["terraces"])
    values["always_one_plane"] = float(truth["terraces"] == 1)
    if "mate_transform" in truth:
        values["mate_fitted"] = _mate_fitted(truth, result)
    return FaceScore(folder.name, truth["profile"], values, match_gaps(truth, result))


def score_outer(folder: Path, result: dict[str, Any] | None) -> FaceScore:
    """An outer surface: the patch within 30 %, the scratches within 10 degrees; nothing found where nothing rubbed."""
    truth = json.loads((folder / "truth.json").read_text())
    result = result or {}
    area, true, deg = result.get("rub_area_mm2"), truth["rub_patch_mm2"], result.get("scratch_deg")
    if not true:
        return FaceScore(folder.name, truth["profile"], {"unrubbed_right": float(area is not None and area <= 0.5)})
    turned = 90.0 if deg is None else abs((deg - truth["scratch_direction_deg"] + 90) % 180 - 90)
    values = {
        "rub_area_right": float(area is not None and abs(area - true) <= 0.3 * true),
        "scratch_right": float(turned <= 10),
    }
    return FaceScore(folder.name, truth["profile"], values)


def score_wrong_mate(folder: Path, result: dict[str, Any] | None) -> FaceScore:
    """A face that was given another one's mate: only a clear refusal of the pair is right."""
    profile = json.loads((folder / "truth.json").read_text())["profile"]
    refused = (result or {}).get("mate_fit") == "refused"
    return FaceScore(folder.name, profile, {"wrong_mate_refused": float(refused)})


def _mate_fitted(truth: dict[str, Any], result: dict[str, Any]) -> float:
    """Whether the outline lands on the mate within half a road on average."""
    if not result.get("mate_affine"):
        return 0.0
    ring = np.asarray(truth["photo"]["outline_px"])[::10]
    places = np.c_[ring, np.ones(len(ring))]
    off = places @ (np.asarray(result["mate_affine"]) - truth["mate_transform"]["affine_photo_to_mate"]).T
    return float(np.hypot(*off.T).mean() * truth["mate"]["um_per_px"] / 1000 <= truth["line_width_mm"] / 2)


def otsu_share(folder: Path, known: np.ndarray) -> float:
    """The plain way: one threshold on grey inside the true outline, the brighter part is called bonded."""
    grey = np.asarray(Image.open(folder / "photo.jpg").convert("L"))[known]
    return float((grey > threshold_otsu(grey)).mean())


def _shares(result: dict[str, Any], key: str, true: float) -> dict[str, float]:
    entry = result.get(key)
    if not entry:
        return {f"{key}_error": 1.0, f"{key}_held": 0.0, f"{key}_width": 1.0}
    low, high = entry["interval"]
    return {
        f"{key}_error": abs(entry["value"] - true),
        f"{key}_held": float(low <= true <= high),
        f"{key}_width": high - low,
    }


def _iou(result: dict[str, Any], face: np.ndarray) -> float:
    picture = Image.new("1", face.shape[::-1])
    draw = ImageDraw.Draw(picture)
    for ring, fill in [(result.get("outline_px") or [], 1), *((h, 0) for h in result.get("holes_px") or [])]:
        if len(ring) >= 3:
            draw.polygon([tuple(p) for p in ring], fill=fill)
    found = np.asarray(picture)
    return float((found & face).sum() / (found | face).sum())


def _continuity(truth: dict[str, Any], result: dict[str, Any]) -> float:
    got = {(w["outline"] == "outer", w["index"]): w["continuity"] for w in result.get("walls") or []}
    errors = [
        abs(got.get((w["contour"] == "outer", w["index_from_contour"]), w["continuity"] + 1) - w["continuity"])
        for w in truth["walls"]
    ]
    return float(np.mean(errors))


def match_gaps(truth: dict[str, Any], result: dict[str, Any], ends_within_mm: float = 1.0) -> np.ndarray:
    """Gaps of at least 1 mm: found (both ends within 1 mm on the same wall), false, missed."""
    lines = {w["id"]: np.array(w["centreline_px"]) for w in truth["photo"].get("walls", [])}
    wanted = [(w, g) for w in truth["walls"] for g in w["gaps"]]
    hit: set[int] = set()
    false = 0
    for wall in result.get("walls") or []:
        same = [
            i
            for i, (w, _) in enumerate(wanted)
            if w["index_from_contour"] == wall["index"] and (w["contour"] == "outer") == (wall["outline"] == "outer")
        ]
        for gap in wall["gaps"]:
            if gap["length_mm"] < 0.7:  # a gap of 1 mm may be measured a little short
                continue
            match = next(
                (i for i in same if i not in hit and _ends_agree(lines, *wanted[i], gap, ends_within_mm)), None
            )
            if match is not None:
                hit.add(match)
            elif gap["length_mm"] >= 1.0:
                false += 1
    real = [i for i, (_, g) in enumerate(wanted) if g["end_mm"] - g["start_mm"] >= 1.0]
    found = sum(i in hit for i in real)
    return np.array([found, false, len(real) - found])


def _ends_agree(
    lines: dict[int, np.ndarray], wall: dict[str, Any], true: dict[str, Any], gap: dict[str, Any], within: float
) -> bool:
    length = wall["length_mm"]
    a, b = (_along(lines[wall["id"]], length, gap[k]) for k in ("start_px", "end_px"))

    def apart(x: float, y: float) -> float:
        return abs((x - y + length / 2) % length - length / 2)

    ways = [
        max(apart(a, true["start_mm"]), apart(b, true["end_mm"])),
        max(apart(b, true["start_mm"]), apart(a, true["end_mm"])),
    ]
    return min(ways) <= within


def _along(line: np.ndarray, length: float, point: list[float]) -> float:
    closed = np.vstack([line, line[:1]])
    along = np.r_[0, np.cumsum(np.hypot(*np.diff(closed, axis=0).T))]
    return float(along[((line - point) ** 2).sum(1).argmin()] / along[-1] * length)
