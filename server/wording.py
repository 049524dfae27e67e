"""Codes that are stored and the words a person reads for them, in one table."""

from analysis.materials.coupons import GEOMETRIES
from analysis.materials.environments import WATERS, load_presets
from analysis.materials.fitness import FITS
from analysis.materials.library import STATUSES

CODES: dict[str, dict[str, str]] = {
    "material_kind": {
        "": "not known",
        "amorphous": "amorphous",
        "semicrystalline": "semicrystalline",
        "elastomer": "elastomer",
    },
    "chem_rating": {
        "": "not known",
        "ok": "no harm known",
        "cracks": "cracks under lasting stress",
        "swells": "swells",
        "weathers": "weathers",
        "hydrolyses": "broken down slowly",
        "attacked": "attacked",
    },
    "joining_kind": {
        "fields": "fields side by side that overlap: one larger picture",
        "focus": "a focus series from one place: one picture that is sharp all over, with heights",
    },
    "focus_order": {"highest": "the highest places", "deepest": "the deepest places"},
    "need": {"": "not known", "no": "no", "yes": "yes"},
    "coupon_geometry": {
        **{code: f"{words}, {width:g} × {thick:g} mm" for code, (words, width, thick) in GEOMETRIES.items()},
        "own": "another shape",
    },
    "coupon_orientation": {"upright": "upright: torn across layers", "flat": "flat: torn along roads"},
    "place": {"": "none of these", **{code: preset.words for code, preset in load_presets().items()}},
    "water": {"": "not said", **WATERS},
    "fit": dict(FITS),
    "source_status": dict(STATUSES),
    "access": {
        "": "not said",
        "easy": "easy to get at",
        "awkward": "awkward to get at",
        "hard": "hard to get at again",
    },
    "bends": {"": "not known", "yes": "bends it, mostly", "no": "pulls or shears it, mostly"},
    "outcome": {"open": "open", "holds": "holds so far", "damaged": "damaged", "failed": "broke again"},
    "fitness": {"fits": "fits", "marginal": "marginal", "doesnt_fit": "doesn't fit", "not_known": "not known"},
    "standing": {"locked": "no: it is locked", "free": "yes: it is free"},
    "room": {
        "dimension": "nothing: it only has to stay as it is",
        "inner corner": "a larger radius in an inner corner",
        "thickness": "a thicker section",
        "side": "a rib or gusset at a side",
        "through the layers": "a pin or screw through the layers",
    },
    "attachment": {"model": "model", "slicing": "slicing file", "other": "other file"},
    "fit_check": {"": "not checked", "works": "works", "binds": "binds", "flexes": "flexes", "rubs": "rubs"},
    "inspection": {
        "": "not done yet",
        "sound": "no damage seen",
        "worn": "worn",
        "damaged": "damaged",
        "failed": "failed",
    },
    "fragment": {"recovered": "recovered", "missing": "missing", "missing_before": "already missing before"},
    "sequence": {"unknown": "order can't be told", "first": "let go first", "later": "followed later"},
    "surface": {"fracture": "fracture face", "outer": "outer surface"},
    "treatment": {
        "dry_brush": "dry brush",
        "mild_detergent": "mild detergent in water",
        "dried": "dried",
        "other": "other",
    },
    "stage": {"as_found": "as found", "after_treatment": "after treatment"},
    "answer": {"yes": "yes", "no": "no", "cant_tell": "can't tell"},
    "asked": {"": "not looked at", "yes": "yes", "no": "no", "cant_tell": "can't tell"},
    "gap_cause": {
        "design": "design: the model has nothing there",
        "slicing": "slicing: the toolpath leaves it out",
        "extrusion": "extrusion: too little plastic came",
        "seam": "seam: a road begins or ends there",
        "torn_out": "torn out: it stayed on the other half",
        "cant_tell": "can't tell",
    },
    "load_action": {
        "": "choose",
        "pull": "pulls it straight off",
        "bend": "bends it over: pushes sideways at a distance",
        "slide": "slides it along the face",
        "push": "presses it on",
        "aslant": "at an angle that I give",
    },
    "weld_origin": {
        "": "choose",
        "table": "the material's table",
        "coupon": "own test bars",
        "judgement": "judgement",
    },
    "mode": {
        "layer_delamination": "layer delamination",
        "under_extrusion": "under-extrusion",
        "overload": "overload",
        "interference_rub": "interference rub",
        "undetermined": "undetermined",
    },
    "count_layout": {
        "throws": "the whole face, under a grid thrown anew",
        "patches": "a patch of the face",
    },
    "count": {
        "bonded": "bonded",
        "bare": "bare",
        "void": "void",
        "cant_tell": "can't tell",
        "on_boundary": "on the boundary",
    },
    "scale_method": {"points": "two points", "um_per_px": "µm per pixel", "roads": "counted roads"},
    "job": {
        "waiting": "waiting",
        "running": "measuring",
        "done": "done",
        "failed": "could not be measured",
        "cancelled": "cancelled",
    },
    "part_state": {
        "no_build": "not built yet",
        "built": "built, not fitted",
        "in_service": "in service",
        "failed": "failed",
        "removed": "removed",
    },
}


def words(code: str | None, kind: str) -> str:
    """Return what a person reads for `code` of `kind`; an unknown code is shown as it is."""
    return CODES[kind].get(code or "", code or "")


def choices(kind: str) -> list[tuple[str, str]]:
    """Return the codes of `kind` with their words, for a select."""
    return list(CODES[kind].items())
