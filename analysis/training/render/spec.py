"""Everything that is drawn at random for one face, before anything is computed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.training.render.backdrop import KINDS as BACKDROPS
from analysis.training.render.backdrop import Behind
from analysis.training.render.camera import Camera
from analysis.training.render.defects import Defects, plan_defects
from analysis.training.render.filament import Filament, sample_filament
from analysis.training.render.light import KINDS as LIGHTS
from analysis.training.render.light import Lighting, sample_lighting
from analysis.training.render.optics import Optics, sample_optics
from analysis.training.render.relief import ReliefLooks
from analysis.training.render.roads import Plan, make_plan
from analysis.training.render.shapes import MAKERS
from analysis.training.render.weld import WeldLooks

MODES = ("layer_delamination", "under_extrusion", "overload")
PROFILES = ("easy", "typical", "hard")


@dataclass(frozen=True)
class Terraces:
    """Layer planes of the face: area shares from the highest down, and how their borders run."""

    shares: tuple[float, ...]
    direction_rad: float
    block: bool  # borders follow road edges in blocks
    ramp_mm: float  # width of the torn step between two planes
    wave_mm: float  # how far a front wanders, over some 3 mm
    ragged_mm: float  # and how far over a few tenths


@dataclass(frozen=True)
class Soil:
    """What lies on the face."""

    grease_cover: float
    grease_dark: float
    glare: bool
    dust: int
    lint: int


@dataclass(frozen=True)
class Surface:
    """How untorn and torn ground show: speckle of the whitening; a pressed band's roughness and tone."""

    speckle: float
    spill: float  # how far weak welds and the ground beside torn bands whiten
    glints: float  # how unevenly untorn ground shines
    pressed_rough: float
    pressed_tone: float


@dataclass(frozen=True)
class Spec:
    """One face to render; lengths in mm."""

    seed: int
    profile: str
    primary: str
    secondary: str | None
    filament: Filament
    plan: Plan
    layer_height_mm: float
    contact_fraction: float
    raster_deg: float
    road_looks: dict[str, float]
    gap_pattern: str
    defects: Defects
    weld: WeldLooks
    overload_from: float  # share of the face, along the crack, that broke as a weak plane before overload took over
    relief: ReliefLooks
    surface: Surface
    terraces: Terraces
    soil: Soil
    behind: Behind
    lighting: Lighting
    optics: Optics
    camera: Camera


def _plan(rng: np.random.Generator, largest_mm: float) -> tuple[Plan, float]:
    """Draw sections until one takes at least one wall and leaves a sensible part."""
    while True:
        kind = str(rng.choice(list(MAKERS)))
        section = MAKERS[kind](rng, float(rng.uniform(5.5, largest_mm)))
        w = float(rng.choice([0.35, 0.4, 0.42, 0.45, 0.48, 0.5, 0.6, 0.7, 0.8]))
        h = float(rng.choice([v for v in (0.1, 0.12, 0.15, 0.2, 0.25, 0.28, 0.3) if v <= 0.65 * w]))
        spacing = w if rng.random() < 0.5 else w - h * (1 - np.pi / 4)
        density = 1.0 if rng.random() < 0.65 else float(rng.choice([0.15, 0.2, 0.25, 0.35, 0.5, 0.7]))
        try:
            return make_plan(section, w, float(spacing), int(rng.integers(2, 6)), density), h
        except ValueError:
            continue


def _mode(rng: np.random.Generator, primary: str) -> tuple[str | None, str, float, float]:
    """Return the secondary label, gap pattern, bond target and where overload begins (1 = nowhere)."""
    second: str | None = None
    if rng.random() < 0.25:
        second = str(rng.choice([m for m in MODES if m != primary]))
    labels = {primary, second}
    pattern = "none"
    if "under_extrusion" in labels:
        pattern = str(rng.choice(["scattered", "cluster", "cluster_mate", "seam_all"]))
    elif primary == "layer_delamination" and rng.random() < 0.35:
        pattern = "incidental"
    target, start = float(rng.uniform(0.04, 0.5)), 1.0
    if primary == "under_extrusion":
        target = float(rng.uniform(0.15, 0.4) if second == "layer_delamination" else rng.uniform(0.4, 0.85))
    if primary == "overload":
        target, start = float(rng.uniform(0.86, 0.98)), float(rng.uniform(0.0, 0.6))
    elif second == "overload":
        target, start = float(rng.uniform(0.35, 0.65)), float(rng.uniform(0.5, 0.8))
    return second, pattern, target, start


