"""Contributing causes: what may have prepared the break, reported beside the modes and never instead of them."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.evidence.bayes import deciban
from analysis.evidence.catalogue import Catalogue, Observation
from analysis.evidence.observations import Seen
from analysis.evidence.words import graded


@dataclass(frozen=True)
class CausePart:
    """What one observation weighs for a cause, dB, and where it came from."""

    code: str
    words: str
    answer: str
    weight_db: float
    origin: str

    def to_json(self) -> dict[str, object]:
        """As shown below the cause."""
        told = {"code": self.code, "words": self.words, "answer": self.answer, "origin": self.origin}
        return {**told, "weight_db": round(self.weight_db, 1)}


@dataclass(frozen=True)
class RaisedCause:
    """A cause that the observations speak for or against, with its weight in decibans (presence over absence)."""

    code: str
    words: str
    parts: tuple[CausePart, ...]

    @property
    def weight_db(self) -> float:
        """The sum of its parts."""
        return sum(part.weight_db for part in self.parts)

    @property
    def raised_by(self) -> tuple[str, ...]:
        """The codes of its parts."""
        return tuple(part.code for part in self.parts)

    def to_json(self) -> dict[str, object]:
        """As shown beside the modes."""
        return {
            "code": self.code,
            "words": self.words,
            "weight_db": round(self.weight_db, 1),
            "grade": graded(self.weight_db),
            "raised_by": list(self.raised_by),
            "parts": [part.to_json() for part in self.parts],
        }


def weigh_causes(seen: Sequence[Seen], catalogue: Catalogue) -> list[RaisedCause]:
    """Every cause that an answer bears on, the heaviest first; `open_causes` lists the others.

    One code counts once per cause however often it was reported; the causes have no prior here, because nothing
    published says how common they are among broken printed parts.
    """
    found: dict[str, dict[str, CausePart]] = {}
    for entry in seen:
        observation = catalogue.observations[entry.code]
        for cause in observation.causes or {}:
            if entry.answer != "cant_tell":
                weight = _weight(entry, observation, cause)
                part = CausePart(entry.code, observation.words, entry.answer, weight, entry.origin)
                found.setdefault(cause, {})[entry.code] = part
    raised = [RaisedCause(code, catalogue.causes[code].words, tuple(parts.values())) for code, parts in found.items()]
    return sorted(raised, key=lambda cause: (-cause.weight_db, cause.code))


def open_causes(seen: Sequence[Seen], catalogue: Catalogue) -> list[dict[str, object]]:
    """The causes that nothing seen bears on, each with the questions that would."""
    weighed = {cause.code for cause in weigh_causes(seen, catalogue)}
    return [
        {
            "code": cause.code,
            "words": cause.words,
            "look": [entry.code for entry in catalogue.answers() if cause.code in (entry.causes or {})],
        }
        for cause in catalogue.causes.values()
        if cause.code not in weighed
    ]


def _weight(entry: Seen, observation: Observation, cause: str) -> float:
    present, absent = (observation.causes or {})[cause]
    if entry.answer == "no":
        present, absent = 1.0 - present, 1.0 - absent
    mean = (present + absent) / 2
    mixed = [entry.strength * p + (1.0 - entry.strength) * mean for p in (present, absent)]
    return deciban(mixed[0] / mixed[1])
