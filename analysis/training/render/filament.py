"""Colours of filaments and what tearing does to them. The values are judgements made by eye, spread wide on purpose."""

from __future__ import annotations

import colorsys
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Filament:
    """Optical properties; colours are linear-light RGB.

    `whitening` is the share of white that fully torn ground takes on; `clear_mm` how far light spreads below the
    surface; `roughness` that of the untorn surface (GGX); `filler` the strength of a speckle of fibres or pigment.
    """

    name: str
    base: tuple[float, float, float]
    white: tuple[float, float, float]
    whitening: float
    clear_mm: float
    roughness: float
    filler: float = 0.0


# name: (hue degrees, saturation, value) in sRGB terms, whitening low .. high, light spread low .. high (mm)
PALETTE: dict[
    str, tuple[tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float]]
] = {
    "black": ((0, 360), (0.0, 0.12), (0.10, 0.19), (0.10, 0.30), (0.0, 0.03)),
    "dark_grey": ((180, 260), (0.0, 0.12), (0.24, 0.36), (0.12, 0.34), (0.0, 0.04)),
    "white": ((30, 100), (0.0, 0.06), (0.86, 0.96), (0.15, 0.7), (0.03, 0.15)),
    "natural": ((34, 52), (0.12, 0.32), (0.75, 0.90), (0.12, 0.55), (0.05, 0.22)),
    "red": ((350, 368), (0.78, 0.98), (0.62, 0.90), (0.15, 0.48), (0.02, 0.08)),
    "orange": ((14, 32), (0.82, 1.0), (0.78, 1.0), (0.15, 0.48), (0.02, 0.10)),
    "blue": ((205, 235), (0.70, 0.97), (0.45, 0.85), (0.15, 0.50), (0.02, 0.08)),
    "cf_black": ((0, 360), (0.0, 0.08), (0.16, 0.28), (0.03, 0.12), (0.0, 0.01)),
    "yellow": ((44, 60), (0.65, 0.98), (0.85, 1.0), (0.15, 0.55), (0.02, 0.12)),
    "green": ((85, 165), (0.45, 0.95), (0.35, 0.80), (0.15, 0.48), (0.02, 0.08)),
    "purple": ((260, 320), (0.35, 0.85), (0.35, 0.75), (0.15, 0.48), (0.02, 0.08)),
    "teal": ((165, 200), (0.40, 0.95), (0.35, 0.80), (0.15, 0.48), (0.02, 0.08)),
    "brown": ((12, 34), (0.35, 0.70), (0.28, 0.55), (0.12, 0.40), (0.0, 0.05)),
    "light_grey": ((180, 260), (0.0, 0.10), (0.55, 0.75), (0.12, 0.50), (0.01, 0.08)),
}
COMMON = ("black", "dark_grey", "white", "natural", "red", "orange", "blue", "cf_black")


def linear(srgb: tuple[float, float, float]) -> tuple[float, float, float]:
    """Return linear light of an sRGB triple 0..1 (IEC 61966-2-1)."""
    v = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in srgb]
    return (v[0], v[1], v[2])


def sample_filament(rng: np.random.Generator) -> Filament:
    """Draw a filament: three times in four one of the common colours."""
    names = COMMON if rng.random() < 0.75 else tuple(n for n in PALETTE if n not in COMMON)
    name = str(rng.choice(names))
    hue, sat, val, white, clear = (float(rng.uniform(*r)) for r in PALETTE[name])
    base = linear(colorsys.hsv_to_rgb(hue % 360 / 360, sat, val))
    # crazed polymer scatters all colours; a trace of the pigment stays
    tint = np.array(base) / max(max(base), 1e-3)
    paper = (0.62 + 0.2 * rng.random()) * (1 - rng.uniform(0.0, 0.2) * (1 - tint))
    filler = (
        float(rng.uniform(0.3, 1.0))
        if name == "cf_black"
        else float(rng.choice([0.0, rng.uniform(0, 0.15), rng.uniform(0, 0.3)]))
    )
    rough = float(rng.uniform(0.4, 0.6) if name == "cf_black" else rng.uniform(0.15, 0.48))
    if rng.random() < 0.05:  # a brittle polymer crazes little before it breaks
        white *= 0.3
    return Filament(name, base, (float(paper[0]), float(paper[1]), float(paper[2])), white, clear, rough, filler)
