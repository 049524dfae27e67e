"""The outline found on demand, with as few corners as describe it: a person has to be able to drag them."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from skimage import measure

from analysis.common.polygons import crosses_itself
from analysis.imaging.photo import read_photo
from analysis.imaging.scale import Scale
from analysis.outlines.outline import find_outline
from server.photos.keeping import limits_of_kept
from server.records import Photo
from server.settings import Settings
from server.store import Store

SIDE_PX = 1632  # judgement: an edge is found to a fraction of a road's width at this size
LEAST_TOLERANCE_PX = 1.5  # half of what a carefully drawn line strays by


def find(settings: Settings, store: Store, photo: Photo, scale: Scale) -> dict[str, Any]:
    """Return outer_px, holes_px, confidence and words for the person; raises `OutlineRefused` when none stands out."""
    picture = read_photo(store.read(photo.sha256), limits_of_kept(settings, photo), max_side_px=SIDE_PX)
    outline = find_outline(picture, scale)
    tolerance = max(LEAST_TOLERANCE_PX, outline.edge_sd_px)
    rings = [_fewer(ring, tolerance) for ring in (outline.outer_px, *outline.holes_px)]
    sure = "clearly" if outline.confidence >= 0.7 else "not very clearly"
    holes = len(rings) - 1
    with_holes = f" with {holes} hole{'s' if holes > 1 else ''}" if holes else ""
    return {
        "outer_px": rings[0],
        "holes_px": rings[1:],
        "confidence": round(outline.confidence, 2),
        "words": f"An outline{with_holes} was found; it stands out {sure}. Check it all around and drag what is off.",
    }


def _fewer(ring: NDArray[np.float64], tolerance: float) -> list[list[float]]:
    closed = np.vstack([ring, ring[:1]])
    fewer = measure.approximate_polygon(closed, tolerance)[:-1]
    kept = fewer if len(fewer) >= 3 and not crosses_itself(fewer) else ring
    return [[round(float(x), 1), round(float(y), 1)] for x, y in kept]
