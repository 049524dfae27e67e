"""Focus series rendered from a texture and known heights, as a lens with a shallow focus would see them."""

import numpy as np
from scipy import ndimage, signal
from skimage.transform import SimilarityTransform, warp

BLUR_PER_SLICE = 1.1  # sd, px, of the blur one slice out of focus


def series(
    texture: np.ndarray, depth: np.ndarray, count: int, *, breathing: float = 0.0, jitter: float = 0.0,
    noise: float = 2.0, seed: int = 3, disc: bool = False,
) -> tuple[list[np.ndarray], list[SimilarityTransform]]:  # fmt: skip
    """Slices 0 to count - 1 of a grey texture whose places are in focus at slice `depth`.

    breathing : enlargement from slice to slice; jitter : sd of each slice's shift, px; disc : a round opening's blur
    (geometric optics) instead of a Gaussian one of the same spread. Returns the slices, uint8
    (rows, cols, 3), and for each the way from its own points to those of the texture.
    """
    rng = np.random.default_rng(seed)
    sigmas = np.arange(0, 0.51 + BLUR_PER_SLICE * max(depth.max(), count - depth.min()), 0.5)
    blurred = np.stack([_blurred(texture.astype(np.float32), s, disc) for s in sigmas])
    rows, cols = np.indices(texture.shape)
    slices, ways = [], []
    for number in range(count):
        place = np.abs(depth - number) * BLUR_PER_SLICE / 0.5
        low = np.floor(place).astype(int)
        share = place - low
        seen = (1 - share) * blurred[low, rows, cols] + share * blurred[low + 1, rows, cols]
        grown = 1 + breathing * (number - count // 2)
        middle = np.array([texture.shape[1], texture.shape[0]]) / 2
        off = rng.normal(0, jitter, 2) if jitter else np.zeros(2)
        way = SimilarityTransform(scale=grown, translation=middle * (1 - grown) + off)
        seen = warp(seen, way, order=3, mode="edge", preserve_range=True) + rng.normal(0, noise, texture.shape)
        slices.append(np.repeat(np.clip(seen, 0, 255).astype(np.uint8)[..., None], 3, 2))
        ways.append(way)
    return slices, ways


def _blurred(texture: np.ndarray, sigma: float, disc: bool) -> np.ndarray:
    if not disc or sigma == 0:
        return ndimage.gaussian_filter(texture, sigma)
    radius = 2 * sigma  # a disc's spread along one axis is half its radius
    reach = int(np.ceil(radius)) + 1
    rows, cols = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    kernel = np.clip(radius + 0.5 - np.hypot(rows, cols), 0, 1)
    return signal.fftconvolve(np.pad(texture, reach, mode="edge"), kernel / kernel.sum(), mode="valid")
