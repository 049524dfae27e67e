"""The camera's geometry: from photo pixels to part millimetres and back."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Camera:
    """Lens distortion `k1`, perspective, offset and turn; `um_per_px` holds at the picture's centre.

    With R = half the diagonal and (a, b) = (px - centre) / R: (a, b) *= 1 + k1 r^2; (a, b) /= 1 + p0 a + p1 b;
    (a, b) R - offset; turned by -rotation; times um_per_px / 1000.
    """

    width: int
    height: int
    um_per_px: float
    rotation_deg: float = 0.0
    offset_px: tuple[float, float] = (0.0, 0.0)
    perspective: tuple[float, float] = (0.0, 0.0)
    k1: float = 0.0
    mirrored: bool = False

    def _turn(self) -> NDArray[np.float64]:
        r = np.deg2rad(self.rotation_deg)
        return np.array([[np.cos(r), np.sin(r)], [-np.sin(r), np.cos(r)]])

    @property
    def _half(self) -> tuple[Points, float]:
        return np.array([(self.width - 1) / 2, (self.height - 1) / 2]), float(np.hypot(self.width, self.height) / 2)

    def to_mm(self, px: Points) -> Points:
        """Map (n, 2) photo px to part mm."""
        centre, radius = self._half
        a = (px - centre) / radius
        a = a * (1 + self.k1 * (a**2).sum(1, keepdims=True))
        a = a / (1 + a @ np.array(self.perspective))[:, None]
        return np.asarray((a * radius - self.offset_px) @ self._turn().T * (self.um_per_px / 1000))

    def to_px(self, mm: Points) -> Points:
        """Map (n, 2) part mm to photo px."""
        centre, radius = self._half
        a = (mm / (self.um_per_px / 1000) @ self._turn() + self.offset_px) / radius
        a = a / (1 - a @ np.array(self.perspective))[:, None]
        b = a.copy()
        for _ in range(12):  # the distortion is slight, so this settles to far below a thousandth of a pixel
            b = a / (1 + self.k1 * (b**2).sum(1, keepdims=True))
        return np.asarray(b * radius + centre)

    def grid_mm(self) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Return part x and y (mm) of every pixel centre, each (height, width)."""
        centre, radius = self._half
        a = ((np.arange(self.width) - centre[0]) / radius)[None, :]
        b = ((np.arange(self.height) - centre[1]) / radius)[:, None]
        scale = 1 + self.k1 * (a * a + b * b)
        a, b = a * scale, b * scale
        scale = radius / (1 + self.perspective[0] * a + self.perspective[1] * b)
        a, b = a * scale - self.offset_px[0], b * scale - self.offset_px[1]
        t = self._turn() * (self.um_per_px / 1000)
        return (t[0, 0] * a + t[0, 1] * b).astype(np.float32), (t[1, 0] * a + t[1, 1] * b).astype(np.float32)

    def to_json(self) -> dict[str, object]:
        """Return the fields under the names the truth file uses."""
        return asdict(self)


def pixel_area_mm2(x_mm: NDArray[np.float32], y_mm: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return each pixel's area on the part from the map's own slopes (the exact Jacobian to second order)."""
    xy, xx = np.gradient(x_mm.astype(np.float64))
    yy, yx = np.gradient(y_mm.astype(np.float64))
    return np.asarray(np.abs(xx * yy - xy * yx), dtype=np.float32)
