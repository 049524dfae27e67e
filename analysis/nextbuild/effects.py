"""What several changes together do to the capacity of the broken face.

The capacity is taken as weld x contact x section / notch, and a bypass carries beside it. Rules, all on the safe side:

- Changes on one term don't add up: hotter nozzle and less fan both lengthen the time above softening, and nobody has
  measured them together. The one with the larger median counts.
- Changes on different terms multiply, as independent factors.
- Contact can't exceed the whole: the factor on it stops at 1 / (bonded share of the contact).
- A weld can't exceed its own polymer: the factor on it stops at in-plane over interlayer strength.
- Turned on the bed, the layers no longer decide: changes of weld and contact count nothing beside it.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from analysis.nextbuild.catalogue import ChangeKind
from analysis.strength.ranges import Range

ONE = Range(1.0, 1.0)
_SHARED = ("weld", "contact", "section", "notch", "bypass", "orientation")


@dataclass(frozen=True)
class Candidate:
    """One change for one part: the kind, and the factor that it promises here; `detail` says which one it is."""

    kind: ChangeKind
    effect: Range | None
    detail: str = ""

    @property
    def words(self) -> str:
        """The change in words, with its detail."""
        return f"{self.kind.words}: {self.detail}" if self.detail else self.kind.words


@dataclass(frozen=True)
class Ceilings:
    """How far a term can rise at most; None where it is not known."""

    contact: float | None = None
    weld: float | None = None


@dataclass(frozen=True)
class Joint:
    """Several changes as one: the factor of each term, the ceilings that were met, and what was said of them."""

    terms: Mapping[str, Range]
    ceilings: Ceilings
    notes: tuple[str, ...] = field(default=())

    @property
    def factor(self) -> Range:
        """The product of all terms, without the ceilings."""
        product = ONE
        for factor in self.terms.values():
            product = product.times(factor)
        return product


def join(candidates: Sequence[Candidate], ceilings: Ceilings) -> Joint:
    """Factors per term of several changes, by the rules above."""
    notes: list[str] = []
    terms: dict[str, Range] = {}
    for term in _SHARED:
        acting = [one for one in candidates if one.kind.acts_on == term and one.effect is not None]
        if not acting:
            continue
        best = max(acting, key=_median)
        terms[term] = best.effect or ONE
        others = [one.words for one in acting if one is not best]
        if others:
            notes.append(f"{best.words} and {', '.join(others)} work on the same thing; only the stronger is counted.")
    if "orientation" in terms:
        dropped = [term for term in ("weld", "contact") if terms.pop(term, None) is not None]
        if dropped:
            notes.append("Turned on the bed, the layers no longer decide, so changes of the weld add nothing.")
    return Joint(terms, ceilings, tuple(notes))


def capped(term: str, ceilings: Ceilings) -> float:
    """The most that a term's factor can be; infinite where there is no known ceiling."""
    limit = {"contact": ceilings.contact, "weld": ceilings.weld}.get(term)
    return math.inf if limit is None else max(1.0, limit)


def _median(candidate: Candidate) -> float:
    return candidate.effect.median if candidate.effect else 0.0
