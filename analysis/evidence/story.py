"""What broke it, what helped, and what was found besides: the verdict's findings as sentences.

Probabilities share out one whole among modes that exclude each other; real breaks can have two. So a mode stands
beside the primary one when the evidence of its own groups (the file's `marks`: the weld for delamination, missing
roads for under-extrusion, tearing for overload, contact for rubbing) weighs at least `contributing_db` for it
against the rest. Whether it then helped to break the part, or is a finding of its own that must be mended too, is
told by the mode's `ties`: marks on the fracture face lie where it broke, those of a contact may lie elsewhere.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.evidence.catalogue import MODES, Catalogue
from analysis.evidence.causes import RaisedCause
from analysis.evidence.observations import Seen
from analysis.evidence.weights import Weighed

SUBSTANTIAL_DB = 5.0  # Jeffreys' grades, as in words.py
SHARES = (
    (0.1, "a tenth"), (0.2, "a fifth"), (0.25, "a quarter"), (1 / 3, "a third"), (0.4, "two fifths"), (0.5, "half"),
    (0.6, "three fifths"), (2 / 3, "two thirds"), (0.75, "three quarters"), (0.8, "four fifths"), (0.9, "nine tenths"),
)  # fmt: skip


@dataclass(frozen=True)
class Finding:
    """A mode beside the primary one, with what shows it and how much that weighs."""

    code: str
    words: str
    because: str
    weight_db: float
    shown_by: tuple[str, ...]
    mend: str

    def to_json(self) -> dict[str, object]:
        """As shown beside the verdict."""
        return {
            "code": self.code,
            "words": self.words,
            "because": self.because,
            "weight_db": round(self.weight_db, 1),
            "shown_by": list(self.shown_by),
            "mend": self.mend or None,
        }


@dataclass(frozen=True)
class Line:
    """A weighed observation with its weight against the rest."""

    weighed: Weighed
    against_rest_db: Mapping[str, float]


def find_beside(primary: str | None, lines: Sequence[Line], book: Catalogue) -> tuple[list[Finding], list[Finding]]:
    """The modes that contributed and the incidental findings, the heaviest first.

    Without a primary mode nothing is incidental: which of the marks belong to the break is then the open question.
    """
    seen = {line.weighed.seen.code for line in lines if line.weighed.seen.answer == "yes"}
    contributing: list[Finding] = []
    incidental: list[Finding] = []
    for mode in MODES:
        own = own_marks(mode, lines, book)
        weight = sum(line.against_rest_db[mode] for line in own)
        if mode == primary or weight < book.settings["contributing_db"]:
            continue
        shown = [line for line in own if line.against_rest_db[mode] > 0]
        codes = tuple(line.weighed.seen.code for line in shown)
        told = book.told[mode]
        found = Finding(mode, book.modes[mode], because(mode, shown), weight, codes, told.mend)
        is_beside = bool(primary and told.ties and not seen & set(told.ties))
        (incidental if is_beside else contributing).append(found)
    return sorted(contributing, key=lambda f: -f.weight_db), sorted(incidental, key=lambda f: -f.weight_db)


def own_marks(mode: str, lines: Sequence[Line], book: Catalogue) -> list[Line]:
    """The lines of the groups that show the mode itself, the heaviest first."""
    own = [line for line in lines if line.weighed.observation.group in book.marks[mode]]
    return sorted(own, key=lambda line: -line.against_rest_db[mode])


def because(mode: str, lines: Sequence[Line]) -> str:
    """The clause after "because" that the heaviest telling line gives, "" where none has one.

    What was measured goes first: a share says more than a word.
    """
    telling = [line for line in lines if line.against_rest_db[mode] > 0]
    ordered = sorted(telling, key=lambda line: (line.weighed.seen.code not in MEASURED, -line.against_rest_db[mode]))
    return next((words for line in ordered if (words := _clause(mode, line))), "")


def tell(
    primary: str | None, lines: Sequence[Line], contributing: Sequence[Finding], causes: Sequence[RaisedCause],
    book: Catalogue,
) -> str | None:  # fmt: skip
    """One sentence: how it broke, because of what, and what had prepared it; None where no mode is named."""
    if primary is None:
        return None
    reasons = [because(primary, own_marks(primary, lines, book)), *(found.because for found in contributing)]
    told = list(dict.fromkeys(reason for reason in reasons if reason))
    head = book.told[primary].head
    sentence = f"{head}, because {_joined(told)}." if told else f"{head}."
    # A cause has no prior and mostly one witness, so it is told as what may be, and only from "substantial" on.
    may_be = [book.causes[cause.code].because for cause in causes if cause.weight_db >= SUBSTANTIAL_DB]
    return f"{sentence} It may be that {_joined(may_be)}." if may_be else sentence


def share_in_words(share: float) -> str:
    """A share as people say it: "about a third"; exact figures stand beside it."""
    if share < 0.05:
        return "hardly any"
    return "nearly all" if share > 0.95 else f"about {min(SHARES, key=lambda entry: abs(entry[0] - share))[1]}"


def _clause(mode: str, line: Line) -> str:
    seen, observation = line.weighed.seen, line.weighed.observation
    if seen.number is not None and seen.code in MEASURED:
        return MEASURED[seen.code](mode, seen)
    return observation.because if seen.answer == "yes" else ""


def _bonded(mode: str, seen: Seen) -> str:
    number = seen.number or 0.0
    if mode == "overload":
        return f"{share_in_words(number)} of the contact was joined"
    return f"{share_in_words(1.0 - number)} of the contact never became a weld"


def _touched(mode: str, seen: Seen) -> str:
    return f"{share_in_words(seen.number or 0.0)} of the contact was pressed flat and not joined"


def _missing(mode: str, seen: Seen) -> str:
    return f"{seen.number or 0.0:.0%} of the walls' length is missing"


def _longest(mode: str, seen: Seen) -> str:
    return f"a wall is missing over {seen.number or 0.0:.1f} mm"


def _rubbed(mode: str, seen: Seen) -> str:
    return f"{seen.number or 0.0:.1f} mm² of an outer surface is rubbed smooth"


MEASURED = {
    "bonded_contact": _bonded,
    "contact_touched": _touched,
    "wall_gap_share": _missing,
    "longest_gap": _longest,
    "rub_area": _rubbed,
}


def _joined(parts: Sequence[str]) -> str:
    return " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)
