"""Odds, decibans and bits over a set of modes that exclude one another.

A deciban is 10 log10 of a factor on the odds (Good's term; General Report on Tunny, sec. 21(g)).
"""

import math
from collections.abc import Iterable, Mapping, Sequence


def posterior(prior: Mapping[str, float], weights_db: Iterable[Mapping[str, float]]) -> dict[str, float]:
    """Probabilities after adding each observation's weights (dB) to the log of the prior, normalised to 1.

    The weights may stand against any common reference: a constant added to all modes cancels.
    """
    sums = {mode: 10.0 * math.log10(share) for mode, share in prior.items()}
    for weights in weights_db:
        for mode in sums:
            sums[mode] += weights[mode]
    top = max(sums.values())
    raw = {mode: 10.0 ** ((value - top) / 10.0) for mode, value in sums.items()}
    total = sum(raw.values())
    return {mode: value / total for mode, value in raw.items()}


def against_rest_db(prior: Mapping[str, float], weights_db: Mapping[str, float]) -> dict[str, float]:
    """Weight of evidence for each mode against the rest together, in decibans.

    The rest is mixed in the proportion of the prior, so adding this to the mode's prior log-odds gives its
    posterior log-odds exactly. Such weights of single observations do not add up exactly when there are more than
    two modes; they are for display, the sums per mode are for reckoning.
    """
    likelihood = {mode: 10.0 ** (value / 10.0) for mode, value in weights_db.items()}
    result = {}
    for mode in prior:
        others = [other for other in prior if other != mode]
        rest = sum(prior[o] * likelihood[o] for o in others) / sum(prior[o] for o in others)
        result[mode] = 10.0 * math.log10(likelihood[mode] / rest)
    return result


def deciban(factor: float) -> float:
    """10 log10 of a factor on the odds; the factor must be above 0."""
    return 10.0 * math.log10(factor)


def probability(odds_db: float) -> float:
    """Probability that belongs to odds given in decibans."""
    return 1.0 / (1.0 + math.pow(10.0, -odds_db / 10.0))


def entropy_bits(probabilities: Iterable[float]) -> float:
    """Shannon entropy in bits; a probability of 0 adds nothing."""
    return -sum(p * math.log2(p) for p in probabilities if p > 0)


def divergence_bits(after: Mapping[str, float], before: Mapping[str, float]) -> float:
    """Information gained in going from `before` to `after` (Kullback-Leibler), bits, never negative."""
    gained = sum(p * math.log2(p / before[mode]) for mode, p in after.items() if p > 0)
    return max(0.0, gained)


def expected_gain_bits(now: Mapping[str, float], likelihood: Mapping[str, Sequence[float]]) -> float:
    """Expected information of one further observation about the mode (mutual information), bits.

    Parameters
    ----------
    now : mapping
        Probability of each mode at present.
    likelihood : mapping
        For each mode P(outcome | mode) over the same outcomes, summing to 1.
    """
    gain = 0.0
    for outcome in range(len(next(iter(likelihood.values())))):
        joint = {mode: now[mode] * likelihood[mode][outcome] for mode in now}
        chance = sum(joint.values())
        if chance > 0:
            gain += chance * divergence_bits({mode: value / chance for mode, value in joint.items()}, now)
    return gain
