"""Pictures of a making: where the seams run, and how high each place lies."""

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from analysis.fields.seams import NOBODY
from server.records import Joining
from server.store import Store

# Lightness grows with height, and no two heights are told apart by hue alone (Okabe and Ito's dark blue to yellow).
_RAMP = np.array([[20, 26, 70], [0, 90, 150], [40, 150, 130], [200, 190, 60], [255, 250, 210]], float)
_HATCH_PX = 8


def owners(store: Store, joining: Joining) -> NDArray[np.uint8]:
    """Whose each point of a picture of several fields is, on every `step`-th pixel."""
    return np.asarray(Image.open(io.BytesIO(store.read(joining.map_sha256))))


def heights(store: Store, joining: Joining) -> NDArray[np.float32]:
    """Height above the lowest slice's focus, in steps of the focus; NaN where unknown."""
    with np.load(io.BytesIO(store.read(joining.map_sha256)), allow_pickle=False) as kept:
        index = np.asarray(kept["index"], np.float32)
    return (len(joining.photo_ids) - 1 - index if joining.first_is_highest else index).astype(np.float32)


def seams_png(store: Store, joining: Joining) -> bytes:
    """A see-through layer as large as the owner map: black seams on a white rim."""
    owner = owners(store, joining).astype(np.int16)
    seam = np.zeros(owner.shape, bool)
    seam[:, 1:] |= owner[:, 1:] != owner[:, :-1]
    seam[1:] |= owner[1:] != owner[:-1]
    width = max(1, max(owner.shape) // 700)
    line = ndimage.binary_dilation(seam, iterations=width)
    rim = ndimage.binary_dilation(line, iterations=width)
    layer = np.zeros((*owner.shape, 4), np.uint8)
    layer[rim] = (255, 255, 255, 220)
    layer[line] = (0, 0, 0, 255)
    layer[owner == NOBODY] = (128, 128, 128, 255)
    return _png(layer)


def heights_png(store: Store, joining: Joining) -> bytes:
    """The heights from dark, low, to light, high; hatched where unknown."""
    height = heights(store, joining)
    known = np.isfinite(height)
    low, high = height_range(height)
    place = np.clip((np.where(known, height, low) - low) / max(high - low, 1e-6), 0, 1) * (len(_RAMP) - 1)
    first = np.minimum(place.astype(int), len(_RAMP) - 2)
    share = (place - first)[..., None]
    picture = ((1 - share) * _RAMP[first] + share * _RAMP[first + 1]).round().astype(np.uint8)
    rows, cols = np.indices(height.shape)
    stripe = (rows + cols) % _HATCH_PX < _HATCH_PX // 3
    picture[~known] = np.where(stripe, 90, 225)[~known][:, None]
    return _png(picture)


def height_range(height: NDArray[np.float32]) -> tuple[float, float]:
    """The heights at the two ends of the ramp: all but the outermost hundredth of places."""
    known = height[np.isfinite(height)]
    if not len(known):
        return 0.0, 1.0
    low, high = np.percentile(known, [1, 99])
    return float(low), float(high)


def _png(picture: NDArray[np.uint8]) -> bytes:
    file = io.BytesIO()
    Image.fromarray(picture).save(file, "PNG")
    return file.getvalue()
