"""Crops for training, under other light, other cameras and other filament than the photo had."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from analysis.bonding import lay_out_cues
from analysis.training.practice import PracticeFace
from analysis.workview import FINE, Floats


class Crop(NamedTuple):
    """Cues of a square of cells, and the truth of its points."""

    cues: Floats
    kind: npt.NDArray[np.uint8]
    grease: npt.NDArray[np.bool_]
    border: npt.NDArray[np.bool_]
    inside: npt.NDArray[np.bool_]


def draw_crop(face: PracticeFace, rng: np.random.Generator, side: int) -> Crop:
    """A random square of `side` working pixels, re-lit, turned by quarters and mirrored."""
    rows, cols = _place(face, rng, side)
    inside = face.inside[rows, cols]
    fine = (slice(rows.start * FINE, rows.stop * FINE), slice(cols.start * FINE, cols.stop * FINE))
    lightness = _relight(face.lightness[fine], rng)
    colour = rng.choice([1.0, 0.0, rng.uniform(0.2, 1.3)], p=[0.4, 0.15, 0.45])
    place = face.place[rows, cols]
    if rng.random() < 0.5:  # an outline is never found to the pixel
        place = np.roll(place, rng.integers(-1, 2, 2), (0, 1))
    cues = lay_out_cues(lightness, face.chroma[rows, cols] * colour, face.own * colour, place, inside)
    del place
    truth = [v[rows, cols] for v in (face.kind, face.grease, face.border, face.inside)]
    short = side - inside.shape[0], side - inside.shape[1]
    cues = np.pad(cues, ((0, short[0] // 2), (0, short[1] // 2), (0, 0)))
    truth = [np.pad(v, ((0, short[0]), (0, short[1]))) for v in truth]
    return Crop(cues, *truth)


def _place(face: PracticeFace, rng: np.random.Generator, side: int) -> tuple[slice, slice]:
    spans = []
    for _ in range(20):
        spans = []
        for length in face.inside.shape:
            start = int(rng.integers(-side // 4, max(length - 3 * side // 4, 1))) // 2 * 2
            if length <= side:
                start = 0
            spans.append(slice(max(start, 0), min(start + side, length)))
        if face.inside[spans[0], spans[1]].mean() > 0.2:
            break
    return spans[0], spans[1]


def _relight(lightness: Floats, rng: np.random.Generator) -> Floats:
    """Other contrast, uneven light, another exposure, soft focus, noise."""
    rows, cols = lightness.shape
    y, x = np.mgrid[-1 : 1 : rows * 1j, -1 : 1 : cols * 1j]
    a = rng.normal(0, 0.15, 5)
    light = a[0] * x + a[1] * y + a[2] * x * y + a[3] * x * x + a[4] * y * y + rng.normal(0, 0.15)
    out = lightness * rng.choice([1.0, rng.uniform(0.35, 1.4)]) + light
    if rng.random() < 0.5:
        out = ndimage.gaussian_filter(out, rng.uniform(0.4, 1.4))
    if rng.random() < 0.5:
        out = out + rng.normal(0, rng.uniform(0, 0.06), out.shape)
    return np.asarray(out, np.float32)


def quarter_turn(crop: Crop, rng: np.random.Generator) -> Crop:
    """One of the eight ways to lay a square down. Sub-cell planes are laid out anew by their own turn."""
    turns, mirrored = int(rng.integers(4)), bool(rng.integers(2))

    def lay(values: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
        values = np.rot90(values, turns)
        return values[:, ::-1] if mirrored else values

    cues = lay(crop.cues).copy()
    for first, size in ((0, 4), (20, 2)):
        order = lay(np.arange(size * size).reshape(size, size)).ravel()
        cues[..., first : first + size * size] = cues[..., first + order]
    return Crop(cues, *(lay(v) for v in crop[1:]))  # type: ignore[arg-type]
