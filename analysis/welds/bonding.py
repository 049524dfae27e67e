"""What each point of the face is: bonded, bare contact, missing road, or no contact wanted, as probabilities."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.roads.walls import WallField
from analysis.roads.workview import Bools, Floats, Workview
from analysis.welds.cues import Cues, measure_cues
from analysis.welds.network import BONDING, Network, load_networks, score

BONDED_P, BARE_P, VOID_P, OTHER_P = range(4)
_NEARLY_ALL = 0.8  # bonded part of the contact; on unseen practice faces 0.75 to 0.85 do nearly alike
_KEPT = 0.3  # judgement, from unseen practice faces: any share from 0 to 0.6 does as well


@dataclass(frozen=True)
class Reading:
    """Probabilities on the working grid, zero outside the face.

    classes : (rows, cols, 4) bonded, bare contact, missing road, no contact wanted; sum 1 on the face.
    hidden : (rows, cols) probability that a film of grease hides what is there.
    border : (rows, cols) probability of a step between two layers.
    own_chroma : strength of the filament's own colour, about 0 for grey, white and black.
    cues : what was read; None in a reading that was drawn.
    apart : half the difference of first and second opinion in the bonded part of the contact.
    """

    classes: Floats
    hidden: Floats
    border: Floats
    own_chroma: float
    cues: Cues | None = None
    apart: float = 0.0


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
    points = cues.points(inside)
    networks = load_networks(BONDING)
    if networks[0].cue_names != cues.names:
        raise RuntimeError("bonding_weights.npz was trained on other cues than analysis/welds/cues.py measures")
    scores, apart = _opinions(points, networks)
    odds = np.exp(scores[:, :3] - scores[:, :3].max(1, keepdims=True))
    contact, missing, other = (odds / odds.sum(1, keepdims=True)).T
    contact, other = _by_place(contact, other, cues.plane("on_wall")[inside] > 0.5, cues.plane("band")[inside] > 0.5)
    bonded, hidden, step = (1 / (1 + np.exp(-scores[:, k])) for k in (3, 4, 5))
    classes = np.zeros((*inside.shape, 4), np.float32)
    classes[inside] = np.stack([contact * bonded, contact * (1 - bonded), missing, other], -1)
    maps = np.zeros((2, *inside.shape), np.float32)
    maps[0][inside], maps[1][inside] = hidden, step
    return Reading(classes, maps[0], maps[1], cues.own_chroma, cues, apart)


def _opinions(points: Floats, networks: Sequence[Network]) -> tuple[Floats, float]:
    """Scores (n, 6), and by how much of the contact first and second opinion differ (half their distance).

    The second opinion counts on whether a contact is bonded, and only where not nearly all of the face tore: it was
    trained on ragged tearing, tells mixed faces better and wholly torn ones worse.
    """
    everywhere = np.ones(len(points), bool)
    groups = [[score(points, everywhere, n) for n in networks if n.second is late] for late in (False, True)]
    scores = np.mean(groups[0], axis=0)
    if not groups[1]:
        return scores, 0.0
    other = np.mean(groups[1], axis=0)
    parts = _bonded_part(scores, scores[:, 3]), _bonded_part(scores, other[:, 3])
    if parts[0] <= _NEARLY_ALL:
        scores[:, 3] = (scores[:, 3] + other[:, 3]) / 2
    return scores, abs(parts[0] - parts[1]) / 2


def _bonded_part(scores: Floats, bonded: Floats) -> float:
    """Bonded over contact."""
    contact = np.exp(scores[:, 0] - np.logaddexp.reduce(scores[:, :3], axis=1))
    return float((contact / (1 + np.exp(-bonded))).sum() / max(float(contact.sum()), 1e-6))


def _by_place(contact: Floats, other: Floats, on_wall: Bools, in_band: Bools) -> tuple[Floats, Floats]:
    """Where walls lie the outline says what was to touch: nothing beside the contact band, nearly all of it inside.

    What the networks call "no contact" inside the band is a step between layers at most, and they call too much so.
    """
    moved = np.where(on_wall, np.where(in_band, _KEPT * other, -contact), 0).astype(np.float32)
    return contact + moved, other - moved
