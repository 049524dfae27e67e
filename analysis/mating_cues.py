"""What a face shows that its other half shows too: light, colour, roughness and edges, freed of light and walls.

Torn polymer is whitened and rough on both halves at the mirrored place, cliffs between layers run along the same lines,
and where a road is missing here the road above shows no tear there. What the two photos don't share is taken out: the
light by a running mean over the face, the walls that every face of this outline has by the mean at each depth.
"""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from analysis.workview import FINE, Bools, Floats, Workview

COARSE = 2  # working px per cue px: six cue px to a road
_SMOOTH, _AROUND = 0.25, 2.0  # road widths
_CLIP = 2.5


def cue_planes(view: Workview) -> tuple[Floats, Floats]:
    """Planes (rows, cols, 4) of cues that mean the same on both halves, and their weight (rows, cols), 0 off the face.

    The grid is `COARSE` working px; each plane has mean 0 and sd 1 over the face.
    """
    light = np.log(view.linear.mean(-1) + 0.01)
    colour = view.linear.max(-1) - view.linear.min(-1)
    colour = colour / (view.linear.max(-1) + 0.02)
    raw = np.log(np.maximum(view.fine, 0) + 0.01)
    rough = raw - ndimage.gaussian_filter(raw, 1.5)
    rough = np.log(_pool(rough**2, FINE) + 1e-6)
    edges = ndimage.gaussian_gradient_magnitude(light, 1.0)
    stack = np.stack([_pool(p, COARSE) for p in (light, colour, rough, edges)], -1)
    inside = _pool(view.inside.astype(np.float32), COARSE) > 0.99
    road = view.road_px / COARSE
    depth = ndimage.distance_transform_edt(np.pad(inside, 1))[1:-1, 1:-1]
    weight = np.clip(depth / road, 0, 1).astype(np.float32) * inside
    planes = [_levelled(stack[..., k].astype(np.float32), weight, depth, road) for k in range(stack.shape[-1])]
    return np.stack(planes, -1), weight


def _levelled(plane: Floats, weight: Floats, depth: Floats, road: float) -> Floats:
    inside = weight > 0
    plane = np.where(inside, plane, 0)
    plane = _inside_mean(plane, weight, _SMOOTH * road) - _inside_mean(plane, weight, _AROUND * road)
    plane = _standard(plane, inside)
    ring = np.minimum((depth / road * 4).astype(int), 40)[inside]
    total = np.bincount(ring, minlength=41)
    mean = np.bincount(ring, plane[inside], minlength=41) / np.maximum(total, 1)
    out = np.zeros_like(plane)
    out[inside] = plane[inside] - mean[ring]
    return _standard(out, inside)


def _standard(plane: Floats, inside: Bools) -> Floats:
    values = plane[inside]
    if values.size == 0:
        return plane
    spread = max(1.4826 * float(np.median(np.abs(values - np.median(values)))), 0.3 * float(values.std()), 1e-6)
    out = np.clip((plane - np.median(values)) / spread, -_CLIP, _CLIP) * inside
    return np.asarray(out, np.float32)


def _inside_mean(values: Floats, weight: Floats, sigma_px: float) -> Floats:
    total = ndimage.gaussian_filter(weight, sigma_px, truncate=2.5)
    return np.asarray(ndimage.gaussian_filter(values * weight, sigma_px, truncate=2.5) / np.maximum(total, 1e-3))


def _pool(plane: Floats, by: int) -> Floats:
    rows, cols = (n // by * by for n in plane.shape)
    return np.asarray(plane[:rows, :cols].reshape(rows // by, by, cols // by, by).mean((1, 3)))
