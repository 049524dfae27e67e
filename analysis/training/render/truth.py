"""What is known exactly about a rendered face, under the practice faces' own names."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.training.render.defects import Stretch
from analysis.training.render.face import Face
from analysis.training.render.spec import Spec

Mask = NDArray[np.bool_]


def input_record(spec: Spec) -> dict[str, Any]:
    """Return what a user would know of the photo."""
    return {
        "photo": "photo.jpg",
        "um_per_px": spec.camera.um_per_px,
        "line_width_mm": spec.plan.line_width_mm,
        "layer_height_mm": spec.layer_height_mm,
        "colour": spec.filament.name,
        "surface": "fracture",
        "wall_count": spec.plan.wall_count,
        "contact_band_mm": round(spec.contact_fraction * spec.plan.line_width_mm, 4),
        "infill_density": spec.plan.density,
        "road_spacing_mm": round(spec.plan.spacing_mm, 5),
    }


def _px(spec: Spec, mm: NDArray[np.float64]) -> list[list[float]]:
    return [[round(float(a), 2), round(float(b), 2)] for a, b in spec.camera.to_px(mm)]


def _ends(s: Stretch) -> dict[str, float]:
    return {"start_mm": round(s.start_mm, 4), "end_mm": round(s.end_mm, 4)}


def _walls(spec: Spec) -> list[dict[str, Any]]:
    out = []
    for k, wall in enumerate(spec.plan.walls):
        mine = [g for g in spec.defects.gaps if g.wall == k]
        gaps = [{**_ends(g), "length_mm": round(g.length_mm, 4)} for g in mine]
        length = wall.length_mm
        mate = [_ends(g) for g in spec.defects.mate_gaps if g.wall == k]
        thin = [{**_ends(t), "width_loss": round(t.width_loss, 4)} for t in spec.defects.thin if t.wall == k]
        out.append(
            {
                "id": k,
                "contour": wall.contour,
                "index_from_contour": wall.index,
                "length_mm": round(length, 4),
                "continuity": round(1 - sum(g.length_mm for g in mine) / length, 4),
                "gaps": gaps,
                "largest_gap_mm": max((g["length_mm"] for g in gaps), default=0.0),
                "gaps_in_mating_face": mate,
                "thin_stretches": thin,
            }
        )
    return out


def _tags(spec: Spec) -> list[str]:
    tests = {
        "white_on_white": spec.filament.name == "white",
        "low_whitening_contrast": spec.filament.name == "natural",
        "filled_matte": spec.filament.name == "cf_black",
        "background_same_part": spec.behind.kind == "same_part",
        "grease": spec.soil.grease_cover > 0,
        "glare": spec.soil.glare,
        "oblique_light": spec.lighting.kind == "oblique",
        "soft_focus": spec.optics.blur_px > 1.3,
        "heavy_jpeg": spec.optics.jpeg_q < 65,
        "terraces": len(spec.terraces.shares) > 1,
        "sparse_infill": spec.plan.density < 1,
    }
    return [k for k, v in tests.items() if v]


def _ratio(part: float, whole: float) -> float | None:
    return round(part / whole, 4) if whole > 0 else None


def _photo(spec: Spec, face: Face, masks: dict[str, Mask], area: NDArray[np.float32]) -> dict[str, Any]:
    see = masks["face"] & ~masks["grease"]

    def mm2(mask: Mask) -> float:
        return float(area[mask].sum(dtype=np.float64))

    walls = []
    for k, wall in enumerate(spec.plan.walls):
        band = face.nominal & (face.walls == k + 1)
        walls.append(
            {
                "id": k,
                "start_px": _px(spec, wall.line_mm[:1])[0],
                "bonded_fraction_all": _ratio(mm2(face.bonded & band), mm2(band)),
                "bonded_fraction": _ratio(mm2(face.bonded & band & see), mm2(band & see)),
                "centreline_px": _px(spec, wall.line_mm[::6]),
            }
        )
    whole = mm2(face.inside)
    shares = [round(mm2(face.terrace == k + 1) / whole, 4) for k in range(len(spec.terraces.shares))]
    raster = [round((deg + spec.camera.rotation_deg) % 180, 2) for deg in face.raster_deg]
    return {
        "file": "photo.jpg",
        "um_per_px": spec.camera.um_per_px,
        "camera": spec.camera.to_json(),
        "lighting": spec.lighting.kind,
        "lights": [{"pos_mm": list(v.pos_mm), "intensity": v.intensity} for v in spec.lighting.lamps],
        "optics": vars(spec.optics),
        "face_area_mm2": round(whole, 4),
        "nominal_contact_mm2": round(mm2(face.nominal), 4),
        "bonded_mm2": round(mm2(face.bonded), 4),
        "void_mm2": round(mm2(face.void), 4),
        "greased_fraction_of_face": _ratio(mm2(masks["grease"]), whole),
        "bonded_area_fraction": _ratio(mm2(face.bonded & see), mm2(face.nominal & see)),
        "bonded_area_fraction_all": _ratio(mm2(face.bonded), mm2(face.nominal)),
        "outline_px": _px(spec, spec.plan.section.outer_mm),
        "holes_px": [_px(spec, r) for r in spec.plan.section.holes_mm],
        "terrace_area_share": shares,
        "raster_deg": raster,
        "walls": walls,
    }


def truth_record(spec: Spec, face: Face, masks: dict[str, Mask], area: NDArray[np.float32]) -> dict[str, Any]:
    """Return the truth of a face; areas by each pixel's own size on the part."""
    photo = _photo(spec, face, masks, area)
    walls = _walls(spec)
    return {
        "seed": spec.seed,
        "profile": spec.profile,
        "labels": {"primary": spec.primary, "secondary": spec.secondary},
        "colour": spec.filament.name,
        "shape": spec.plan.section.kind,
        "dims_mm": spec.plan.section.dims_mm,
        "line_width_mm": spec.plan.line_width_mm,
        "layer_height_mm": spec.layer_height_mm,
        "wall_count": spec.plan.wall_count,
        "road_spacing_mm": spec.plan.spacing_mm,
        "infill_density": spec.plan.density,
        "contact_fraction": round(spec.contact_fraction, 4),
        "terraces": len(spec.terraces.shares),
        "background": spec.behind.kind,
        "tags": _tags(spec),
        "bonded_area_fraction": photo["bonded_area_fraction"],
        "bonded_area_fraction_all": photo["bonded_area_fraction_all"],
        "photo": photo,
        "gap_pattern": spec.gap_pattern,
        "walls": walls,
        "largest_gap_mm": max((w["largest_gap_mm"] for w in walls), default=0.0),
        "terrace_area_share": photo["terrace_area_share"],
    }
