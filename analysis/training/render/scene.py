"""One face from a seed: photo, masks and truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.training.render import light
from analysis.training.render.backdrop import backdrop
from analysis.training.render.camera import pixel_area_mm2
from analysis.training.render.dirt import Film, glare_spot, grease, specks
from analysis.training.render.face import Face, make_face
from analysis.training.render.noise import Noise
from analysis.training.render.optics import blur_by_depth, develop, jpeg
from analysis.training.render.smooth import smooth, smooth_inside
from analysis.training.render.spec import Spec, sample_spec
from analysis.training.render.truth import input_record, truth_record

Array = NDArray[np.float32]
Mask = NDArray[np.bool_]
Window = tuple[slice, slice]


@dataclass(frozen=True)
class Rendered:
    """A finished face: JPEG bytes, the records of input.json and truth.json, and the masks as 8-bit pictures."""

    photo: bytes
    input: dict[str, object]
    truth: dict[str, object]
    masks: dict[str, NDArray[np.uint8]]


def _albedo(spec: Spec, noise: Noise, torn: Array, px: Array, py: Array) -> Array:
    """Return the diffuse colour of n face pixels: the filament's own, whitened where it tore."""
    fil = spec.filament
    fine = noise.field(px, py, float(noise.rng.uniform(0.03, 0.07)), octaves=2)
    blot = noise.field(px, py, 0.22, octaves=2)
    strand = noise.field(px, py, 0.06, stretch=6.0, angle_rad=spec.relief.crack_rad)
    speck = 0.7 * fine + 0.4 * blot + spec.relief.fibril * strand
    white = fil.whitening * torn * np.clip(1 + spec.surface.speckle * speck, 0.05, 2.2)
    base = np.array(fil.base, np.float32) * (1 + 0.03 * noise.field(px, py, 2.5)[:, None])
    if fil.filler > 0:
        grain = noise.field(px, py, 0.05, stretch=3.0, angle_rad=float(noise.rng.uniform(0, 3.1)), octaves=2)
        base = base * np.clip(1 + 0.35 * fil.filler * grain, 0.3, 2.5)[:, None]
    white = np.clip(white, 0, 0.95)[:, None]
    return np.asarray(base * (1 - white) + np.array(fil.white, np.float32) * white, dtype=np.float32)


def _window(inside: Mask, margin: int) -> Window:
    rows, cols = np.flatnonzero(inside.any(1)), np.flatnonzero(inside.any(0))
    return (
        slice(max(int(rows[0]) - margin, 0), int(rows[-1]) + margin + 1),
        slice(max(int(cols[0]) - margin, 0), int(cols[-1]) + margin + 1),
    )


def _outside_height(z: Array, inside: Mask, px: float) -> Array:
    """Carry the edge's height a few pixels outward, so that the outline's normals aren't those of an abyss."""
    near = smooth_inside(z, inside.astype(np.float32), 3)
    return np.where(inside, z, near - np.float32(1.5 * px)).astype(np.float32)


def _lit_face(spec: Spec, noise: Noise, face: Face, film: Film, x: Array, y: Array, win: Window) -> Array:
    """Return the linear light in the window around the face (rubbish outside the face)."""
    px = spec.camera.um_per_px / 1000
    inside, torn, thick = face.inside[win], face.torn[win], film.thickness[win]
    colour = np.zeros((*inside.shape, 3), np.float32)
    colour[inside] = _albedo(spec, noise, torn[inside], x[win][inside], y[win][inside])
    wet = np.clip(thick / 0.75, 0, 1)
    lid = smooth(face.touched[win].astype(np.float32), 0.02 / px)
    colour *= np.exp(-thick[..., None] * np.array(film.tint, np.float32))
    level = smooth(face.z[win], 0.12 / px)
    z = _outside_height(face.z[win] + (level - face.z[win]) * 0.85 * wet, inside, px)
    rough = spec.filament.roughness + (0.85 - spec.filament.roughness) * np.clip(torn * 1.4, 0, 1)
    rough = np.clip(rough + spec.surface.pressed_rough * lid * (1 - torn), 0.1, 0.9)
    rough = rough + (0.16 - rough) * wet
    colour *= (1 + np.float32(spec.surface.pressed_tone) * lid * (1 - torn))[..., None]
    h, w = face.inside.shape
    xp = ((np.arange(w, dtype=np.float32) - w / 2) * np.float32(px))[None, win[1]]
    yp = ((np.arange(h, dtype=np.float32) - h / 2) * np.float32(px))[win[0], None]
    gloss = (1 - 0.6 * np.clip(torn, 0, 1)) * (1 + 0.5 * wet)
    if spec.surface.glints > 0:
        shine = noise.field(x[win], y[win], 0.07, stretch=2.0, angle_rad=spec.relief.crack_rad, octaves=2)
        gloss *= 1 + spec.surface.glints * (np.clip(shine, 0, 3) - 0.4) * (1 - wet)
    matte, glossy = light.shade(z, xp, yp, px, spec.lighting, rough.astype(np.float32), gloss.astype(np.float32))
    if spec.filament.clear_mm > 0.004:
        matte = matte + (smooth(matte, spec.filament.clear_mm / px) - matte) * np.float32(0.7)
    shut = light.shut_off(z, inside.astype(np.float32), px, spec.lighting.hollow)
    # light bounces between the flanks of a groove, the more the brighter the material
    out = colour * matte[..., None] * np.exp(-shut[..., None] * (1 - np.float32(0.55) * colour))
    out += (glossy * np.exp(-shut))[..., None]
    return np.asarray(out, dtype=np.float32)