def _weld(rng: np.random.Generator, target: float) -> WeldLooks:
    u = rng.uniform
    return WeldLooks(
        target=target, low=float(u(0.3, 1.5)), low_scale_mm=float(u(1.0, 5.0)), gradient=float(u(0, 1.6)),
        gradient_rad=float(u(0, 6.28)), road=float(u(0.1, 0.8)), along=float(u(0.3, 1.2)), along_scale=float(u(2, 8)),
        cross=float(u(0, 0.7)), ragged=float(u(0.25, 0.8)), ragged_mm=float(np.exp(u(np.log(0.1), np.log(0.3)))),
        fray=float(u(0.0, 0.15)), edge=float(u(0.4, 2.6)),
    )  # fmt: skip


def _relief(rng: np.random.Generator, crack: float) -> ReliefLooks:
    u = rng.uniform
    torn, grain = (float(np.exp(u(np.log(a), np.log(b)))) for a, b in ((0.025, 0.15), (0.025, 0.1)))
    return ReliefLooks(
        crown=float(u(0.3, 0.6)), power=float(u(2.0, 3.2)), pressed_power=float(u(3.0, 9.0)), drag=float(u(0.0, 0.05)),
        bumps=float(u(0.0, 0.05)), imprint=float(u(0.0, 0.12) * (rng.random() < 0.6)),
        torn_mm=torn * float(u(0.04, 0.16)), torn_scale_mm=torn,
        grain_mm=grain * float(u(0.0, 0.05)), grain_scale_mm=grain, pits_mm=float(u(0.0, 0.02) * (rng.random() < 0.5)),
        fibril=float(u(0.0, 0.7)), crack_rad=crack, lip_mm=float(u(0.0, 0.02)),
        hackle_mm=float(u(0.015, 0.06)), hackle_scale_mm=float(u(0.25, 0.9)),
    )  # fmt: skip


def _camera(rng: np.random.Generator, plan: Plan, width: int, height: int, profile: str) -> Camera:
    """Frame the whole face with a margin; the scale is what the frame then asks for, at least 6 um per px."""
    turn = float(rng.uniform(-180, 180)) if rng.random() < 0.7 else float(rng.normal(0, 12))
    r = np.deg2rad(turn)
    p = plan.section.outer_mm @ np.array([[np.cos(r), np.sin(r)], [-np.sin(r), np.cos(r)]])
    size = p.max(0) - p.min(0)
    fill = float(rng.uniform(0.65, 0.94))
    um = max(6.0, 1000 * float(max(size[0] / width, size[1] / height)) / fill)
    slack = (np.array([width, height]) - size * 1000 / um) / 2 * 0.6
    mid = (p.max(0) + p.min(0)) / 2 * 1000 / um
    off = rng.uniform(-1, 1, 2) * np.maximum(slack, 0) - mid
    k = 0.5 if profile == "easy" else 1.0
    tilt = rng.normal(0, 0.01 * k, 2)
    offset, keystone = (float(off[0]), float(off[1])), (float(tilt[0]), float(tilt[1]))
    return Camera(width, height, um, turn, offset, keystone, float(rng.normal(0, 0.008 * k)))


