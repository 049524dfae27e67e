"""The verdict: prior plus weights of evidence, as sure as the evidence and no surer."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from analysis.evidence.bayes import against_rest_db, posterior
from analysis.evidence.catalogue import MODES, Catalogue, check_prior, load_catalogue
from analysis.evidence.causes import RaisedCause, open_causes, weigh_causes
from analysis.evidence.cautions import cautions
from analysis.evidence.clashes import Clash, clashes
from analysis.evidence.next_look import Look, next_looks
from analysis.evidence.observations import Seen
from analysis.evidence.story import Finding, Line, find_beside, tell
from analysis.evidence.weights import weigh_each
from analysis.evidence.words import SCALE_NAME, grade, share_words

__all__ = ["MODES", "UNDETERMINED", "Contribution", "Verdict", "cautions", "leave_one_out", "weigh"]

UNDETERMINED = "undetermined"


@dataclass(frozen=True)
class Contribution(Line):
    """One line of the reckoning; `against_rest_db` is for display, `weighed.weights_db` is what is summed."""

    def to_json(self) -> dict[str, Any]:
        """Everything a page needs to show the line and to lead to where it came from."""
        seen, entry = self.weighed.seen, self.weighed.observation
        return {
            "code": entry.code,
            "words": entry.words,
            "answer": seen.answer,
            "value": seen.value or None,
            "strength": round(seen.strength, 3),
            "group": entry.group,
            "group_factor": round(self.weighed.factor, 3),
            "counts_half": self.weighed.is_doubted,
            "weights_db": _rounded(self.weighed.weights_db, 2),
            "against_rest_db": _rounded(self.against_rest_db, 2),
            "reason": entry.reason,
            "source": entry.source,
            "source_status": entry.status,
            "origin": seen.origin,
            "note": seen.note,
        }


@dataclass(frozen=True)
class Verdict:
    """What the evidence says about one break.

    `weight_db` is each mode's weight against the rest from the evidence alone, the prior left out. `primary` is a
    mode or "undetermined", and then `undetermined_because` says why. `leading` is the most probable mode, whether
    or not it was enough. `contributing` helped to break it, `incidental` did not and is to be mended all the same.
    """

    primary: str
    leading: str
    probabilities: Mapping[str, float]
    weight_db: Mapping[str, float]
    beside: tuple[Finding, ...]
    incidental: tuple[Finding, ...]
    contributions: tuple[Contribution, ...]
    causes: tuple[RaisedCause, ...]
    open_causes: tuple[Mapping[str, object], ...]
    clashes: tuple[Clash, ...]
    words: str
    sentence: str | None
    undetermined_because: str | None
    next_look: Look | None
    prior: Mapping[str, float]
    bar: float

    @property
    def contributing(self) -> tuple[str, ...]:
        """The modes that contributed, by code."""
        return tuple(found.code for found in self.beside)

    def to_json(self) -> dict[str, Any]:
        """The verdict as plain JSON values."""
        return {
            "primary": self.primary,
            "probabilities": _rounded(self.probabilities, 4),
            "sentence": self.sentence,
            "contributing": list(self.contributing),
            "contributing_because": [found.to_json() for found in self.beside],
            "incidental": [found.to_json() for found in self.incidental],
            "contributions": [entry.to_json() for entry in self.contributions],
            "weight_db": _rounded(self.weight_db, 2),
            "causes": [cause.to_json() for cause in self.causes],
            "open_causes": [dict(cause) for cause in self.open_causes],
            "clashes": [clash.to_json() for clash in self.clashes],
            "words": self.words,
            "undetermined_because": self.undetermined_because,
            "next_look": self.next_look.to_json() if self.next_look else None,
            "prior": _rounded(self.prior, 4),
            "bar": self.bar,
        }

    def evidence_json(self) -> list[dict[str, Any]]:
        """The short evidence list that goes beside a measurement."""
        return [
            {
                "observation": line["code"],
                "value": line["value"] or line["answer"],
                "weights_db": line["weights_db"],
                "source": line["source"],
            }
            for line in (entry.to_json() for entry in self.contributions)
        ]


def weigh(
    seen: Sequence[Seen],
    prior: Mapping[str, float] | None = None,
    catalogue: Catalogue | None = None,
    bar: float | None = None,
) -> Verdict:
    """Weigh observations into a verdict; pure, so that a caller can leave one out and call again.

    Parameters
    ----------
    seen : sequence of Seen
        Answers and measures, from one face or several of the same break.
    prior : mapping, optional
        Share of each mode before anything was seen; scaled to sum 1. The catalogue's by default.
    catalogue : Catalogue, optional
        The one that ships with the program by default.
    bar : float, optional
        The least probability of a primary mode (the setting `bar`, 0.6).

    Raises
    ------
    CatalogueError
        The prior lacks a mode or has a share of 0 or less.
    ObservationRefused
        An observation is not in the catalogue or does not fit its kind.
    """
    book = catalogue or load_catalogue()
    shares = check_prior(prior) if prior is not None else dict(book.prior)
    limit = book.settings["bar"] if bar is None else bar
    weighed = weigh_each(seen, book)
    lines = tuple(Contribution(w, against_rest_db(shares, w.weights_db)) for w in weighed)
    sums = {mode: sum(w.weights_db[mode] for w in weighed) for mode in MODES}
    probabilities = posterior(shares, [sums])
    weight = against_rest_db(shares, sums)
    leading = max(MODES, key=lambda mode: probabilities[mode])
    because = _undetermined(leading, probabilities[leading], weight[leading], lines, book, limit)
    primary = None if because else leading
    beside, incidental = find_beside(primary, lines, book)
    causes = tuple(weigh_causes(seen, book))
    looks = next_looks(seen, shares, book, count=1)
    return Verdict(
        primary=primary or UNDETERMINED,
        leading=leading,
        probabilities=probabilities,
        weight_db=weight,
        beside=tuple(beside),
        incidental=tuple(incidental),
        contributions=lines,
        causes=causes,
        open_causes=tuple(open_causes(seen, book)),
        clashes=tuple(clashes(seen, book)),
        words=_words(leading, probabilities[leading], weight[leading], because, book),
        sentence=tell(primary, lines, beside, causes, book),
        undetermined_because=because,
        next_look=looks[0] if looks else None,
        prior=shares,
        bar=limit,
    )


def leave_one_out(
    seen: Sequence[Seen],
    prior: Mapping[str, float] | None = None,
    catalogue: Catalogue | None = None,
    bar: float | None = None,
) -> list[tuple[Seen, Verdict]]:
    """What if each observation had not been made: the observation and the verdict without it."""
    return [(entry, weigh([*seen[:i], *seen[i + 1 :]], prior, catalogue, bar)) for i, entry in enumerate(seen)]


def _undetermined(
    leading: str, probability: float, weight: float, lines: Sequence[Contribution], book: Catalogue, bar: float
) -> str | None:
    """Why no mode can be named, or None. Five grounds, the gravest first."""
    name = book.modes[leading]
    telling = [line for line in lines if any(abs(w) > 0 for w in line.weighed.weights_db.values())]
    if not telling:
        return "Nothing has been observed yet that tells the modes apart."
    if split := _contradiction(leading, telling, book) or _torn_between(leading, telling, book):
        return split
    if weight < book.settings["least_weight_db"]:
        return (
            f"Too little evidence: what was seen weighs {weight:+.1f} dB for {name} against the others together, "
            f"and {book.settings['least_weight_db']:.0f} dB is asked for."
        )
    if probability < bar:
        return f"No mode stands out: {name} comes first with {probability:.0%}, and {bar:.0%} is asked for."
    marks = [group for group in book.marks[leading] if group in book.groups]
    if marks and sum(line.against_rest_db[leading] for line in telling if line.weighed.observation.group in marks) <= 0:
        shown_by = " or ".join(f"“{book.groups[group]}”" for group in marks)
        return f"Only what speaks against the others leaves {name}: nothing under {shown_by} shows it."
    return None


def _contradiction(leading: str, lines: Sequence[Contribution], book: Catalogue) -> str | None:
    """Strong evidence on both sides: name it, do not average it away.

    Asked about the leading mode, and about any other for which more speaks than for the leading one: otherwise a
    mode that fits nothing well, but nothing badly, would win where two others contradict each other.
    """
    strong, least_share = book.settings["contradiction_db"], book.settings["contradiction_share"]
    sides = {mode: _sides(mode, lines) for mode in MODES}
    plus = {mode: sum(line.against_rest_db[mode] for line in sides[mode][0]) for mode in MODES}
    minus = {mode: -sum(line.against_rest_db[mode] for line in sides[mode][1]) for mode in MODES}
    rivals = sorted((m for m in MODES if plus[m] > plus[leading]), key=lambda m: -plus[m])
    for mode in [leading, *rivals]:
        if plus[mode] >= strong and minus[mode] >= max(strong, least_share * plus[mode]):
            speaks_for, against = sides[mode]
            return (
                f"The evidence contradicts itself about {book.modes[mode]}: {_named(speaks_for)} "
                f"({plus[mode]:.0f} dB together) for it, {_named(against)} ({minus[mode]:.0f} dB together) against it."
            )
    return None


def _torn_between(leading: str, lines: Sequence[Contribution], book: Catalogue) -> str | None:
    """The leading mode and another, each with strong evidence over the other, though both stand well with the rest."""
    strong, least_share = book.settings["contradiction_db"], book.settings["contradiction_share"]
    for rival in (mode for mode in MODES if mode != leading):
        over = [(line.weighed.weights_db[leading] - line.weighed.weights_db[rival], line) for line in lines]
        over.sort(key=lambda pair: -abs(pair[0]))
        plus, minus = sum(max(db, 0) for db, _ in over), sum(max(-db, 0) for db, _ in over)
        if plus >= strong and minus >= max(strong, least_share * plus):
            return (
                f"The evidence contradicts itself between {book.modes[leading]} and {book.modes[rival]}: "
                f"{_named([line for db, line in over if db > 0])} ({plus:.0f} dB together) for the one, "
                f"{_named([line for db, line in over if db < 0])} ({minus:.0f} dB together) for the other."
            )
    return None


def _sides(mode: str, lines: Sequence[Contribution]) -> tuple[list[Contribution], list[Contribution]]:
    """The lines for and against a mode, the heaviest first."""
    ordered = sorted(lines, key=lambda line: -abs(line.against_rest_db[mode]))
    speaks_for = [line for line in ordered if line.against_rest_db[mode] > 0]
    return speaks_for, [line for line in ordered if line.against_rest_db[mode] < 0]


def _named(lines: Sequence[Contribution], most: int = 3) -> str:
    said = []
    for line in lines[:most]:
        seen, words = line.weighed.seen, line.weighed.observation.words
        detail = seen.value or {"yes": "seen", "no": "not seen"}.get(seen.answer, "")
        said.append(f"“{words}” ({detail})")
    if len(lines) > most:
        said.append(f"{len(lines) - most} more")
    return " and ".join([", ".join(said[:-1]), said[-1]] if len(said) > 1 else said)


def _words(leading: str, probability: float, weight: float, because: str | None, book: Catalogue) -> str:
    name = book.modes[leading]
    if because:
        return f"Undetermined. {because}"
    return (
        f"{name[0].upper()}{name[1:]}, {share_words(round(probability, 4))}: the evidence for it is {grade(weight)} "
        f"({weight:+.1f} dB against the other modes together, {SCALE_NAME})."
    )


def _rounded(values: Mapping[str, float], digits: int) -> dict[str, float]:
    return {name: round(value, digits) for name, value in values.items()}
