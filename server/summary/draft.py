"""A first wording of the summary in plain words, made from the record; a person edits it before it goes out.

Only what is meant for the customer is read: no internal note, no file name, no other customer's data.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from server.naming import upper_first
from server.pages import day
from server.records import Change, FailureEntry, FragmentEntry, Part
from server.summary.words import ALSO, MEANS, SHORT, SURENESS, face_words, percent, seen_words, sentence
from server.wording import words


@dataclass(frozen=True)
class Place:
    """One break site, or the whole part: what was measured there and what is concluded."""

    name: str  # "" for the whole part
    measured: Sequence[tuple[str, dict[str, Any]]]  # name of the face, result of the measuring
    result: dict[str, Any]  # the program's verdict
    person: str = ""  # the person's mode, "" where there is none
    person_reason: str = ""
    sequence: str = "unknown"
    how_known: str = ""
    why_followed: str = ""
    gap_causes: Mapping[str, str] = field(default_factory=dict)  # by face: why wall is missing, in words
    load_words: str = ""  # what the load came to against the joint, in words


@dataclass(frozen=True)
class Facts:
    """All that the draft is made from."""

    part: Part
    entry: FailureEntry | None
    pieces: Sequence[FragmentEntry]
    places: Sequence[Place]
    whole: Place
    changes: Sequence[Change]
    next_checks: Sequence[date]


def draft(facts: Facts) -> dict[str, str]:
    """Return the text of each section."""
    return {
        "does": _does(facts),
        "came_back": _came_back(facts),
        "found": _found(facts),
        "means": _means(facts),
        "change": _change(facts),
        "care": _care(facts),
        "not_known": _not_known(facts),
    }


def _does(facts: Facts) -> str:
    where = f"It is fitted: {facts.part.fitted_where}" if facts.part.fitted_where else ""
    return " ".join(filter(None, [sentence(facts.part.function), sentence(where)])) or "Not described yet."


def _came_back(facts: Facts) -> str:
    entry, said = facts.entry, []
    if entry:
        said.append(f"It was found broken on {day(entry.found_on)}{_in(entry.found_place)}.")
        said.append(sentence(entry.noticed_how))
    counts = [
        (status, sum(piece.status == status for piece in facts.pieces))
        for status in ("recovered", "missing", "missing_before")
    ]
    told = {"recovered": "came back", "missing": "missing", "missing_before": "already missing before it broke"}
    if any(count for _, count in counts):
        said.append("Pieces: " + ", ".join(f"{count} {told[status]}" for status, count in counts if count) + ".")
    if entry and entry.also_lost:
        said.append(sentence(f"Also lost or damaged: {entry.also_lost}"))
    return " ".join(filter(None, said)) or "Not described yet."


def _in(place: str) -> str:
    return f" ({place})" if place else ""


def _found(facts: Facts) -> str:
    said: list[str] = []
    told: set[str] = set()
    for place in facts.places:
        lines = [
            line
            for name, result in place.measured
            for line in (*face_words(_label(place, name), result), place.gap_causes.get(name, ""))
            if line
        ]
        seen = [line for line in seen_words(place.result) if line not in told]
        # What was answered for the whole part comes back at each of its places; it is said once.
        told.update(seen)
        if seen and not lines and place.name:
            lines = [f"{upper_first(place.name)}:"]
        if lines or seen:
            said.append(" ".join([*lines, *seen]))
    return "\n".join(said) or "Nothing was measured; see what is not known."


def _label(place: Place, face: str) -> str:
    return upper_first(f"{place.name}, {face}" if place.name else face)


def _means(facts: Facts) -> str:
    said = [_conclusion(facts.whole)]
    if len(facts.places) > 1:
        first = [place for place in facts.places if place.sequence == "first"]
        said += [
            f"{upper_first(place.name)}: {SHORT[place.person or place.result['primary']]}." for place in facts.places
        ]
        said.append(
            f"{upper_first(first[0].name)} let go first{_in(first[0].how_known)}."
            if len(first) == 1
            else "Which place let go first can't be told."
        )
        said += [
            sentence(f"{upper_first(place.name)} followed: {place.why_followed}")
            for place in facts.places
            if place.sequence == "later" and place.why_followed
        ]
    named = [(f"{upper_first(place.name)}: " if place.name else "", place.load_words) for place in facts.places]
    said += [f"{name}{text}" for name, text in named if text]
    return "\n".join(said)


def _conclusion(place: Place) -> str:
    program = place.result["primary"]
    mode = place.person or program
    text = MEANS[mode]
    share = place.result["probabilities"].get(mode)
    if mode == program and share is not None:
        sure = next((term for least, term in SURENESS if share >= least), "")
        text += (
            f" This is {sure} so, about {min(99, round(100 * share))} in 100 on what was seen and measured."
            if sure
            else ""
        )
    elif mode != program:
        text += f" The weighing by the numbers alone pointed to: {words(program, 'mode')}."
        text += f" We conclude otherwise: {sentence(place.person_reason)}"
    # Where nothing is settled, a list of what may have helped would settle it by the back door.
    also = [ALSO[other] for other in place.result.get("contributing", []) if other != mode and mode != "undetermined"]
    text += f" It may have helped that {' and '.join(also)}." if also else ""
    return text + _besides(place, mode)


def _besides(place: Place, mode: str) -> str:
    """What was found without having broken the part; it is to be mended in the next build all the same."""
    told = [ALSO[found["code"]] for found in place.result.get("incidental", []) if found["code"] != mode]
    # Several sites may have found the same; a customer is told once.
    found = " and ".join(dict.fromkeys(told))
    return f" Besides, {found}; that did not break it, and is to be mended in the next build." if found else ""


def _change(facts: Facts) -> str:
    lines = [
        sentence(change.what) + (f" Why: {sentence(change.why)}" if change.why else "") for change in facts.changes
    ]
    return "\n".join(lines) or "Not decided yet."


def _care(facts: Facts) -> str:
    said = [f"The next look at the part is due on {day(due)}." for due in sorted(facts.next_checks)[:1]]
    # Common practice, no source.
    said.append(
        "Look at the part now and then: a crack, a pale line between layers or a new looseness is the sign to stop "
        "using it and bring it back."
    )
    return " ".join(said)


def _not_known(facts: Facts) -> str:
    said = []
    entry = facts.entry
    if entry and entry.load_n is None:
        said.append("How large the load was when it broke was not measured.")
    missing = sum(piece.status != "recovered" for piece in facts.pieces)
    if missing:
        said.append(
            f"{missing} piece{'s are' if missing > 1 else ' is'} missing, "
            f"so what {'they' if missing > 1 else 'it'} could have shown is not known."
        )
    measured = [(_label(place, name), result) for place in facts.places for name, result in place.measured]
    for name, result in measured:
        unknown = result.get("unknown_share") or 0.0
        if unknown >= 0.05:
            said.append(f"{name}: {percent(unknown)} of the face could not be read from the photo.")
    if not measured:
        said.append("No broken face was measured.")
    if facts.whole.result["primary"] == "undetermined" and not facts.whole.person:
        said.append("Why it broke is open.")
    if not facts.changes:
        said.append("What is to be changed is not decided.")
    return " ".join(said) or "Nothing that we know of, within what was looked at."
