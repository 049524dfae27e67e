"""Stress concentration: peak stress over nominal stress at fillets, holes and sharp inner corners.

All factors are elastic and for an even material. A printed corner that yields before it breaks feels less of it; a
brittle one all of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.strength.ranges import Range


class NotchRefused(ValueError):
    """A notch that the formula doesn't hold for; the message says what to change."""


Row = tuple[float, float, float]  # factors of 1, sqrt(h/r) and h/r
Fit = tuple[float, float, tuple[Row, Row, Row, Row]]  # least and greatest h/r, then C1 to C4

# Kt = C1 + C2 (2h/D) + C3 (2h/D)² + C4 (2h/D)³ on the net section, h = (D - d)/2.
# Round bar in bending: Young, Roark's Formulas for Stress and Strain, table 17.1, square shoulder with fillet in a
# circular shaft, as reprinted on a page that was read.
ROUND_BENDING: tuple[Fit, ...] = (
    (0.25, 2.0, ((0.927, 1.149, -0.086), (0.015, -3.281, 0.837), (0.847, 1.716, -0.506), (-0.790, 0.417, -0.246))),
    (2.0, 20.0, ((1.225, 0.831, -0.010), (-3.790, 0.958, -0.257), (7.374, -4.834, 0.862), (-3.809, 3.046, -0.595))),
)
# The next three from memory of Pilkey, Peterson's Stress Concentration Factors, charts 3.4, 3.12 and 3.1; not read.
ROUND_TENSION: tuple[Fit, ...] = (
    (0.1, 2.0, ((0.926, 1.157, -0.099), (0.012, -3.036, 0.961), (-0.302, 3.977, -1.744), (0.365, -2.098, 0.878))),
    (2.0, 20.0, ((1.200, 0.860, -0.022), (-1.805, -0.346, -0.038), (2.198, -0.486, 0.165), (-0.593, -0.028, -0.106))),
)
ROUND_TORSION: tuple[Fit, ...] = (
    (0.25, 4.0, ((0.905, 0.783, -0.075), (-0.437, -1.969, 0.553), (1.557, 1.073, -0.578), (-1.061, 0.171, 0.086))),
)
FLAT_TENSION: tuple[Fit, ...] = (
    (0.1, 2.0, ((1.006, 1.008, -0.044), (-0.115, -0.584, 0.315), (0.245, -1.006, -0.257), (-0.135, 0.582, -0.017))),
    (2.0, 20.0, ((1.020, 1.009, -0.048), (-0.065, -0.165, -0.007), (-3.459, 1.266, -0.016), (3.505, -2.109, 0.069))),
)
SHOULDERS: dict[str, tuple[Fit, ...]] = {
    "round_bending": ROUND_BENDING,
    "round_tension": ROUND_TENSION,
    "round_torsion": ROUND_TORSION,
    "flat_tension": FLAT_TENSION,
}


def shoulder_factor(kind: str, large: float, small: float, radius: float) -> float:
    """Factor of a step from `large` to `small` (diameters, or widths of a flat bar) with a fillet of `radius`.

    Parameters
    ----------
    kind : a key of `SHOULDERS`. large, small, radius : in one unit of length, nominal stress on the small section.

    Raises
    ------
    NotchRefused
        No step, no fillet, or a fillet outside what the fit covers.
    """
    sizes = (large, small, radius)
    if not all(math.isfinite(v) and v > 0 for v in sizes) or small >= large:
        raise NotchRefused("A shoulder needs two sizes, the first larger than the second, and a fillet above 0.")
    height = (large - small) / 2
    steep = height / radius
    for least, most, rows in SHOULDERS[kind]:
        # Rounding must not push a full quarter circle, h/r = 1, or the seam of two fits out of its range.
        if least * (1 - 1e-9) <= steep <= most * (1 + 1e-9):
            x = 2 * height / large
            return sum((a + b * math.sqrt(steep) + c * steep) * x**power for power, (a, b, c) in enumerate(rows))
    fits = SHOULDERS[kind]
    raise NotchRefused(
        f"The step is {steep:.2g} times the fillet's radius; the formula holds from {fits[0][0]:g} to {fits[-1][1]:g}."
    )


def hole_factor(diameter: float, width: float) -> float:
    """Factor of a round hole in the middle of a pulled flat bar, on the net section.

    3 - 3.14 x + 3.667 x² - 1.527 x³ with x = diameter over width (Young, Roark's table 17.1, from memory). One
    design page lists 0.12 to 0.16 less for x of 0.2 to 0.5, and more at 0.1; neither could be checked.
    """
    if not (math.isfinite(diameter) and math.isfinite(width) and 0 <= diameter < width):
        raise NotchRefused("The hole must be smaller than the bar is wide.")
    x = diameter / width
    return 3 - 3.14 * x + 3.667 * x**2 - 1.527 * x**3


def neuber_sensitivity(root_a: float, radius: float) -> float:
    """Share of a notch's factor that repeated load feels, q = 1 / (1 + √a / √r) (Neuber).

    `root_a` is the square root of the material's own length, in the square root of the radius' unit.
    """
    if not (root_a >= 0 and radius > 0):
        raise NotchRefused("The notch radius must be above 0 and the material's length not below it.")
    return 1 / (1 + root_a / math.sqrt(radius))


def felt_factor(factor: float, sensitivity: float) -> float:
    """Kf = 1 + q (Kt - 1)."""
    return 1 + sensitivity * (factor - 1)


@dataclass(frozen=True)
class Offered:
    """A range of notch factors to choose, with its words, source and how well that is known."""

    code: str
    words: str
    factor: Range
    source: str
    status: str


OFFERED: tuple[Offered, ...] = (
    Offered("none", "No inner corner, or one with a generous fillet", Range(1.0, 1.15), "own choice", "judgement"),
    Offered(
        "sharp_tough",
        "Sharp inner corner, material that yields (whitened, drawn)",
        Range(1.1, 1.8),
        "yielding evens out most of the peak before the break",
        "judgement",
    ),
    Offered(
        "sharp_brittle",
        "Sharp inner corner, material that breaks without yielding",
        Range(1.5, 3.0),
        "guides for moulded parts: about 3 at a fillet of a tenth of the wall, 1.5 at half of it",
        "from memory",
    ),
)
