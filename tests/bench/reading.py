"""What a person would tell the program of a practice face, and the program's answer to it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from analysis.examine import ExamineRequest, examine
from analysis.measures import gaps
from analysis.training.fit_intervals import fold_of
from analysis.welds import bonding
from analysis.welds.network import load_networks
from analysis.welds.wall_network import load_wall_network


def known_of(folder: Path) -> dict[str, Any]:
    """What `input.json` tells: all that a person knows of the face."""
    known: dict[str, Any] = json.loads((folder / "input.json").read_text())
    return known


def measure(folder: Path, own_outline: bool = True, mate: Path | None = None) -> dict[str, Any] | None:
    """The result for one face, or None where it is refused; `mate` is another face's folder whose mate is given."""
    known, other = known_of(folder), known_of(mate or folder)
    outline = None
    if not own_outline:
        photo = json.loads((folder / "truth.json").read_text())["photo"]
        outline = {"outline_px": photo["outline_px"], "holes_px": photo["holes_px"]}
    try:
        return examine(
            ExamineRequest(
                photo=folder / known["photo"],
                um_per_px=known["um_per_px"],
                line_width_mm=known["line_width_mm"],
                layer_height_mm=known["layer_height_mm"],
                wall_count=known.get("wall_count") or None,
                contact_band_mm=known.get("contact_band_mm"),
                surface=known["surface"],
                mate=(mate or folder) / other["mate"] if other.get("mate") else None,
                mate_um_per_px=other.get("mate_um_per_px"),
                outline=outline,
            )
        ).result
    except ValueError as error:
        print(f"  {folder.name} refused: {error}")
        return None


def faces(folder: Path, surface: str | None = None) -> list[Path]:
    """Folders of faces, sorted by name; of one kind of surface where `surface` is given."""
    found = [path.parent for path in sorted(folder.glob("*/truth.json"))]
    return [path for path in found if surface in (None, known_of(path)["surface"])]


def fracture_faces(folder: Path) -> list[Path]:
    """Folders of fracture faces, sorted by name."""
    return faces(folder, "fracture")


def wrong_pairs(folders: list[Path]) -> Iterator[tuple[Path, Path]]:
    """Each face that has a mate, beside the next face whose mate is not its own."""
    mated = [path for path in folders if known_of(path).get("mate")]
    if len(mated) > 1:
        yield from zip(mated, [*mated[1:], mated[0]], strict=True)


def by_network(folders: list[Path], weights: Path | None) -> Iterator[list[Path]]:
    """The faces in groups; before each group the networks that never saw it are put in place.

    `weights` holds `fold0.npz`, `gaps0.npz` ... as `analysis.training` wrote them; None keeps the stored ones.
    """
    if weights is None:
        yield folders
        return
    folds = len(list(weights.glob("fold*.npz")))
    where = fold_of(folders, folds)
    for fold in range(folds):
        _use(bonding, "load_networks", load_networks(weights / f"fold{fold}.npz"))
        _use(gaps, "load_wall_network", load_wall_network(weights / f"gaps{fold}.npz"))
        yield [f for f in folders if where[f.name] == fold]


def _use(module: Any, loader: str, weights: Any) -> None:
    setattr(module, loader, lambda path: weights)
