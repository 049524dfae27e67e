"""A simulated honest person: answers to what the program asks about a practice face, read off its truth.

Each rule names the truth fields that it follows from. The mode's label is never read. What the truth can't give (who
saw a blow, what it smelt of, what was bound before) is answered "can't tell"; so is a sight near the border of its
words, between the two limits of a rule.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from analysis.evidence.catalogue import load_catalogue
from analysis.evidence.next_look import next_looks
from analysis.evidence.observations import Answer, Seen

# All judgement, from the words of the questions.
RIM, RIM_HOLDS = 0.3, 0.7  # a rim: 70 % of what tore lies in the outermost 30 % of the contact, on one side
THIN_LOSS, LIKE = 0.3, 1.0  # a road is thin when it lost this share of its width; the same place: 1 mm in common


@dataclass(frozen=True)
class Sights:
    """What somebody with both halves in hand can see.

    `torn` : share of the contact that tore (`bonded_area_fraction_all`: a hand can wipe the grease off).
    `rim` : whether what tore lies along one edge (masks `bonded` and `nominal`).
    `planes` : `terraces`. `crossed` : whether steps between planes cut through roads (`spec.facets`), None unknown.
    `starved` : share of the walls' material that is lacking: missing on either half, or lost where the road on this
    one is thin (`gaps`, `gaps_in_mating_face`, `width_loss` of `thin_stretches`).
    `common_mm` : longest stretch missing on both halves, None where something is missing or thin but nothing in
    common: whether the mate's roads are thin there the truth doesn't say.
    """

    torn: float
    rim: bool
    planes: int
    crossed: bool | None
    starved: float
    common_mm: float | None


def sights_of(folder: Path) -> Sights:
    """Read the truth of one fracture face."""
    truth = json.loads((folder / "truth.json").read_text())
    starved, common = _starved(truth["walls"])
    return Sights(
        torn=truth["bonded_area_fraction_all"],
        rim=_rim(folder),
        planes=truth["terraces"],
        crossed=truth.get("spec", {}).get("facets"),
        starved=starved,
        common_mm=common,
    )


def _starved(walls: list[dict[str, Any]]) -> tuple[float, float | None]:
    lost, whole, common, any_gap = 0.0, 0.0, 0.0, False
    for wall in walls:
        grid = np.linspace(0, wall["length_mm"], 2000, endpoint=False)
        here, mate = (_covered(grid, wall["length_mm"], wall[key]) for key in ("gaps", "gaps_in_mating_face"))
        thin = np.zeros(len(grid))
        for one in wall["thin_stretches"]:
            if one["width_loss"] >= THIN_LOSS:
                thin[_covered(grid, wall["length_mm"], [one])] = one["width_loss"]
        step = wall["length_mm"] / len(grid)
        lost += float(np.where(here | mate, 1.0, thin).sum()) * step
        whole += wall["length_mm"]
        common = max(common, float((here & mate).sum()) * step)
        any_gap |= bool((here | mate | (thin > 0)).any())
    return lost / max(whole, 1e-9), common if common >= LIKE or not any_gap else None


def _covered(grid: np.ndarray, length: float, stretches: list[dict[str, float]]) -> np.ndarray:
    inside = np.zeros(len(grid), bool)
    for s in stretches:
        inside |= (grid - s["start_mm"]) % length < s["end_mm"] - s["start_mm"]
    return inside


def _rim(folder: Path) -> bool:
    torn, contact = (
        np.asarray(Image.open(folder / "masks" / f"{name}.png"))[::4, ::4] > 0 for name in ("bonded", "nominal")
    )
    contact |= torn
    if not torn.any():
        return False
    places = np.argwhere(contact).astype(float)
    tore = torn[contact]
    for angle in np.arange(0, 2 * np.pi, np.pi / 18):
        along = places @ [np.sin(angle), np.cos(angle)]
        if tore[along >= np.quantile(along, 1 - RIM)].sum() >= RIM_HOLDS * tore.sum():
            return True
    return False


def _between(value: float, no_up_to: float, yes_from: float) -> Answer:
    return "yes" if value >= yes_from else "no" if value <= no_up_to else "cant_tell"


def _patches(s: Sights) -> Answer:
    if s.rim or s.torn <= 0.1 or s.torn >= 0.8:
        return "no"
    return "yes" if 0.2 <= s.torn <= 0.65 else "cant_tell"


def _last_edge(s: Sights) -> Answer:
    return "yes" if s.rim and s.torn <= 0.5 else "no"


def _crossed(s: Sights) -> Answer:
    if s.planes == 1:
        return "no"  # the road is parted from the road below it, over the whole face
    return "cant_tell" if s.crossed is None else "yes" if s.crossed else "no"


def _mating_gaps(s: Sights) -> Answer:
    return "cant_tell" if s.common_mm is None else "yes" if s.common_mm >= LIKE else "no"


RULES: dict[str, Callable[[Sights], Answer]] = {
    "whitening_most": lambda s: _between(s.torn, 0.45, 0.55),
    "whitening_patches": _patches,
    "whitening_last_ligament": _last_edge,
    "bare_roads_both": lambda s: _between(1 - s.torn, 0.15, 0.35),
    "gaps_mate": _mating_gaps,
    "thin_roads": lambda s: _between(s.starved, 0.02, 0.05),
    "one_layer_plane": lambda s: "yes" if s.planes == 1 else "no",
    "several_planes": lambda s: "yes" if s.planes >= 2 else "no",
    "roads_crossed": _crossed,
}


def answer(code: str, sights: Sights) -> Answer:
    """What an honest person says to one question."""
    return RULES[code](sights) if code in RULES else "cant_tell"


def asked_and_answered(seen: list[Seen], sights: Sights, count: int, skip_unknown: bool) -> list[Seen]:
    """Answers to `count` questions, each the one that the program holds for most telling at that point.

    With `skip_unknown` a "can't tell" isn't counted and the next question is asked, until `count` were answered.
    """
    book = load_catalogue()
    given: list[Seen] = []
    counted = 0
    while counted < count:
        looks = next_looks([*seen, *given], book.prior, book, count=len(book.observations))
        look = next((one for one in looks if one.kind == "answer"), None)
        if look is None:
            break
        given.append(Seen(look.code, answer(look.code, sights)))
        counted += not (skip_unknown and given[-1].answer == "cant_tell")
    return given
