"""Practice faces with their truth, laid out for training: parts of the cues, and what each point really is."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image
from scipy import ndimage

from analysis.bonding import face_level, log_lightness, own_colour, place_planes
from analysis.walls import find_walls
from analysis.workview import Floats, Workview, make_workview

# Never trained on: the tests score these four (four colours, all profiles and modes).
HELD_OUT = ("face_06", "face_12", "face_39", "face_47")

BONDED, BARE, MISSING, OTHER = range(4)


@dataclass(frozen=True)
class PracticeFace:
    """One photo with truth on the working grid.

    lightness (fine grid), chroma, own, place, inside: see `analysis.bonding`. kind: (rows, cols) the four classes.
    grease, border: (rows, cols) bool; border = within two points of a step between terraces.
    """

    name: str
    face: str
    facts: dict[str, Any]
    lightness: Floats
    chroma: Floats
    own: float
    place: Floats
    inside: npt.NDArray[np.bool_]
    kind: npt.NDArray[np.uint8]
    grease: npt.NDArray[np.bool_]
    border: npt.NDArray[np.bool_]
    band_share: float


def load_faces(folder: Path) -> list[PracticeFace]:
    """Every fracture face under `folder`, and every mating face as a face of its own."""
    faces = []
    for path in sorted(folder.glob("*/truth.json")):
        truth = json.loads(path.read_text())
        if "rub_patch_mm2" in truth or truth["labels"]["primary"] == "interference_rub":
            continue
        known = json.loads((path.parent / "input.json").read_text())
        faces.append(_load(path.parent, truth, known, mate=False))
        if "mate" in truth and (path.parent / "masks_mate").exists():
            faces.append(_load(path.parent, truth, known, mate=True))
    return faces


def view_of(folder: Path, truth: dict[str, Any], known: dict[str, Any], mate: bool) -> Workview:
    """The face at working resolution, by its true outline."""
    shot = truth["mate"] if mate else truth["photo"]
    srgb = np.asarray(Image.open(folder / known["mate" if mate else "photo"]).convert("RGB"))
    return make_workview(
        srgb,
        1.0,
        known["mate_um_per_px" if mate else "um_per_px"],
        known["line_width_mm"],
        np.array(shot["outline_px"]),
        [np.array(h) for h in shot["holes_px"]],
    )


def _load(folder: Path, truth: dict[str, Any], known: dict[str, Any], mate: bool) -> PracticeFace:
    view = view_of(folder, truth, known, mate)
    band_share = known["contact_band_mm"] / known["line_width_mm"]
    field = find_walls(view, known["wall_count"], view.road_px)
    masks = folder / ("masks_mate" if mate else "masks")
    read = lambda name: read_mask(masks / f"{name}.png", view)  # noqa: E731 - five masks, one folder
    kind = np.full(view.inside.shape, OTHER, np.uint8)
    kind[read("nominal") > 0] = BARE
    kind[read("void_here" if mate else "void") > 0] = MISSING
    kind[read("bonded") > 0] = BONDED
    terrace = read("terrace").astype(float)
    edge = ndimage.maximum_filter(terrace, 5) != ndimage.minimum_filter(np.where(terrace > 0, terrace, 99), 5)
    edge &= ndimage.binary_erosion(terrace > 0, iterations=3)
    chroma, own = own_colour(view)
    return PracticeFace(
        name=folder.name + ("m" if mate else ""),
        face=folder.name,
        facts={"profile": truth["profile"], "primary": truth["labels"]["primary"], "colour": truth["colour"]},
        lightness=log_lightness(view.fine, face_level(view)),
        chroma=chroma,
        own=own,
        place=place_planes(view, field, band_share),
        inside=view.inside,
        kind=kind,
        grease=read("grease") > 0,
        border=edge,
        band_share=band_share,
    )


def read_mask(path: Path, view: Workview) -> npt.NDArray[np.uint8]:
    """A truth mask at the working pixels' centres; zeros where there is no such mask."""
    rows, cols = view.inside.shape
    if not path.exists():
        return np.zeros((rows, cols), np.uint8)
    mask = np.asarray(Image.open(path))
    row, col = np.mgrid[:rows, :cols]
    xy = np.rint(view.to_photo(np.c_[col.ravel(), row.ravel()].astype(float))).astype(int)
    xy = np.clip(xy, 0, np.array(mask.shape[::-1]) - 1)
    return np.asarray(mask[xy[:, 1], xy[:, 0]].reshape(rows, cols), np.uint8)


def turned(face: PracticeFace, degrees: float, zoom: float) -> PracticeFace:
    """The same face turned and zoomed, on a grid that holds all of it."""
    rows, cols = face.inside.shape
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]) / zoom
    back = np.abs(np.linalg.inv(turn))
    size = np.ceil(back @ [rows, cols]).astype(int)
    size += size % 2

    def warp(values: npt.NDArray[Any], fine: int, order: int) -> npt.NDArray[Any]:
        shape = tuple(size * fine)
        middle = (np.array(values.shape[:2]) - 1) / 2
        offset = middle - turn @ ((np.array(shape) - 1) / 2)
        if values.ndim == 3:
            return np.stack([warp(values[..., k], fine, order) for k in range(values.shape[2])], -1)
        if values.dtype == bool:
            return warp(values.astype(np.uint8), fine, order) > 0
        fill = "nearest" if fine > 1 or order else "constant"
        return ndimage.affine_transform(values, turn, offset, shape, order=order, mode=fill)

    inside = warp(face.inside, 1, 0)
    return replace(
        face,
        lightness=warp(face.lightness, 2, 1).astype(np.float32),
        chroma=warp(face.chroma, 1, 1).astype(np.float32),
        place=warp(face.place, 1, 1).astype(np.float32),
        inside=inside,
        kind=np.where(inside, warp(face.kind, 1, 0), OTHER).astype(np.uint8),
        grease=warp(face.grease, 1, 0),
        border=warp(face.border, 1, 0),
    )
