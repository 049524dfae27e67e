"""What each point of the face shows: the cues that bonded, bare and missing roads are told apart by.

Every cue is relative: to the light around it, to the road's own colour, to the face's own spread, so that one set of
rules serves black, coloured and white filament. All are (rows, cols) float32 on the working grid; lengths in line
widths; lightness is the natural log of luminance over the face's median.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from analysis.common.smooth import gauss
from analysis.roads.walls import RASTER, WallField
from analysis.roads.workview import Bools, Floats, Workview
from analysis.welds.edges import edge_cues
from analysis.welds.profile import profile_cues
from analysis.welds.texture import texture_cues

_LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)  # IEC 61966-2-1 primaries


@dataclass(frozen=True)
class Cues:
    """Cue planes (rows, cols, k) float32 with their names; outside the face the values mean nothing.

    own_chroma : strength of the filament's own colour, about 0 for grey, white and black.
    """

    planes: Floats
    names: tuple[str, ...]
    own_chroma: float

    def plane(self, name: str) -> Floats:
        """One cue by name."""
        return self.planes[..., self.names.index(name)]

    def points(self, where: Bools) -> Floats:
        """All cues (n, k) of the places where `where` (rows, cols) is True, in the order of `planes[where]`."""
        by_plane = np.moveaxis(self.planes, -1, 0).reshape(self.planes.shape[-1], -1)
        return by_plane.take(np.flatnonzero(where), axis=1).T


def inside_mean(values: Floats, inside: Floats, sigma_px: float) -> Floats:
    """Gaussian mean over the face alone, so that the background never leaks in."""
    weight = gauss(inside, sigma_px, truncate=2.5)
    total = gauss(values * inside, sigma_px, truncate=2.5)
    return np.asarray(total / np.maximum(weight, 1e-3), np.float32)


def log_lightness(luminance: Floats, level: float) -> Floats:
    """Natural log of luminance over the face's own level; the small addend keeps black from running off."""
    return np.asarray(np.log(np.maximum(luminance, 0) / level + 0.03), np.float32)


def measure_cues(view: Workview, field: WallField, band_share: float) -> Cues:
    """Compute every cue for one face.

    Parameters
    ----------
    view : the face at working resolution. field : its wall roads. band_share : contact band over line width.
    """
    inside = view.inside
    luminance = view.linear @ _LUMA
    level = float(np.median(luminance[inside])) + 1e-5
    light = log_lightness(luminance, level)
    tangent, coherence = road_direction(light, inside, field, view.road_px)
    found: dict[str, Floats] = _place_cues(field, band_share)
    found |= _lightness_cues(light, inside, view.road_px)
    colour, own = _colour_cues(view)
    found |= colour
    found |= texture_cues(log_lightness(view.fine, level), tangent, inside, view.road_px)
    found |= _shape_cues(light, tangent, inside, view.road_px)
    found["coherence"] = coherence
    signals = {name: found[name] for name in ("light_near", "chroma_kept", "rough1_near")}
    found |= profile_cues(signals, inside, field, view.road_px)
    band = inside & ((field.offset < band_share / 2) | (field.outline == RASTER))
    found |= _two_group_cues(found, band)
    signals = {name: found[name] for name in ("light_near", "near_minus_field", "chroma_kept_near", "rough2_near")}
    found |= edge_cues(signals, _tops(found, inside, field, band_share), view.road_px)
    found |= _whole_face_cues(found, inside)
    planes = np.empty((len(found), *inside.shape), np.float32)  # one plane after the other: each is written in order
    for plane, values in zip(planes, found.values(), strict=True):
        plane[...] = values
    return Cues(np.moveaxis(planes, 0, -1), tuple(found), own)


def road_direction(lightness: Floats, inside: Bools, field: WallField, road_px: float) -> tuple[Floats, Floats]:
    """Direction of the roads, radians modulo pi, and its coherence 0..1 (1: all gradients agree).

    On walls the outline gives it; inside, the structure tensor of the lightness over about three roads.
    """
    dy = gauss(lightness, road_px / 8, order=(1, 0))
    dx = gauss(lightness, road_px / 8, order=(0, 1))
    raster = (inside & (field.outline == RASTER)).astype(np.float32)
    xx, yy, xy = (gauss(v * raster, road_px * 1.2, truncate=2.0) for v in (dx * dx, dy * dy, dx * dy))
    spread = np.hypot(xx - yy, 2 * xy)
    tangent = np.mod(0.5 * np.arctan2(2 * xy, xx - yy) + np.pi / 2, np.pi)
    on_wall = field.outline != RASTER
    return (
        np.where(on_wall, field.tangent_rad, tangent).astype(np.float32),
        np.where(on_wall, 1.0, spread / np.maximum(xx + yy, 1e-9)).astype(np.float32),
    )


