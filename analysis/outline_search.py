"""Search for the face in a photo (first, plain version: colour unlike the border's)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from skimage import filters, measure, morphology

Points = NDArray[np.float64]


def search_outline(srgb: NDArray[np.uint8], um_per_pixel: float) -> tuple[Points, list[Points], float, float]:
    """Outline and holes in array pixels, confidence 0 to 1, and the edge's standard uncertainty in array pixels."""
    step = max(1, round(max(srgb.shape[:2]) / 544))
    small = ndimage.uniform_filter(srgb.astype(np.float32), (step, step, 1))[step // 2 :: step, step // 2 :: step]
    edge = np.concatenate(
        [small[:8].reshape(-1, 3), small[-8:].reshape(-1, 3), small[:, :8].reshape(-1, 3), small[:, -8:].reshape(-1, 3)]
    )
    middle = np.median(edge, axis=0)
    spread = 1.5 * np.median(np.abs(edge - middle), axis=0) + 3
    distance = np.sqrt((((small - middle) / spread) ** 2).sum(axis=2))
    grey = small.mean(axis=2)
    sharp = ndimage.gaussian_filter(np.abs(grey - ndimage.gaussian_filter(grey, 2)), 3)
    score = np.log1p(distance) + np.log1p(sharp)
    mask = score > filters.threshold_otsu(score)
    mask = morphology.opening(morphology.closing(mask, morphology.disk(5)), morphology.disk(5))
    labels, count = ndimage.label(mask)
    if not count:
        return np.empty((0, 2)), [], 0.0, 0.0
    mask = labels == 1 + np.argmax(ndimage.sum(mask, labels, range(1, count + 1)))
    mask = np.pad(ndimage.binary_fill_holes(mask), 1)
    contour = max(measure.find_contours(mask.astype(float), 0.5), key=len)[:-1]
    outer = (contour[:, ::-1] - 1.0 + 0.5) * step - 0.5
    return measure.approximate_polygon(outer, step / 2), [], 0.5, float(step)
