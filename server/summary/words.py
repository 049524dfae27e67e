"""Codes and numbers in a customer's words, for the summary."""

from collections.abc import Sequence
from typing import Any

MEANS = {
    "layer_delamination": "The part came apart between its printed layers. The layers lay on each other, but over much "
    "of that area they had not grown into one piece, so the joint was weaker than the plastic itself.",
    "under_extrusion": "In places too little plastic had been laid down: strands are missing or too thin. What was "
    "left had to carry the load alone.",
    "overload": "The joints between the layers held until the plastic itself tore. The load at that moment was more "
    "than this shape could carry.",
    "interference_rub": "The part touched something it should not have touched, and was worn, heated or pushed out of "
    "place by it.",
    "undetermined": "What could be seen and measured does not settle why it broke. We would rather say so than guess.",
}
SHORT = {
    "layer_delamination": "the layers came apart where they had not joined",
    "under_extrusion": "plastic was missing where it broke",
    "overload": "the layers were joined, and the load was too much",
    "interference_rub": "it had rubbed against something",
    "undetermined": "why it broke there is open",
}
ALSO = {
    "layer_delamination": "the layers had not joined well",
    "under_extrusion": "some plastic was missing",
    "overload": "the load was high",
    "interference_rub": "it had rubbed against something",
}
# Judgement: no published scale of words is meant for customers.
SURENESS = ((0.95, "almost certainly"), (0.8, "very likely"), (0.6, "more likely than not"))


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


CAUSED = {
    "design": "the design has no plastic there",
    "slicing": "the printing plan left it out",
    "extrusion": "too little plastic came there while it was printed",
    "seam": "each line of plastic begins and ends there",
    "torn_out": "it was there, and was torn out when the part broke",
    "cant_tell": "the reason can't be told",
}


def gap_cause_words(told: Sequence[tuple[str, int, float]]) -> str:
    """Say why wall is missing: of each cause, its number and the longest in mm; "" where nobody has looked yet.

    What has no cause yet is only counted: a guess of the program is not for a customer.
    """
    said = [f"{_stretches(number, longest)}: {CAUSED[cause]}" for cause, number, longest in told if cause]
    if not said:
        return ""
    open_ones = sum(number for cause, number, _ in told if not cause)
    rest = f" The reason for {open_ones} more was not looked into." if open_ones else ""
    return "Why it is missing: " + "; ".join(said) + "." + rest


def _stretches(number: int, longest_mm: float) -> str:
    return f"at one stretch ({longest_mm:.1f} mm)" if number == 1 else f"at {number} (up to {longest_mm:.1f} mm)"


def _rub_words(name: str, result: dict[str, Any]) -> list[str]:
    area = result.get("rub_area_mm2")
    if area is None:
        return [f"{name}: the photo did not allow a measurement of the rubbed area."]
    return [
        f"{name}: a patch of about {area:.1f} mm² is rubbed smooth."
        if area > 0
        else f"{name}: no rubbed patch was found."
    ]


def seen_words(result: dict[str, Any], most: int = 4) -> list[str]:
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
