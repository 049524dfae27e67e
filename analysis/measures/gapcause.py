"""What left a gap in a wall? From what a person answers and what the photo shows to the cause it points to.

The order of the questions is common practice, no source: what the toolpath never wanted can't have been lost in
printing; what lies at the seam is the seam's; what stayed on the other half was printed and torn out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

CAUSES: Final = ("design", "slicing", "extrusion", "seam", "torn_out", "cant_tell")
QUESTIONS: Final = ("model", "toolpath", "seam", "walls", "layers", "outside")


@dataclass(frozen=True)
class Hint:
    """What the photo shows of one gap; None where it can't be told.

    beside : numbers of the neighbouring walls with a gap beside it, from 0. at_seam : one of its ends lies where gaps
    line up. whole_stretch : both of them do, on several walls. confirmed : share of it that the other half confirms.
    """

    beside: tuple[int, ...] = ()
    at_seam: bool = False
    whole_stretch: bool = False
    confirmed: float | None = None


@dataclass(frozen=True)
class Pointer:
    """The cause that answers and photo point to ("" for none) and why, as a sentence."""

    cause: str
    why: str


def confirmed_words(share: float | None) -> str:
    """Whether the other half confirms a gap: yes, no or can't tell, as a code; the likelier of the two."""
    return "cant_tell" if share is None else "yes" if share > 0.5 else "no"


def point_to(answers: Mapping[str, str], hint: Hint) -> Pointer:
    """The cause that is pointed to; an answer goes before what the photo shows.

    Parameters
    ----------
    answers : mapping
        By question: "yes", "no", "cant_tell"; what is not in it counts as not answered.
    hint : Hint
    """
    if answers.get("model") == "no":
        return Pointer("design", "The model has no material there.")
    if answers.get("toolpath") == "no":
        if answers.get("model") == "yes":
            return Pointer("slicing", "The model has material there, but the toolpath leaves it out.")
        return Pointer("", "The toolpath leaves it out: look whether the model has material there.")
    if answers.get("seam") == "yes":
        return Pointer("seam", "A road begins or ends there.")
    if "seam" not in answers and hint.at_seam and not hint.whole_stretch:
        return Pointer("seam", "Ends of gaps on several walls line up there, as at a seam.")
    if answers.get("toolpath") == "yes":
        return _printed(answers, hint)
    if hint.whole_stretch:
        return Pointer("", "The same stretch is missing on several walls: look whether the toolpath wants it.")
    if hint.confirmed is not None and hint.confirmed <= 0.5:
        return Pointer("", "The other half shows a torn road there: it may have been torn out, or misread.")
    return Pointer("", "Look first whether the toolpath wants a road there.")


def _printed(answers: Mapping[str, str], hint: Hint) -> Pointer:
    """The toolpath wanted it: was it never printed, or torn out?"""
    if hint.confirmed is not None and hint.confirmed <= 0.5:
        return Pointer("torn_out", "The toolpath wants it, and the other half shows a torn road there.")
    if "yes" in (answers.get("walls"), answers.get("layers"), answers.get("outside")) or hint.beside:
        return Pointer("extrusion", "The toolpath wants it, and it recurs beside: too little plastic came for a while.")
    return Pointer("extrusion", "The toolpath wants it, and it lies at no seam: the plastic failed to come there.")
