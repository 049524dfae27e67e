"""From what was seen to decibans per mode, with groups kept from counting the same thing twice.

Rule for groups. Within a group the observations are taken from the strongest to the weakest (by the spread of
their weights over the modes). The strongest counts fully. Each further one is multiplied, for every stronger one
before it, by 1 - (1 - q) * max(0, c), where c is the cosine between the two profiles (weights with their mean over
the modes taken off) and q the setting `repeat_share`. So a second sight that says exactly the same counts a
fraction q, a third q², and however many are added they never reach 1 / (1 - q) of the strongest alone; a sight
that says something else, or the contrary, counts fully and is not silenced. Why: whitening, bonded share and torn
roads are three looks at the same weld, not three independent witnesses; adding their logarithms would treat them
as such and make the verdict surer than the evidence. Between groups independence is assumed, and said.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from analysis.evidence.catalogue import MODES, Catalogue, Observation, weights_from
from analysis.evidence.clashes import BELIEVED, doubted
from analysis.evidence.observations import ObservationRefused, Seen


@dataclass(frozen=True)
class Weighed:
    """One observation with its weights: `own_db` as if alone, `weights_db` after the group's discount."""

    seen: Seen
    observation: Observation
    own_db: Mapping[str, float]
    factor: float
    is_doubted: bool = False  # stands against another answer that rules it out, so counts half

    @property
    def weights_db(self) -> dict[str, float]:
        """Weight for each mode that counts in the sum, dB against the common reference."""
        return {mode: self.factor * self.own_db[mode] for mode in MODES}


def weigh_each(seen: Sequence[Seen], catalogue: Catalogue) -> list[Weighed]:
    """Weights of every observation, in the order given, discounted within groups.

    Raises ObservationRefused when an observation is not in the catalogue.
    """
    in_clash = doubted(seen, catalogue)
    own = [_own_weights(entry, catalogue, BELIEVED if _is_in(entry, in_clash) else 1.0) for entry in seen]
    factors = [1.0] * len(own)
    groups: dict[str, list[int]] = {}
    for place, entry in enumerate(seen):
        groups.setdefault(catalogue.observations[entry.code].group, []).append(place)
    for places in groups.values():
        places.sort(key=lambda i: (-_spread(own[i]), seen[i].code, seen[i].answer))
        for rank, place in enumerate(places):
            stronger = (own[other] for other in places[:rank])
            factors[place] = discount(own[place], stronger, catalogue.settings["repeat_share"])
    return [
        Weighed(entry, catalogue.observations[entry.code], weights, factor, _is_in(entry, in_clash))
        for entry, weights, factor in zip(seen, own, factors, strict=True)
    ]


def discount(profile: Mapping[str, float], stronger: Iterable[Mapping[str, float]], repeat: float) -> float:
    """Share of its weight that an observation keeps after the stronger ones of its group (0..1)."""
    factor = 1.0
    for other in stronger:
        factor *= 1.0 - (1.0 - repeat) * max(0.0, _alike(profile, other))
    return factor


def _is_in(seen: Seen, in_clash: frozenset[str]) -> bool:
    return seen.answer == "yes" and seen.code in in_clash


def _own_weights(seen: Seen, catalogue: Catalogue, believed: float) -> dict[str, float]:
    observation = catalogue.observations.get(seen.code)
    if observation is None:
        raise ObservationRefused(f"{seen.code!r} is not in the catalogue; take a code from the list of observations")
    if seen.answer == "cant_tell":
        return dict.fromkeys(MODES, 0.0)
    likelihood = _likelihood(seen, observation)
    if not seen.shares:
        # A doubtful answer is one that may as well not have been given: mix with the reference, which weighs 0.
        mean, strength = sum(likelihood.values()) / len(MODES), seen.strength * believed
        likelihood = {m: strength * p + (1.0 - strength) * mean for m, p in likelihood.items()}
    return weights_from(likelihood)


def _likelihood(seen: Seen, observation: Observation) -> dict[str, float]:
    if observation.kind == "answer":
        place = observation.bins.index(seen.answer)
        return {mode: observation.likelihood[mode][place] for mode in MODES}
    if seen.answer != "yes" or len(seen.shares) != len(observation.bins):
        count = len(observation.bins)
        raise ObservationRefused(f"{seen.code} is a measure: give the share of each of its {count} ranges")
    return {
        mode: sum(share * p for share, p in zip(seen.shares, observation.likelihood[mode], strict=True))
        for mode in MODES
    }


def _spread(profile: Mapping[str, float]) -> float:
    return max(profile.values()) - min(profile.values())


def _alike(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    """Cosine between two profiles with their means taken off, so that the common reference plays no part."""
    a, b = _centred(one), _centred(other)
    size = math.sqrt(sum(x * x for x in a) * sum(y * y for y in b))
    return sum(x * y for x, y in zip(a, b, strict=True)) / size if size > 1e-12 else 0.0


def _centred(profile: Mapping[str, float]) -> list[float]:
    mean = sum(profile.values()) / len(profile)
    return [value - mean for value in profile.values()]