def _gain(spec: Spec, lit: Array, inside: Mask) -> float:
    """Expose as a camera would: between the whole frame's mean and the face's, both pulled towards mid grey."""
    face = lit[inside]
    # half the mean, half the strongest channel: a pure red part would else be driven into clipping
    mean = float(0.5 * np.mean(face) + 0.5 * np.mean(face.max(-1))) + 1e-4
    frame = float(np.mean(lit[::4, ::4])) + 1e-4
    meter = mean**0.6 * (0.7 * mean + 0.3 * frame) ** 0.4
    return float(0.24 * (meter / 0.18) ** 0.45 / meter * 2.0**spec.optics.ev)


def _compose(spec: Spec, noise: Noise, face: Face, x: Array, y: Array) -> tuple[Array, Mask]:
    """Return the linear light of the whole scene before the lens, and where the face can't be judged."""
    px, inside, soil = spec.camera.um_per_px / 1000, face.inside, spec.soil
    film = grease(noise, soil.grease_cover, soil.grease_dark, inside, x, y)
    out_of_focus = spec.optics.blur_px + 0.35 * spec.optics.dof_px_per_mm * spec.behind.depth_mm
    lit = backdrop(noise, spec.behind, x, y, inside.astype(np.float32), px, out_of_focus)
    win = _window(inside, 24)
    lit[win][inside[win]] = _lit_face(spec, noise, face, film, x, y, win)[inside[win]]
    blind = film.blind
    if soil.glare:
        spot = glare_spot(noise, inside)
        lit = lit + (spot * float(np.mean(lit[inside])) * 4)[..., None]
        blind = blind | (spot > 0.5)
    cover, grey = specks(noise.rng, (inside.shape[0], inside.shape[1]), soil.dust, soil.lint)
    cover = np.where(inside, cover, 0.6 * smooth(cover, 2.0))  # what lies on the table is out of focus
    lit = lit + (np.float32(grey) - lit) * (0.8 * cover)[..., None]
    lit[win] = blur_by_depth(lit[win], face.z[win], spec.optics)
    return lit.astype(np.float32), blind & inside


def render_spec(spec: Spec) -> Rendered:
    """Render one description."""
    noise = Noise(np.random.default_rng([spec.seed, 2]), spec.camera.um_per_px / 1000)
    x, y = spec.camera.grid_mm()
    face = make_face(spec, noise, x, y)
    lit, blind = _compose(spec, noise, face, x, y)
    rgb = develop(noise.rng, lit, _gain(spec, lit, face.inside), spec.optics)
    area = np.zeros(x.shape, np.float32)
    win = _window(face.inside, 2)
    area[win] = pixel_area_mm2(x[win], y[win])
    masks = {"face": face.inside, "nominal": face.nominal, "bonded": face.bonded, "void": face.void, "grease": blind}
    pictures = {k: (v * 255).astype(np.uint8) for k, v in masks.items()}
    pictures["terrace"], pictures["walls"] = face.terrace, face.walls
    truth = truth_record(spec, face, masks, area)
    return Rendered(jpeg(rgb, spec.optics.jpeg_q), input_record(spec), truth, pictures)


def render_face(seed: int, width: int = 1224, height: int = 918) -> Rendered:
    """Render face number `seed`; the same seed and size give the same bytes."""
    return render_spec(sample_spec(seed, width, height))