def spread_of(values: Floats, inside: Bools) -> tuple[float, float]:
    """Median and half the 10-90 % range over the face."""
    low, mid, high = np.percentile(values[inside], [10, 50, 90])
    return float(mid), float(max(high - low, 1e-6) / 2)


def rank_of(values: Floats, inside: Bools) -> Floats:
    """Share of the face that is lower, 0..1."""
    grid = np.percentile(values[inside], np.linspace(0, 100, 65))
    return np.interp(values, grid, np.linspace(0, 1, 65)).astype(np.float32)


def _place_cues(field: WallField, band_share: float) -> dict[str, Floats]:
    on_wall = field.outline != RASTER
    return {
        "band": (np.clip((band_share / 2 - field.offset) * 6 + 0.5, 0, 1) * on_wall).astype(np.float32),
        "offset": np.where(on_wall, field.offset, 0.6).astype(np.float32),
        "on_wall": on_wall.astype(np.float32),
        "outermost": (field.index == 0).astype(np.float32),
        "raster_depth": np.clip(np.where(on_wall, -1, field.offset - 0.5), -1, 3).astype(np.float32),
        "band_share": np.full(on_wall.shape, band_share, np.float32),
    }


def _lightness_cues(light: Floats, inside: Bools, road_px: float) -> dict[str, Floats]:
    face = inside.astype(np.float32)
    means = {s: inside_mean(light, face, s * road_px) for s in (0.15, 0.4, 1.0, 2.5)}
    window = round(road_px * 1.2) | 1
    low = ndimage.minimum_filter(np.where(inside, means[0.15], 9), window)
    high = ndimage.maximum_filter(np.where(inside, means[0.15], -9), window)
    out = {
        "light": light,
        "light_near": means[0.15],
        "light_road": means[0.4],
        "light_minus_near": light - means[0.4],
        "near_minus_far": means[0.4] - means[1.0],
        "far_minus_field": means[1.0] - means[2.5],
        "near_minus_field": means[0.15] - means[2.5],
        "field": means[2.5],
        "above_local_low": np.clip(means[0.15] - low, 0, 4),
        "below_local_high": np.clip(high - means[0.15], 0, 4),
    }
    middle, spread = spread_of(means[0.4], inside)
    out["light_scaled"] = (means[0.4] - middle) / spread
    out["light_rank"] = rank_of(means[0.15], inside)
    out["flat_rank"] = rank_of(means[0.4] - means[2.5], inside)
    return out


def _colour_cues(view: Workview) -> tuple[dict[str, Floats], float]:
    """Chroma along the filament's own hue, and its strength: whitening pulls a colour towards grey."""
    road, inside = view.road_px, view.inside
    face = inside.astype(np.float32)
    soft = np.stack([inside_mean(view.linear[..., k], face, 0.12 * road) for k in range(3)], -1)
    total = soft.sum(-1) + 1e-3
    red, blue = (soft[..., 0] - soft[..., 1]) / total, (soft[..., 2] - soft[..., 1]) / total
    centre = np.array([np.median(red[inside]), np.median(blue[inside])])
    axis = centre / max(float(np.hypot(*centre)), 1e-6)
    chroma = (red * axis[0] + blue * axis[1]).astype(np.float32)
    top = float(np.percentile(chroma[inside], 90))
    near, far = inside_mean(chroma, face, 0.4 * road), inside_mean(chroma, face, 2.5 * road)
    scale = max(top, 0.02)
    filled = np.where(inside, chroma, -9)
    fullest = gauss(ndimage.maximum_filter(filled, round(road * 1.3) | 1), road * 0.3)
    return {
        "chroma_kept": chroma / scale,
        "chroma_less_fullest": np.clip((chroma - fullest) / scale, -3, 1),
        "chroma_kept_near": near / scale,
        "chroma_near_minus_far": (near - far) / scale,
        "chroma_rank": rank_of(near, inside),
        "hue_off": ((blue * axis[0] - red * axis[1]) / scale).astype(np.float32),
        "own_chroma": np.full(inside.shape, top, np.float32),
    }, top


