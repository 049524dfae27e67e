"""Photographs drawn for the tests: a textured part in focus on a soft ground, its polygon known exactly."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from analysis.common.polygons import Points, filled
from analysis.imaging.photo import Photo, PhotoFacts

SHAPE = (420, 560)


def disc(x: float, y: float, radius: float, count: int = 240) -> Points:
    """A circle as a polygon of the same area to 1e-4, clockwise on the screen."""
    turn = np.arange(count) * 2 * np.pi / count
    return np.column_stack([x + radius * np.cos(turn), y + radius * np.sin(turn)])


def rectangle(x: float, y: float, width: float, height: float, turn_deg: float = 0.0) -> Points:
    """A rectangle about (x, y), turned clockwise on the screen."""
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [width / 2, height / 2]
    return corners @ np.array([[c, s], [-s, c]]) + [x, y]


def covered(ring: Points, shape: tuple[int, int], fine: int = 4) -> NDArray[np.float64]:
    """Share of each pixel inside the ring, from `fine` × `fine` places a pixel."""
    inner = filled((ring + 0.5) * fine - 0.5, (shape[0] * fine, shape[1] * fine))
    return inner.reshape(shape[0], fine, shape[1], fine).mean(axis=(1, 3))


def photographed(
    outer: Points,
    holes: Sequence[Points] = (),
    shape: tuple[int, int] = SHAPE,
    part: float = 150.0,
    ground: float = 110.0,
    texture: float = 18.0,
    seed: int = 3,
) -> Photo:
    """Draw a part of sRGB code `part`, finely textured, on a blotchy ground of code `ground`, with camera noise."""
    rng = np.random.default_rng(seed)
    share = covered(outer, shape)
    for hole in holes:
        share = share - covered(hole, shape)
    blotches = ndimage.gaussian_filter(rng.normal(size=shape), 25.0)
    below = ground + 8.0 * blotches / blotches.std()
    grain = ndimage.gaussian_filter(rng.normal(size=shape), 1.2)
    above = part + texture * grain / grain.std()
    picture = ndimage.gaussian_filter(share * above + (1.0 - share) * below, 0.6) + rng.normal(0.0, 1.0, shape)
    srgb = np.repeat(np.clip(np.round(picture), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return as_photo(srgb)


def as_photo(srgb: NDArray[np.uint8]) -> Photo:
    """Wrap an array as a photo that was decoded at full size."""
    return Photo(srgb, PhotoFacts("PNG", "image/png", srgb.shape[1], srgb.shape[0], 1, 8), 1.0)
