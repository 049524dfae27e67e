"""What was measured on an outer surface, as the result's JSON object says it and as a label map shows it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from skimage import measure

from analysis.common.caveats import reason
from analysis.common.classes import OUTSIDE, RUBBED
from analysis.measures.rubbing import RubMeasure

# The two numbers of the contract, then what an outer surface says besides.
CONTRACT_KEYS = ("rub_area_mm2", "scratch_deg")
LINE_KEYS = ("layer_line_deg", "layer_line_period_mm", "scratch_to_lines_deg", "slopes_along_to_across")
_SMOOTHING_PX = 2.0  # the patch is found on places of four px, so its outline's steps say nothing


def between_deg(one: float, other: float) -> float:
    """Angle between two directions without sense, 0 to 90 degrees."""
    apart = abs(one - other) % 180.0
    return min(apart, 180.0 - apart)


def rub_json(rub: RubMeasure) -> tuple[dict[str, Any], dict[str, str]]:
    """The entries of the result, and a reason for each that is None.

    Returns
    -------
    entries : dict
        `rub_area_mm2`, `scratch_deg`, `layer_line_deg`, `scratch_to_lines_deg` (0 along the lines, 90 across),
        `layer_line_period_mm`, `slopes_along_to_across` (see `LayerLines`); `rub_outline_px` the patch's outline in px
        of the photo, [] where there is none.
    reasons : dict
    """
    angle = None
    if rub.scratch_deg is not None and rub.layer_line_deg is not None:
        angle = between_deg(rub.scratch_deg, rub.layer_line_deg)
    entries: dict[str, Any] = {
        "rub_area_mm2": _rounded(rub.rub_area_mm2, 4),
        "scratch_deg": _rounded(rub.scratch_deg, 2),
        "layer_line_deg": _rounded(rub.layer_line_deg, 2),
        "layer_line_period_mm": _rounded(rub.layer_line_period_mm, 4),
        "scratch_to_lines_deg": _rounded(angle, 2),
        "slopes_along_to_across": _rounded(rub.slopes_along_to_across, 4),
    }
    reasons = {key: rub.reasons.get(key, reason("rub_not_measured")) for key, value in entries.items() if value is None}
    if angle is None:
        reasons["scratch_to_lines_deg"] = rub.reasons.get("scratch_deg", reason("rub_not_measured"))
    entries["rub_outline_px"] = _ring(rub)
    return entries, reasons


def rub_labels(rub: RubMeasure) -> NDArray[np.uint8]:
    """The patch as a label map on the photo's array, uint8 (rows, cols)."""
    return np.where(rub.mask, np.uint8(RUBBED), np.uint8(OUTSIDE))


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _ring(rub: RubMeasure) -> list[list[float]]:
    if rub.patch_outline_px is None:
        return []
    closed = np.vstack([rub.patch_outline_px, rub.patch_outline_px[:1]])
    plain = measure.approximate_polygon(closed, _SMOOTHING_PX)[:-1]
    return [[round(float(x), 1), round(float(y), 1)] for x, y in plain]
