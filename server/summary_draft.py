"""A first wording of the summary in plain words, made from the record; a person edits it before it goes out.

Only what is meant for the customer is read: no internal note, no file name, no other customer's data.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from server.pages import day
from server.records import Change, FailureEntry, FragmentEntry, Part
from server.wording import words

MEANS = {
    "layer_delamination": "The part came apart between its printed layers. The layers lay on each other, but over much of that area they had not "
    "grown into one piece, so the joint was weaker than the plastic itself.",
    "under_extrusion": "In places too little plastic had been laid down: strands are missing or too thin. What was left had to carry the load alone.",
    "overload": "The joints between the layers held until the plastic itself tore. The load at that moment was more than this shape could carry.",
    "interference_rub": "The part touched something it should not have touched, and was worn, heated or pushed out of place by it.",
    "undetermined": "What could be seen and measured does not settle why it broke. We would rather say so than guess.",
}
ALSO = {
    "layer_delamination": "the layers had not joined well",
    "under_extrusion": "some plastic was missing",
    "overload": "the load was high",
    "interference_rub": "it had rubbed against something",
}
# Judgement: no published scale of words is meant for customers.
SURENESS = ((0.95, "almost certainly"), (0.8, "very likely"), (0.6, "more likely than not"))


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


def sentence(text: str) -> str:
    """Return the text with a capital at its start and a full stop at its end."""
    text = text.strip()
    return "" if not text else text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")


def percent(share: float) -> str:
    """Write a share as whole percent, but never a small one as 0 or a large one as 100."""
    value = 100 * share
    if 0 < value < 1:
        return "less than 1 %"
    if 99 < value < 100:
        return "more than 99 %"
    return f"{value:.0f} %"


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
    said = []
    for place in facts.places:
        head = f"{place.name}: " if place.name else ""
        lines = [line for name, result in place.measured for line in face_words(name, result)]
        lines += _seen_words(place.result)
        if lines:
            said.append(head + " ".join(lines))
    return "\n".join(said) or "Nothing was measured; see what is not known."


def face_words(name: str, result: dict[str, Any]) -> list[str]:
    """Say what was measured on one face in a customer's words."""
    if result.get("surface") == "outer":
        return _rub_words(name, result)
    said = [line for line in (_bonded_words(name, result), _gap_words(result)) if line]
    return said or [f"{name}: the photo did not allow a measurement of how well the layers were joined."]


def _bonded_words(name: str, result: dict[str, Any]) -> str:
    for key, ground in (
        ("bonded_area_fraction", "the area where the layers should be joined"),
        ("bonded_share_of_face", "the broken face"),
    ):
        measure = result.get(key) or {}
        if measure.get("value") is not None:
            span = _span(measure.get("interval"))
            return f"{name}: of {ground}, about {percent(measure['value'])} had been joined{span}."
    return ""


def _span(interval: Sequence[float] | None) -> str:
    if not interval or None in interval:
        return ""
    low, high = (round(100 * value) for value in interval)
    return f" (between {low} and {high} %)" if low != high else ""


def _gap_words(result: dict[str, Any]) -> str:
    walls = result.get("walls") or []
    gaps = [gap for wall in walls for gap in wall.get("gaps") or []]
    longest = result.get("largest_gap_mm")
    if not walls:
        return ""
    if not gaps or not longest:
        return "No missing stretch was found in its walls."
    many = (
        f"{len(gaps)} stretches of wall are missing, the longest"
        if len(gaps) > 1
        else "One stretch of wall is missing,"
    )
    return f"{many} {longest:.1f} mm."


def _rub_words(name: str, result: dict[str, Any]) -> list[str]:
    area = result.get("rub_area_mm2")
    if area is None:
        return [f"{name}: the photo did not allow a measurement of the rubbed area."]
    return [
        f"{name}: a patch of about {area:.1f} mm² is rubbed smooth."
        if area > 0
        else f"{name}: no rubbed patch was found."
    ]


def _seen_words(result: dict[str, Any], most: int = 4) -> list[str]:
    """The answers that told most, seen ones before those looked for and not found."""
    answers = [line for line in result.get("contributions", []) if line["value"] is None]
    strong = sorted(answers, key=lambda line: -max(abs(weight) for weight in line["weights_db"].values()))
    seen = [line["words"] for line in strong if line["answer"] == "yes"][:most]
    absent = [line["words"] for line in strong if line["answer"] == "no"][:2]
    said = []
    if seen:
        said.append("Seen: " + "; ".join(_lower(text) for text in seen) + ".")
    if absent:
        said.append("Looked for and not seen: " + "; ".join(_lower(text) for text in absent) + ".")
    return said


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _means(facts: Facts) -> str:
    said = [_conclusion(facts.whole)]
    if len(facts.places) > 1:
        first = [place for place in facts.places if place.sequence == "first"]
        said += [
            f"At {place.name}: {words(place.person or place.result['primary'], 'mode')}." for place in facts.places
        ]
        said.append(
            f"{first[0].name} let go first{_in(first[0].how_known)}."
            if len(first) == 1
            else "Which place let go first can't be told."
        )
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
        text += f" The weighing by the numbers alone pointed to: {words(program, 'mode')}. We conclude otherwise: {sentence(place.person_reason)}"
    also = [ALSO[other] for other in place.result.get("contributing", []) if other != mode]
    return text + (f" It may have helped that {' and '.join(also)}." if also else "")


def _change(facts: Facts) -> str:
    lines = [
        sentence(change.what) + (f" Why: {sentence(change.why)}" if change.why else "") for change in facts.changes
    ]
    return "\n".join(lines) or "Not decided yet."


def _care(facts: Facts) -> str:
    said = [f"The next look at the part is due on {day(due)}." for due in sorted(facts.next_checks)[:1]]
    # Common practice, no source.
    said.append(
        "Look at the part now and then: a crack, a pale line between layers or a new looseness is the sign to stop using it and bring it back."
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
            f"{missing} piece{'s are' if missing > 1 else ' is'} missing, so what {'they' if missing > 1 else 'it'} could have shown is not known."
        )
    measured = [(name, result) for place in facts.places for name, result in place.measured]
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