def _terraces(rng: np.random.Generator, overload: bool) -> Terraces:
    count = int(rng.choice([1, 2, 3, 4], p=[0.6, 0.25, 0.1, 0.05]))
    shares = rng.dirichlet(np.full(count, 4.0)) if count > 1 else np.ones(1)
    return Terraces(
        shares=tuple(float(v) for v in shares),
        direction_rad=float(rng.uniform(0, 2 * np.pi)),
        block=bool(rng.random() < 0.5),
        # a tough break climbs from plane to plane over a broad torn slope
        ramp_mm=float(rng.uniform(0.1, 0.7) if overload else rng.uniform(0.04, 0.25)),
        wave_mm=float(rng.uniform(0.3, 1.6)),
        ragged_mm=float(rng.uniform(0.0, 0.25)),
    )


def _soil(rng: np.random.Generator, profile: str) -> Soil:
    k = PROFILES.index(profile)
    greasy = rng.random() < (0.05, 0.3, 0.7)[k]
    return Soil(
        grease_cover=float(rng.uniform(0.02, 0.16)) if greasy else 0.0,
        grease_dark=float(rng.uniform(0.15, 1.0)),
        glare=bool(rng.random() < (0.0, 0.08, 0.12)[k]),
        dust=int(rng.integers(0, (5, 30, 70)[k])),
        lint=int(rng.integers(0, (1, 3, 5)[k])),
    )


def _surface(rng: np.random.Generator) -> Surface:
    return Surface(
        speckle=float(rng.uniform(0.15, 0.7)),
        spill=float(rng.uniform(0.1, 1.0)),
        glints=float(rng.uniform(0.0, 1.5) * (rng.random() < 0.5)),
        pressed_rough=float(rng.normal(0, 0.06)),
        pressed_tone=float(rng.normal(0, 0.04)),
    )


def _road_looks(rng: np.random.Generator) -> dict[str, float]:
    """Lateral wobble (line widths), overlap of raster and wall, whether the raster turns, swings of the width."""
    return {
        "wobble": float(rng.uniform(0, 0.04)),
        "overlap": float(rng.uniform(0.1, 0.5)),
        "turns": float(rng.random() < 0.7),
        "swing": float(rng.uniform(0.0, 0.05)),
        "road_swing": float(rng.uniform(0.0, 0.03)),
    }


def sample_spec(seed: int, width: int, height: int) -> Spec:
    """Draw the whole description of face number `seed`."""
    rng = np.random.default_rng([seed, 0])
    profile = str(rng.choice(PROFILES, p=[0.3, 0.4, 0.3]))
    primary = str(rng.choice(MODES))
    second, pattern, target, start = _mode(rng, primary)
    # small pictures hold small parts, so that a road is as many px wide as in large ones
    plan, h = _plan(rng, float(np.clip(width / 100, 6.5, 15)))
    filament = sample_filament(rng)
    lighting = sample_lighting(rng, str(rng.choice(LIGHTS, p=[0.4, 0.25, 0.17, 0.18])))
    kinds = [b for b in BACKDROPS if b != "same_part"] if profile == "easy" else [*BACKDROPS, "same_part"]
    return Spec(
        seed=seed,
        profile=profile,
        primary=primary,
        secondary=second,
        filament=filament,
        plan=plan,
        layer_height_mm=h,
        # the pressed flat of a road w wide and h high with half-round sides is w - h wide
        contact_fraction=float(np.clip(1 - h / plan.line_width_mm + rng.normal(0, 0.08), 0.5, 0.85)),
        raster_deg=float(rng.choice([45.0, 0.0, 90.0, 135.0, rng.uniform(0, 180)])),
        road_looks=_road_looks(rng),
        gap_pattern=pattern,
        defects=plan_defects(rng, plan, pattern),
        weld=_weld(rng, target),
        overload_from=start,
        relief=_relief(rng, float(rng.uniform(0, 2 * np.pi))),
        surface=_surface(rng),
        terraces=_terraces(rng, start < 0.7),
        soil=_soil(rng, profile),
        behind=Behind(str(rng.choice(kinds)), filament, h, lighting, float(rng.uniform(0.6, 4.0))),
        lighting=lighting,
        optics=sample_optics(rng, profile),
        camera=_camera(rng, plan, width, height, profile),
    )
