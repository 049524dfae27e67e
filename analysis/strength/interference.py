"""Strength-load interference: how probable it is that a load exceeded what could be carried.

Closed forms where load and strength are both normal or both lognormal; seeded draws otherwise. Then what is known
besides: the part stood its service until now, and now it broke.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from analysis.strength.ranges import Range, RangeRefused

Floats = NDArray[np.float64]
Draw = Callable[[np.random.Generator, int], Floats]


@dataclass(frozen=True)
class Chance:
    """A probability by draws, with its standard error."""

    p: float
    se: float


def exceeds_normal(load_mean: float, load_sd: float, strength_mean: float, strength_sd: float) -> float:
    """P(load > strength) of two independent normals, Φ((μL - μS) / √(σL² + σS²)).

    Raises
    ------
    RangeRefused
        A number is missing or a spread below 0.
    """
    numbers = (load_mean, load_sd, strength_mean, strength_sd)
    if not all(math.isfinite(value) for value in numbers) or min(load_sd, strength_sd) < 0:
        raise RangeRefused("Load and strength each need a mean and a spread that isn't below 0.")
    return _phi(load_mean - strength_mean, math.hypot(load_sd, strength_sd))


def exceeds_lognormal(load: Range, strength: Range) -> float:
    """P(load > strength) of two independent lognormals; equal and exactly known: 0, as it isn't exceeded."""
    return _phi(math.log(load.median) - math.log(strength.median), math.hypot(load.log_sd, strength.log_sd))


def lognormal_of(mean: float, variation: float) -> Range:
    """The lognormal with this mean and coefficient of variation, as its 90 % range."""
    if not (math.isfinite(mean) and math.isfinite(variation) and mean > 0 and variation >= 0):
        raise RangeRefused("A mean above 0 and a coefficient of variation that isn't below 0 are needed.")
    square = math.log1p(variation**2)
    return Range.around(mean * math.exp(-square / 2), math.sqrt(square))


def exceeds_by_draws(load: Draw, strength: Draw, n: int = 200_000, seed: int = 0) -> Chance:
    """P(load > strength) by `n` pairs of independent draws; the standard error is the binomial one."""
    rng = np.random.default_rng(seed)
    p = float(np.mean(load(rng, n) > strength(rng, n)))
    return Chance(p, math.sqrt(p * (1 - p) / n))


def exceeds_each(load: Range, capacity: Floats) -> Floats:
    """P(load > capacity) for each capacity in turn."""
    with np.errstate(divide="ignore"):
        away = math.log(load.median) - np.log(capacity)
    if load.log_sd == 0:
        return np.asarray((away > 0).astype(np.float64))
    return np.asarray(ndtr(away / load.log_sd))


def _phi(away: float, sd: float) -> float:
    return float(ndtr(away / sd)) if sd > 0 else float(away > 0)


@dataclass(frozen=True)
class Rivals:
    """What the break itself says of the loads and of the build, given that the part stood its service before.

    All are conditioned on what was stood. `broke` : chance for each load to exceed the face as built; `explains` :
    each load's share of the explanation, summing to 1; `whole_too` : for each load, the chance that it would have
    exceeded the fully bonded face too, given that it broke this one, None where it can't have broken it or there is
    no fully bonded face; `whole_too_mean` : the same over all loads by their shares. `effective_draws` : how many
    draws carry the answer, few where the service or the break was improbable.
    """

    broke: tuple[float, ...]
    explains: tuple[float, ...]
    whole_too: tuple[float | None, ...]
    whole_too_mean: float | None
    effective_draws: float


def rival_loads(broke: Floats, whole: Floats | None, stood: Floats, priors: Sequence[float]) -> Rivals | None:
    """Bayes' rule over loads and capacities, on common draws of the capacity.

    Parameters
    ----------
    broke, whole : (loads, draws)
        P(load > capacity) as built and fully bonded, draw by draw; None: there is no fully bonded face.
    stood : (loads, draws)
        P(it stood its service) with that capacity, under the supposition that the load of the row broke it.
    priors : (loads,) how probable each load was held before looking.

    Returns
    -------
    Rivals, or None where no load at all can have broken the face.
    """
    prior = np.asarray(priors, float) / float(np.sum(priors))
    joint = stood * broke
    lived = stood.mean(axis=1)
    event = joint.mean(axis=1)
    total = float(prior @ event)
    if not total > 0:
        return None
    # Of the same draw: a load that exceeds both exceeds the stronger of the two.
    both = None if whole is None else (stood * np.minimum(broke, whole)).mean(axis=1)
    weights = prior @ joint
    return Rivals(
        broke=tuple(float(e / s) if s > 0 else 0.0 for e, s in zip(event, lived, strict=True)),
        explains=tuple(float(v) for v in prior * event / total),
        whole_too=tuple(None if both is None or e <= 0 else float(both[i] / e) for i, e in enumerate(event)),
        whole_too_mean=None if both is None else float(prior @ both) / total,
        effective_draws=float(weights.sum() ** 2 / (weights**2).sum()),
    )
