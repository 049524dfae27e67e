"""Where a capture lies in the common picture, and what is refused on the way there."""

from __future__ import annotations

import cmath
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float32]
Points = npt.NDArray[np.complex128]
Bytes = npt.NDArray[np.uint8]


class FieldsRefused(ValueError):
    """These captures can't be put together; the message names them and says what to do."""


class NoOverlap(FieldsRefused):
    """A capture shares no spot with the others that could be recognised."""


class ResidualTooLarge(FieldsRefused):
    """Captures show the same spot, but don't lie on each other within the bound."""


@dataclass(frozen=True)
class Place:
    """The capture's point z lies at turn * z + shift; abs(turn) is 1 unless the enlargement may differ."""

    turn: complex = 1.0 + 0j
    shift: complex = 0j

    @property
    def turn_deg(self) -> float:
        """Degrees clockwise as seen, -180 to 180."""
        return float(np.degrees(cmath.phase(self.turn)))

    def of(self, points: Points) -> Points:
        """The common picture's points of the capture's own."""
        return np.asarray(self.turn * points + self.shift)

    def back(self) -> Place:
        """The way from the common picture to the capture."""
        return Place(1 / self.turn, -self.shift / self.turn)

    def after(self, first: Place) -> Place:
        """`first`, then this one."""
        return Place(self.turn * first.turn, self.turn * first.shift + self.shift)

    def enlarged(self, factor: float) -> Place:
        """The same place for pictures `factor` times as large on both sides (pixel centres at whole numbers)."""
        half = (factor - 1) / 2 * (1 + 1j)
        return Place(self.turn, self.shift * factor + half - self.turn * half)


def corners(shape: tuple[int, ...]) -> Points:
    """Centres of the four corner pixels of a picture of `shape` (rows, cols, ...), clockwise from the first."""
    right, low = shape[1] - 1, shape[0] - 1
    return np.array([0, right, right + 1j * low, 1j * low], complex)
