"""Contributing causes: what may have prepared the break, reported beside the modes and never instead of them."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.evidence.bayes import deciban
from analysis.evidence.catalogue import Catalogue, Observation
from analysis.evidence.observations import Seen
from analysis.evidence.words import graded


@dataclass(frozen=True)
class RaisedCause:
    """A cause that the observations speak for or against, with its weight in decibans (presence over absence)."""

    code: str
    words: str
    weight_db: float
    raised_by: tuple[str, ...]

    def to_json(self) -> dict[str, object]:
        """As shown beside the modes."""
        return {
            "code": self.code,
            "words": self.words,
            "weight_db": round(self.weight_db, 1),
            "grade": graded(self.weight_db),
            "raised_by": list(self.raised_by),
        }


def weigh_causes(seen: Sequence[Seen], catalogue: Catalogue) -> list[RaisedCause]:
    """Every cause that an answer bears on, the heaviest first; an unasked cause is not listed.

    One code counts once per cause however often it was reported; the causes have no prior here, because nothing
    published says how common they are among broken printed parts.
    """
    weights: dict[str, dict[str, float]] = {}
    for entry in seen:
        observation = catalogue.observations[entry.code]
        for cause in observation.causes or {}:
            if entry.answer != "cant_tell":
                weights.setdefault(cause, {})[entry.code] = _weight(entry, observation, cause)
    raised = [
        RaisedCause(code, catalogue.causes[code].words, sum(parts.values()), tuple(parts))
        for code, parts in weights.items()
    ]
    return sorted(raised, key=lambda cause: (-cause.weight_db, cause.code))


def _weight(entry: Seen, observation: Observation, cause: str) -> float:
    present, absent = (observation.causes or {})[cause]
    if entry.answer == "no":
        present, absent = 1.0 - present, 1.0 - absent
    mean = (present + absent) / 2
    mixed = [entry.strength * p + (1.0 - entry.strength) * mean for p in (present, absent)]
    return deciban(mixed[0] / mixed[1])
