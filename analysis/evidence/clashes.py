"""Answers that can't both be true of one break: named at once, and neither believed more than half."""

from collections.abc import Sequence
from dataclasses import dataclass

from analysis.evidence.catalogue import Catalogue
from analysis.evidence.observations import Seen

# At most one of two answers that exclude each other is true; which one is not known. Judgement.
BELIEVED = 0.5


@dataclass(frozen=True)
class Clash:
    """Two observations that were both answered with yes, though one rules the other out."""

    codes: tuple[str, str]
    words: str

    def to_json(self) -> dict[str, object]:
        """As shown beside both questions and on the verdict."""
        return {"codes": list(self.codes), "words": self.words}


def clashes(seen: Sequence[Seen], catalogue: Catalogue) -> list[Clash]:
    """Every pair that excludes each other and was seen, in the order of the catalogue."""
    said = {entry.code for entry in seen if entry.answer == "yes"}
    return [
        Clash((entry.code, other), _words(entry.words, catalogue.observations[other].words))
        for entry in catalogue.observations.values()
        for other in entry.excludes
        if entry.code in said and other in said
    ]


def doubted(seen: Sequence[Seen], catalogue: Catalogue) -> frozenset[str]:
    """The codes that stand in a clash."""
    return frozenset(code for clash in clashes(seen, catalogue) for code in clash.codes)


def _words(one: str, other: str) -> str:
    return (
        f"“{one}” and “{other}” can't both be true of one break, yet both are answered with yes. Both answers are "
        "kept, and each counts half until one is changed or set to “can't tell”."
    )
