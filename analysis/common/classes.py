"""The codes that a label map may hold, one byte a pixel."""

from __future__ import annotations

from typing import Final

OUTSIDE: Final = 0  # not on the face
BARE: Final = 1  # road surface, or the flank between roads, that was never joined
BONDED: Final = 2  # welded and torn
VOID: Final = 3  # a road was wanted here and is missing
UNKNOWN: Final = 4  # grease, glare, shadow, blur: it can't be told
OPENING: Final = 5  # no road was wanted here and none is: the mesh of a sparse filling
RUBBED: Final = 6  # on an outer surface: flattened and burnished by something that slid over it

NAMES: Final = {
    OUTSIDE: "outside",
    BARE: "bare",
    BONDED: "bonded",
    VOID: "void",
    UNKNOWN: "unknown",
    OPENING: "opening",
    RUBBED: "rubbed",
}
