"""How probable it is that the load exceeds the capacity: as it was, and with the changes.

What is known is used: the part broke, so whatever the two ranges say alone, that load was more than that capacity.
Draws of load and capacity are weighed by it. The same load then meets the changed capacity.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.nextbuild.effects import Joint, capped
from analysis.strength.ranges import Range

DRAWS = 20_000
SEED = 20_25
_LEAST_BROKEN = 200  # draws in which it breaks; with fewer, the two ranges hardly allow what happened

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Baseline:
    """The broken face: what it could carry along the load, and the load, both in N as 90 % ranges."""

    capacity_n: Range
    load_n: Range


@dataclass(frozen=True)
class Outlook:
    """Probabilities that the load exceeds the capacity, before the break was known and after the changes.

    `capacity_n` is the 90 % range of the changed capacity given that it broke; `standard_error` that of the drawing.
    """

    before: float
    after: float
    capacity_n: tuple[float, float]
    standard_error: float
    note: str = ""


@dataclass(frozen=True)
class Draws:
    """Draws of a baseline that agree with the break; all plans of a part are judged on the same ones."""

    capacity_n: Floats
    load_n: Floats
    before: float
    note: str


def draw(baseline: Baseline, draws: int = DRAWS, seed: int = SEED) -> Draws:
    """Draw load and capacity and keep what agrees with its having broken.

    Where hardly any draw breaks, the ranges contradict the break: then the draws nearest to breaking are kept, and
    the note says that one of the ranges must be wrong.
    """
    rng = np.random.default_rng(seed)
    capacity = baseline.capacity_n.sample(rng, draws)
    load = baseline.load_n.sample(rng, draws)
    broke = load >= capacity
    before = float(broke.mean())
    note = ""
    if broke.sum() < _LEAST_BROKEN:
        broke = np.zeros(draws, bool)
        broke[np.argsort(capacity / load)[:_LEAST_BROKEN]] = True
        note = (
            "By its ranges this load would hardly have broken this face, yet it broke: the load was larger, the weld "
            "weaker or the place hotter than stated. Check them before relying on the figures."
        )
    return Draws(capacity[broke], load[broke], before, note)


def changed_capacity(drawn: Draws, joint: Joint, seed: int = SEED) -> Floats:
    """The draws' capacity in N with the changes; each term drawn by itself and held under its ceiling."""
    capacity = drawn.capacity_n.copy()
    for term in sorted(joint.terms):
        # One stream a term, so that a plan's other changes don't alter what this one draws.
        rng = np.random.default_rng([seed, sum(term.encode())])
        capacity *= np.minimum(joint.terms[term].sample(rng, len(capacity)), capped(term, joint.ceilings))
    return capacity


def look_ahead(drawn: Draws, joint: Joint) -> Outlook:
    """The outlook of one plan on the given draws."""
    capacity = changed_capacity(drawn, joint)
    after = float((drawn.load_n >= capacity).mean())
    low, high = np.quantile(capacity, [0.05, 0.95])
    error = float(np.sqrt(max(after * (1 - after), 1 / len(capacity)) / len(capacity)))
    return Outlook(drawn.before, after, (float(low), float(high)), error, drawn.note)
