"""What each point of the face is: bonded, bare contact, missing road, or no contact wanted, as probabilities."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.roads.walls import WallField
from analysis.roads.workview import Bools, Floats, Workview
from analysis.welds.cues import Cues, measure_cues
from analysis.welds.network import BONDING, load_networks, score

BONDED_P, BARE_P, VOID_P, OTHER_P = range(4)
_KEPT = 0.3  # judgement, from unseen practice faces: any share from 0 to 0.6 does as well


@dataclass(frozen=True)
class Reading:
    """Probabilities on the working grid, zero outside the face.

    classes : (rows, cols, 4) bonded, bare contact, missing road, no contact wanted; sum 1 on the face.
    hidden : (rows, cols) probability that a film of grease hides what is there.
    border : (rows, cols) probability of a step between two layers.
    own_chroma : strength of the filament's own colour, about 0 for grey, white and black.
    cues : what was read; None in a reading that was drawn.
    """

    classes: Floats
    hidden: Floats
    border: Floats
    own_chroma: float
    cues: Cues | None = None


def read_face(view: Workview, field: WallField, contact_band_mm: float, line_width_mm: float) -> Reading:
    """Judge every point of the face.

    Parameters
    ----------
    view, field : the face at working resolution and its wall roads.
    contact_band_mm, line_width_mm : nominal widths of the contact and of the road.
    """
    return judge(view, measure_cues(view, field, min(contact_band_mm / line_width_mm, 1.0)))


def judge(view: Workview, cues: Cues) -> Reading:
    """The stored networks' opinion of a face by its cues."""
    inside = view.inside
    points = cues.planes[inside]
    networks = load_networks(BONDING)
    if networks[0].cue_names != cues.names:
        raise RuntimeError("bonding_weights.npz was trained on other cues than analysis/welds/cues.py measures")
    everywhere = np.ones(len(points), bool)
    scores = np.mean([score(points, everywhere, n) for n in networks], axis=0)
    odds = np.exp(scores[:, :3] - scores[:, :3].max(1, keepdims=True))
    contact, missing, other = (odds / odds.sum(1, keepdims=True)).T
    contact, other = _by_place(contact, other, cues.plane("on_wall")[inside] > 0.5, cues.plane("band")[inside] > 0.5)
    bonded, hidden, step = (1 / (1 + np.exp(-scores[:, k])) for k in (3, 4, 5))
    classes = np.zeros((*inside.shape, 4), np.float32)
    classes[inside] = np.stack([contact * bonded, contact * (1 - bonded), missing, other], -1)
    maps = np.zeros((2, *inside.shape), np.float32)
    maps[0][inside], maps[1][inside] = hidden, step
    return Reading(classes, maps[0], maps[1], cues.own_chroma, cues)


def _by_place(contact: Floats, other: Floats, on_wall: Bools, in_band: Bools) -> tuple[Floats, Floats]:
    """Where walls lie the outline says what was to touch: nothing beside the contact band, nearly all of it inside.

    What the networks call "no contact" inside the band is a step between layers at most, and they call too much so.
    """
    moved = np.where(on_wall, np.where(in_band, _KEPT * other, -contact), 0).astype(np.float32)
    return contact + moved, other - moved
