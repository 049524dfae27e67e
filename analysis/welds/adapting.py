"""A few marks move the whole reading: what this face's light and filament do to the reader is learned from them.

The reader's log odds of "bonded, given contact" are corrected by a plane in a few quantities: a constant (this face is
over- or under-read), the log odds themselves (the reader is too sure or too timid here), the main cues (on this
filament brightness means more, or less, than usual), and a bump around each mark. Each weight has a normal prior
about 0, so that without marks nothing moves and two marks move little but the constant; the weights are the likeliest
ones under prior and marks (Bayesian logistic regression, e.g. C. Bishop, Pattern Recognition and Machine Learning,
2006, 4.4-4.5, from memory). The priors' widths were chosen on rendered faces of the project that the network had
never seen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analysis.common.classes import BONDED, UNKNOWN
from analysis.roads.workview import Floats, Workview
from analysis.welds.bonding import BARE_P, BONDED_P, VOID_P, Reading
from analysis.welds.cues import spread_of
from analysis.welds.marks import Mark, disc

Rows = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Prior:
    """Standard deviations of the weights, and what a mark is worth.

    A mark counts as `worth` independent looks: the points under it are alike and say one thing together.
    """

    constant: float = 1.2
    slope: float = 0.1
    cue: float = 0.3
    bump: float = 1.0
    bump_roads: float = 1.5
    worth: float = 4.0


PRIOR = Prior()
CUES = ("light_road", "near_minus_field", "chroma_kept_near", "rough1_near")
_MOST_ODDS = 6.0  # log odds are cut off here: a reader is never surer than 400 to 1


@dataclass(frozen=True)
class Adaptation:
    """What the marks did.

    bonded, bare, off : marks that were used, and marks off the face. weights : by name, in log odds.
    disagreement : mean probability, 0 to 1, that the moved reading still gives to the opposite of what a mark says.
    """

    bonded: int
    bare: int
    off: int
    weights: dict[str, float]
    disagreement: float

    @property
    def count(self) -> int:
        """Marks that moved the reading."""
        return self.bonded + self.bare


def log_odds(reading: Reading) -> Floats:
    """Log odds of bonded given contact, (rows, cols)."""
    bonded, bare = reading.classes[..., BONDED_P], reading.classes[..., BARE_P]
    share = (bonded + 1e-4) / (bonded + bare + 2e-4)
    return np.asarray(np.clip(np.log(share / (1 - share)), -_MOST_ODDS, _MOST_ODDS), np.float32)


def adapt(
    view: Workview, reading: Reading, marks: Sequence[Mark], prior: Prior = PRIOR
) -> tuple[Reading, Adaptation | None]:
    """The reading with the marks taken in; untouched, and None, where no mark says bonded or bare.

    Marks that say "can't be told" move nothing here: they become zones (`marks.untold`).
    """
    telling = [mark for mark in marks if mark.code != UNKNOWN]
    if not telling:
        return reading, None
    discs = [disc(view, mark) for mark in telling]
    on_face = [k for k, one in enumerate(discs) if one.any()]
    if not on_face:
        return reading, Adaptation(0, 0, len(telling), {}, 0.0)
    used, places = [telling[k] for k in on_face], [discs[k] for k in on_face]
    reading = _with_contact(reading, np.logical_or.reduce(places))
    odds = log_odds(reading)
    names, planes, widths = _quantities(view, reading, odds, used, prior)
    contact = reading.classes[..., BONDED_P] + reading.classes[..., BARE_P] + 1e-3

    def under(values: Floats) -> Rows:
        return np.array([float((values[p] * contact[p]).sum() / contact[p].sum()) for p in places])

    says = np.array([1.0 if mark.code == BONDED else -1.0 for mark in used])
    rows, begun = np.stack([under(plane) for plane in planes], 1), under(odds)
    weights = likeliest(rows, begun, says, widths, prior.worth)
    moved = odds + sum(np.float32(w) * plane for w, plane in zip(weights, planes, strict=True))
    against = 1 / (1 + np.exp(says * (begun + rows @ weights)))
    found = Adaptation(
        bonded=int((says > 0).sum()),
        bare=int((says < 0).sum()),
        off=len(telling) - len(used),
        weights={name: float(w) for name, w in zip(names, weights, strict=False)},
        disagreement=float(against.mean()),
    )
    return _with_odds(reading, np.asarray(moved, np.float32)), found


def likeliest(rows: Rows, begun: Rows, says: Rows, widths: Rows, worth: float) -> Rows:
    """Weights w that maximise worth * sum log sigmoid(says (begun + rows w)) - sum (w / widths)^2 / 2.

    Parameters
    ----------
    rows : (marks, weights) quantities under each mark; begun : (marks,) log odds before.
    says : (marks,) 1 bonded, -1 bare; widths : (weights,) standard deviations of the prior.

    Returns
    -------
    (weights,) by Newton's method; the sum is concave, so there is one answer.
    """
    weights = np.zeros(rows.shape[1])
    precision = np.diag(1 / widths**2)
    for _ in range(50):
        wrong = 1 / (1 + np.exp(np.clip(says * (begun + rows @ weights), -50, 50)))
        slope = worth * rows.T @ (says * wrong) - weights / widths**2
        bend = worth * (rows.T * (wrong * (1 - wrong))) @ rows + precision
        step = np.linalg.solve(bend, slope)
        weights = weights + step * min(1.0, 2.0 / max(float(np.abs(step).max()), 1e-12))
        if float(np.abs(step).max()) < 1e-9:
            break
    return weights


def _quantities(
    view: Workview, reading: Reading, odds: Floats, used: Sequence[Mark], prior: Prior
) -> tuple[list[str], list[Floats], Rows]:
    """Names of the face-wide quantities, all quantities as maps, and the width of each one's prior."""
    contact = view.inside & (reading.classes[..., BONDED_P] + reading.classes[..., BARE_P] > 0.3)
    over = contact if contact.sum() > view.road_px**2 else view.inside
    names, planes, widths = ["constant"], [np.ones(view.inside.shape, np.float32)], [prior.constant]
    names.append("slope")
    planes.append(odds - float(np.median(odds[over])))
    widths.append(prior.slope)
    for name in CUES if reading.cues is not None else ():
        if name in reading.cues.names:  # type: ignore[union-attr]
            plane = reading.cues.plane(name)  # type: ignore[union-attr]
            middle, spread = spread_of(plane, over)
            names.append(name)
            planes.append(np.clip((plane - middle) / spread, -3, 3).astype(np.float32))
            widths.append(prior.cue)
    rows, cols = view.inside.shape
    row, col = np.ogrid[:rows, :cols]
    for mark in used:
        x, y = view.from_photo(np.array([mark.x_px, mark.y_px]))
        apart = ((col - x) ** 2 + (row - y) ** 2) / (prior.bump_roads * view.road_px) ** 2
        planes.append(np.exp(-apart / 2).astype(np.float32))
        widths.append(prior.bump)
    return names, planes, np.array(widths)


def _with_contact(reading: Reading, spoken: npt.NDArray[np.bool_]) -> Reading:
    """Under a mark that says bonded or bare there is a road: what was called missing is contact of either kind."""
    classes = reading.classes.copy()
    classes[spoken, BONDED_P] += classes[spoken, VOID_P] / 2
    classes[spoken, BARE_P] += classes[spoken, VOID_P] / 2
    classes[spoken, VOID_P] = 0
    return replace(reading, classes=classes)


def _with_odds(reading: Reading, odds: Floats) -> Reading:
    classes = reading.classes.copy()
    contact = classes[..., BONDED_P] + classes[..., BARE_P]
    share = 1 / (1 + np.exp(-np.clip(odds, -2 * _MOST_ODDS, 2 * _MOST_ODDS)))
    classes[..., BONDED_P], classes[..., BARE_P] = contact * share, contact * (1 - share)
    return replace(reading, classes=np.asarray(classes, np.float32))