def _shape_cues(light: Floats, tangent: Floats, inside: Bools, road_px: float) -> dict[str, Floats]:
    """Ridge and furrow across the road: second derivative of lightness across and along it."""
    out: dict[str, Floats] = {}
    cos, sin = np.cos(tangent), np.sin(tangent)
    filled = np.where(inside, light, inside_mean(light, inside.astype(np.float32), road_px))
    for name, sigma in (("thin", 0.12), ("broad", 0.3)):
        s = sigma * road_px
        xx, yy, xy = (gauss(filled, s, order=o) * s * s for o in ((0, 2), (2, 0), (1, 1)))
        out[f"curve_across_{name}"] = sin * sin * xx - 2 * cos * sin * xy + cos * cos * yy
        out[f"curve_along_{name}"] = cos * cos * xx + 2 * cos * sin * xy + sin * sin * yy
        dy, dx = (gauss(filled, s, order=o) * s for o in ((1, 0), (0, 1)))
        out[f"slope_{name}"] = np.hypot(dx, dy)
    return out


def _two_group_cues(found: dict[str, Floats], band: Bools) -> dict[str, Floats]:
    """If the contact bands fell into two groups: on which side a point lies, and how clear the two groups are.

    Otsu's split (N. Otsu, IEEE Trans. SMC 9:62, 1979) of five cues; clearness is between-group over total variance.
    """
    out: dict[str, Floats] = {}
    for name in ("light_near", "near_minus_field", "chroma_kept_near", "rough1_near", "rough2_near"):
        values = found[name][band]
        if values.size < 50:
            values = found[name].ravel()
        level, apart, clear, share = otsu_split(values)
        shape = found[name].shape
        out[f"{name}_side"] = np.clip((found[name] - level) / apart, -3, 3).astype(np.float32)
        out[f"{name}_clear"] = np.full(shape, clear, np.float32)
        out[f"{name}_apart"] = np.full(shape, apart, np.float32)
        out[f"{name}_share"] = np.full(shape, share, np.float32)
    return out


def _tops(found: dict[str, Floats], inside: Bools, field: WallField, band_share: float) -> Bools:
    """Tops of the roads: the contact bands' cores on walls, the ridges in the raster."""
    core = ndimage.binary_erosion(inside & (field.outline != RASTER) & (field.offset < 0.4 * band_share))
    ridge = (found["curve_across_broad"] < 0) & (found["coherence"] > 0.5) & (field.outline == RASTER)
    return np.asarray(core | (ndimage.binary_erosion(inside, iterations=2) & ridge))


def otsu_split(values: Floats) -> tuple[float, float, float, float]:
    """Level that splits values best, distance of the two means, between over total variance, share above."""
    low, high = np.percentile(values, [0.5, 99.5])
    counts, edges = np.histogram(np.clip(values, low, high), 64, (float(low), float(high) + 1e-6))
    middle = (edges[1:] + edges[:-1]) / 2
    below = np.cumsum(counts)[:-1].astype(float)
    above = counts.sum() - below
    sums = np.cumsum(counts * middle)
    lower, upper = sums[:-1] / np.maximum(below, 1), (sums[-1] - sums[:-1]) / np.maximum(above, 1)
    between = below * above * (upper - lower) ** 2 / counts.sum() ** 2
    best = int(between.argmax())
    total = float((counts * (middle - sums[-1] / counts.sum()) ** 2).sum() / counts.sum()) + 1e-9
    apart = max(float(upper[best] - lower[best]), 1e-3)
    return float(edges[best + 1]), apart, float(between[best]) / total, float(above[best] / counts.sum())


def _whole_face_cues(found: dict[str, Floats], inside: Bools) -> dict[str, Floats]:
    """Numbers of the whole face that say how to read the others; constant planes."""
    low, middle, high = np.percentile(found["light_road"][inside], [10, 50, 90])
    rough = [float(np.median(found[f"rough{n}_near"][inside])) for n in range(4)]
    numbers = {
        "face_light_up": high - middle,
        "face_light_down": middle - low,
        "face_rough1": rough[1],
        "face_rough3": rough[3],
        "face_fineness": rough[0] - rough[2],
        "face_rough_spread": spread_of(found["rough1_wide"], inside)[1],
    }
    return {name: np.full(inside.shape, value, np.float32) for name, value in numbers.items()}
