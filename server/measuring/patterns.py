"""The classes of a face as colour and pattern: told apart by colour-blind readers and by a grey printer.

The colours are those of the theme (after the Okabe-Ito set). Each line of a pattern has a pale and a dark edge, so that
it stands out on white and on black filament alike.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from analysis.common import classes

Mask = NDArray[np.bool_]
PERIOD_PX = 14  # of the picture it is drawn for: several lines on the narrowest wall of a well-filled photo


@dataclass(frozen=True)
class Look:
    """How a class is drawn: colour, casing colour, pattern, how strong the tint, and its words in the legend."""

    code: int
    rgb: tuple[int, int, int]
    casing: tuple[int, int, int]
    pattern: str
    tint: int
    words: str


LOOKS: dict[str, Look] = {
    "bonded": Look(classes.BONDED, (0, 114, 178), (255, 255, 255), "slash", 60, "bonded: welded and torn"),
    "bare": Look(classes.BARE, (230, 159, 0), (60, 40, 0), "dots", 40, "bare: never joined"),
    "void": Look(classes.VOID, (20, 24, 28), (255, 255, 255), "mesh", 120, "void: road missing"),
    "unknown": Look(classes.UNKNOWN, (141, 148, 155), (20, 24, 28), "bars", 80, "unknown: can't be told"),
    "rubbed": Look(classes.RUBBED, (204, 121, 167), (58, 14, 44), "zigzag", 50, "rubbed: flattened and scratched"),
}
ON_SURFACE = {"fracture": ("bonded", "bare", "void", "unknown"), "outer": ("rubbed",)}


def looks_of(surface: str | None) -> dict[str, Look]:
    """Return the classes that a surface of this kind can show, in the legend's order."""
    return {name: LOOKS[name] for name in ON_SURFACE[surface or "fracture"]}


def ink(pattern: str, shape: tuple[int, int], period_px: int = PERIOD_PX) -> Mask:
    """Return where the pattern puts ink, bool of `shape`."""
    row, col = np.indices(shape, sparse=True)
    line = max(2, period_px // 5)
    if pattern == "slash":
        return np.broadcast_to((row + col) % period_px < line, shape)
    if pattern == "mesh":
        half = max(6, period_px * 2 // 3)
        return np.broadcast_to(((row + col) % half < line // 2 + 1) | ((row - col) % half < line // 2 + 1), shape)
    if pattern == "bars":
        return np.broadcast_to(row % period_px < line + 1, shape)
    if pattern == "dots":
        shifted = col + (row // period_px % 2) * (period_px // 2)
        away = (row % period_px - period_px / 2) ** 2 + (shifted % period_px - period_px / 2) ** 2
        return np.asarray(away <= (period_px / 4.2) ** 2)
    if pattern == "zigzag":
        return np.broadcast_to((row + abs(col % period_px - period_px // 2)) % period_px < line + 1, shape)
    raise ValueError(f"no such pattern: {pattern}")


def paint(labels: NDArray[np.uint8], name: str, period_px: int = PERIOD_PX) -> NDArray[np.uint8]:
    """Return the class `name` of a label map as a transparent picture, uint8 (rows, cols, 4)."""
    look = LOOKS[name]
    region = labels == look.code
    marks = ink(look.pattern, region.shape, period_px) & region
    # Specks keep tint and pattern, but get no line around them: a hundred of those would hide the photo.
    solid = ndimage.binary_opening(region, iterations=3)
    edge = solid & ~ndimage.binary_erosion(solid, iterations=2)
    drawn = marks | edge
    casing = ndimage.binary_dilation(drawn) & ~drawn & region
    picture = np.zeros((*region.shape, 4), np.uint8)
    for where, rgb, alpha in ((region, look.rgb, look.tint), (casing, look.casing, 190), (drawn, look.rgb, 235)):
        picture[where] = (*rgb, alpha)
    return picture
