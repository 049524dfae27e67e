"""90 % intervals of the two shares: threshold, sampling of the face, scale, outline, and what the reader gets wrong.

The parts are taken as independent and added in quadrature (JCGM 100:2008, 5.1.2). The reader's own error can't be had
from one face; it is the spread that faces of known truth showed, fitted on faces that the network had not seen
(`analysis/training/`), larger where the reader is unsure.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from scipy import ndimage

from analysis.measures.areas import Areas
from analysis.roads.workview import Bools, Floats, Workview
from analysis.welds.bonding import BARE_P, BONDED_P, Reading

Z90 = 1.6448536269514722  # half width of a 90 % interval of a normal distribution, in standard deviations
SHARED_ERROR = 0.5  # judgement: correlation of the reader's errors on the two halves of one break
_BLOCK_ROADS = 4.0  # judgement: bonding and light change over several roads; a block this wide counts as one field
_RESAMPLES = 200
_FILE = Path(__file__).with_name("interval_calibration.txt")


@dataclass(frozen=True)
class Spread:
    """Half widths of the 90 % intervals, and the parts they are made of (standard deviations of the share)."""

    share_half: float
    fraction_half: float
    parts: dict[str, float]


@cache
def calibration(path: Path = _FILE) -> dict[str, float]:
    """The stored fit: one `name value` a line."""
    lines = path.read_text(encoding="utf-8").splitlines()
    pairs = (line.split() for line in lines if line.strip() and not line.startswith("#"))
    return {name: float(value) for name, value in pairs}


def doubt(reading: Reading, known: Bools) -> float:
    """How unsure the reader is, 0 sure to 1 lost: mean of 4 p (1 - p) over the contact, p = bonded given contact."""
    bonded, bare = reading.classes[..., BONDED_P], reading.classes[..., BARE_P]
    contact = bonded + bare
    odds = bonded / np.maximum(contact, 1e-6)
    weight = contact * known
    return float((4 * odds * (1 - odds) * weight).sum() / max(float(weight.sum()), 1e-6))


def find_spread(
    view: Workview,
    reading: Reading,
    areas: Areas,
    outline_sd_px: float,
    scale_relative_sd: float,
    readings: int = 1,
) -> Spread:
    """Half widths for one face.

    Parameters
    ----------
    areas : expected bonded and nominal area per point, and where they count.
    outline_sd_px : standard deviation of the outline's place in photo px.
    readings : 2 where the mating face was read too; part of what the reader gets wrong it gets wrong twice.
    scale_relative_sd : of the scale; shifts the contact bands across the roads.
    """
    fit = calibration()
    bonded, nominal, known = areas.bonded, areas.nominal, areas.known
    parts = {
        "threshold": _threshold_sd(reading, known),
        "sampling": _block_sd(bonded, known.astype(np.float32), view.road_px, known),
        "outline": _outline_sd(view, outline_sd_px, float(bonded[known].sum()) / max(float(known.sum()), 1)),
        "scale": float(bonded[known].sum()) / max(float(known.sum()), 1) * scale_relative_sd,
        "reader": doubt(reading, known),
        "apart": reading.apart,
        "joint": float(np.sqrt((1 + (readings - 1) * SHARED_ERROR) / readings)),
    }
    value = float(bonded[known].sum()) / max(float(known.sum()), 1)
    over = float(known.sum()) / max(float(nominal[known].sum()), 1e-6)  # a share times this is a fraction
    sampling = _block_sd(bonded, nominal, view.road_px, known)
    halves = []
    for name, factor, block in (("share", 1.0, parts["sampling"]), ("fraction", over, sampling)):
        level = min(value * factor, 1.0)
        reader = (
            fit[f"{name}_floor"]
            + fit[f"{name}_doubt"] * parts["reader"] ** 2
            + fit[f"{name}_middle"] * np.sqrt(max(level * (1 - level), 0))
            + fit[f"{name}_threshold"] * parts["threshold"] * factor
            + fit[f"{name}_apart"] * parts["apart"] * factor / over
        )
        reader *= parts["joint"]
        rest = np.hypot(parts["outline"], parts["scale"]) * factor
        halves.append(float(Z90 * np.sqrt(reader**2 + rest**2 + (fit["sampling"] * block) ** 2)))
    return Spread(halves[0], halves[1], parts)


def ninety(value: float, half: float) -> tuple[float, float]:
    """The interval about a share, cut off at 0 and 1."""
    return float(np.clip(value - half, 0, 1)), float(np.clip(value + half, 0, 1))


def _threshold_sd(reading: Reading, known: Bools) -> float:
    """Half the change of the labelled bonded share when "bonded" is asked to be 0.35 or 0.65 likely."""
    bonded = reading.classes[..., BONDED_P][known]
    return float(((bonded > 0.35).mean() - (bonded > 0.65).mean()) / 2) if bonded.size else 0.0


def _outline_sd(view: Workview, outline_sd_px: float, value: float) -> float:
    """The face area moves by perimeter times the outline's shift; the bonded area inside stays."""
    rings = [view.outer_px, *view.holes_px]
    length = sum(float(np.hypot(*np.diff(np.vstack([r, r[:1]]), axis=0).T).sum()) for r in rings)
    # Neighbouring points of the outline err together over about a quarter of it (judgement): half the full effect.
    return value * 0.5 * length * outline_sd_px / view.step / max(float(view.inside.sum()), 1)


def _block_sd(top: Floats, bottom: Floats, road_px: float, known: Bools) -> float:
    """Standard deviation of sum(top)/sum(bottom) when whole blocks of the face are drawn with replacement."""
    side = max(round(_BLOCK_ROADS * road_px), 2)
    rows, cols = known.shape
    block = (np.arange(rows) // side)[:, None] * (cols // side + 1) + np.arange(cols) // side
    index = np.arange(int(block.max()) + 1)
    tops = ndimage.sum_labels(np.where(known, top, 0), block, index)
    bottoms = ndimage.sum_labels(np.where(known, bottom, 0), block, index)
    full = bottoms > 0
    tops, bottoms = tops[full], bottoms[full]
    if len(tops) < 3:
        return 0.25
    draws = np.random.default_rng(0).integers(0, len(tops), (_RESAMPLES, len(tops)))
    return float((tops[draws].sum(1) / np.maximum(bottoms[draws].sum(1), 1e-6)).std())
