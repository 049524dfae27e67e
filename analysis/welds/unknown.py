"""Where it can't be told: grease, glare, and the zones that the person marked."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy import ndimage

from analysis.roads.workview import Bools, Points, Workview, fill_polygons
from analysis.welds.bonding import Reading

_CLIPPED = 0.985  # linear light: the sensor's end, all three channels
_COLOURED = 0.08  # own chroma above which a clipped white patch can't be the filament itself


def unknown_zones(view: Workview, reading: Reading, own_chroma: float, marked_px: Sequence[Points] = ()) -> Bools:
    """Points of the face that count neither as bonded nor as bare; (rows, cols).

    Grease: where hiding is likelier than not over half a road. Glare: clipped to white on a coloured filament, at
    least a quarter of a road across; on white and grey filament whitening itself clips, so it is left in.
    `marked_px` are polygons (x, y) in photo px.
    """
    hidden = ndimage.gaussian_filter(reading.hidden, view.road_px / 4) > 0.5
    hidden = _only_large(hidden, 0.5 * view.road_px**2)
    glare = np.zeros_like(hidden)
    if own_chroma > _COLOURED:
        glare = ndimage.binary_opening(view.linear.min(-1) > _CLIPPED, iterations=max(int(view.road_px / 8), 1))
    unknown = hidden | glare
    for polygon in marked_px:
        unknown |= fill_polygons(unknown.shape, view.from_photo(np.asarray(polygon, float)), ())
    return np.asarray(unknown & view.inside)


def _only_large(mask: Bools, least_px: float) -> Bools:
    """Drop connected patches of fewer than `least_px` points."""
    patches, count = ndimage.label(mask)
    if not count:
        return mask
    large = np.bincount(patches.ravel()) >= least_px
    large[0] = False
    return np.asarray(large[patches])
