"""The statistics of an own test: upright bars torn one by one, and what the spool can be trusted with."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from analysis.materials.strength import Span

LEAST_BARS = 3  # fewer give no spread worth the name
COVERAGE, CONFIDENCE = 0.95, 0.95
GRUBBS_ALPHA = 0.05
FLOOR_RELATIVE_SD = 0.02  # no test of printed bars is trusted to repeat better than this; judgement

# Sections at the waist, width x thickness in mm (ISO 527-2 and ASTM D638, from memory).
GEOMETRIES: dict[str, tuple[str, float, float]] = {
    "iso527_1a": ("ISO 527-2 1A, 1B", 10.0, 4.0),
    "iso527_1ba": ("ISO 527-2 1BA", 5.0, 2.0),
    "iso527_5a": ("ISO 527-2 5A", 4.0, 2.0),
    "d638_i": ("ASTM D638 I", 13.0, 3.2),
    "d638_iv": ("ASTM D638 IV", 6.0, 3.2),
    "d638_v": ("ASTM D638 V", 3.18, 3.2),
}
SECTION_TOLERANCE = 0.15  # a printed bar is off by some roads' edges; more is another bar or a slip of the pen


@dataclass(frozen=True)
class CouponResult:
    """What several bars say, MPa on their gross section. None with a word in `reason` where there are too few bars.

    `outlier` is the place (from 0) of the bar that Grubbs' test names, if it names one; it is never left out by itself.
    `tolerance_mpa`: with 95 % confidence at least 95 % of such bars are stronger. `span_mpa` holds the next bar with
    90 % probability.
    """

    stresses_mpa: tuple[float, ...]
    mean_mpa: float | None
    sd_mpa: float | None
    tolerance_mpa: float | None
    k: float | None
    span_mpa: Span | None
    outlier: int | None
    grubbs: float | None
    grubbs_limit: float | None
    reason: str = ""


def one_sided_k(count: int, coverage: float = COVERAGE, confidence: float = CONFIDENCE) -> float:
    """Return k so that mean - k sd lies below `coverage` of a normal population with that confidence.

    k = t'(confidence; n - 1, z_p sqrt(n)) / sqrt(n), with t' the non-central t (NIST/SEMATECH e-Handbook, 7.2.6.3;
    ISO 16269-6). Needs two bars or more.
    """
    if count < 2:
        raise ValueError("a tolerance limit needs at least two bars")
    shift = stats.norm.ppf(coverage) * math.sqrt(count)
    return float(stats.nct.ppf(confidence, count - 1, shift) / math.sqrt(count))


def grubbs_limit(count: int, alpha: float = GRUBBS_ALPHA) -> float:
    """Return the critical value of Grubbs' two-sided test for one outlier among `count` values (three or more).

    Grubbs 1969, Technometrics 11:1; NIST/SEMATECH e-Handbook, 1.3.5.17.1.
    """
    if count < 3:
        raise ValueError("an outlier can't be told among fewer than three bars")
    t = float(stats.t.ppf(1 - alpha / (2 * count), count - 2))
    return (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))


def evaluate(stresses_mpa: Sequence[float]) -> CouponResult:
    """Return mean, spread, tolerance limit, range and outlier of bars' strengths (MPa, each above 0)."""
    values = np.asarray(stresses_mpa, dtype=float)
    if values.ndim != 1 or not np.isfinite(values).all() or (values <= 0).any():
        raise ValueError("stresses_mpa must be finite and above 0")
    kept, count = tuple(float(v) for v in values), len(values)
    if count < LEAST_BARS:
        mean = float(values.mean()) if count else None
        reason = f"{count} of at least {LEAST_BARS} bars: no spread, no limit, and the table isn’t outranked"
        return CouponResult(kept, mean, None, None, None, None, None, None, None, reason)
    mean, sd = float(values.mean()), float(values.std(ddof=1))
    k = one_sided_k(count)
    limit = mean - k * sd
    place, grubbs, critical = _outlier(values, mean, sd)
    reason = "" if limit > 0 else "the limit falls below 0: too few bars for so much spread"
    return CouponResult(
        stresses_mpa=kept,
        mean_mpa=mean,
        sd_mpa=sd,
        tolerance_mpa=limit if limit > 0 else None,
        k=k,
        span_mpa=_next_bar(values),
        outlier=place,
        grubbs=grubbs,
        grubbs_limit=critical,
        reason=reason,
    )


def _outlier(values: np.ndarray, mean: float, sd: float) -> tuple[int | None, float, float]:
    critical = grubbs_limit(len(values))
    if sd <= 1e-9 * mean:
        return None, 0.0, critical
    distances = np.abs(values - mean) / sd
    place = int(distances.argmax())
    worst = float(distances[place])
    return (place if worst > critical else None), worst, critical


def _next_bar(values: np.ndarray) -> Span:
    """Prediction range of one more bar, 90 %, on logarithms so that it can't fall below 0 (Hahn & Meeker, 4.5)."""
    logs, count = np.log(values), len(values)
    sd = max(float(logs.std(ddof=1)), FLOOR_RELATIVE_SD)
    half = float(stats.t.ppf(0.95, count - 1)) * sd * math.sqrt(1 + 1 / count)
    middle = float(logs.mean())
    return math.exp(middle - half), math.exp(middle + half)


def section_warning(geometry: str, width_mm: float, thickness_mm: float) -> str:
    """Return what is odd about a bar's section against its standard, "" where nothing is or the geometry is own."""
    if geometry not in GEOMETRIES:
        return ""
    words, width, thickness = GEOMETRIES[geometry]
    off = max(abs(width_mm / width - 1), abs(thickness_mm / thickness - 1))
    if off <= SECTION_TOLERANCE:
        return ""
    return f"{width_mm:g} × {thickness_mm:g} mm is not the waist of {words}, which is {width:g} × {thickness:g} mm"
