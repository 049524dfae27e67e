"""What came of holding loads against a face, for reading: the section in figures, what is left of it, ranges in N."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from analysis.strength.facewelds import FaceWelds
from analysis.strength.knockdown import knock_down
from analysis.strength.uncertainty import sections_json
from analysis.strength.wording import chance_words
from server.forms.ranges import range_words
from server.measuring.measured import percent
from server.pages import number
from server.records import LoadCase
from server.strength.assessing import Held
from server.strength.drawing import Drawing, draw

# Name in the assessment -> words, unit, digits.
FIGURES = {
    "area_mm2": ("Area that carries", "mm²", 2),
    "i1_mm4": ("Greatest second moment, axis 1", "mm⁴", 1),
    "i2_mm4": ("Least second moment, axis 2", "mm⁴", 1),
    "angle_deg": ("Axis 1, from the photo’s horizontal, clockwise", "°", 0),
    "z_top_mm3": ("Section modulus, upper edge", "mm³", 2),
    "z_bottom_mm3": ("Section modulus, lower edge", "mm³", 2),
    "z_left_mm3": ("Section modulus, left edge", "mm³", 2),
    "z_right_mm3": ("Section modulus, right edge", "mm³", 2),
    "polar_mm4": ("Polar moment about the middle of the welds", "mm⁴", 1),
}
SIDES = (("as_built", "As built"), ("fully_bonded", "Every contact joined"), ("gross", "The outline, solid"))
LIMITS = {
    "tension": "the pull", "compression": "the pressing", "bending": "bending", "shear": "the sliding",
    "torque": "the twist",
}  # fmt: skip
AXIS_WIDTH = 300.0
DECADE_ROOM = 1.35  # the axis ends that factor beyond the outermost end of a range


@dataclass(frozen=True)
class Bar:
    """What is left of a face with every contact joined, in one way of loading."""

    words: str
    percent: str
    interval: str
    x: float
    low: float
    high: float

    @property
    def over(self) -> bool:
        """Whether more is left than there was: the outermost weld then lies nearer to the middle."""
        return float(self.percent.split()[0]) > 100


@dataclass(frozen=True)
class Span:
    """A range in N on an axis of decades."""

    code: str
    words: str
    newton: str
    x: float
    width: float


@dataclass(frozen=True)
class CaseRow:
    """One load held against the face."""

    number: int
    name: str
    spans: list[Span]
    ticks: list[tuple[float, str]]
    chances: list[tuple[str, str]]
    limited_by: str
    reasons: list[str]


@dataclass(frozen=True)
class FaceResult:
    """All that is shown of one face."""

    face: Any
    photo: Any
    measurement: Any
    drawing: Drawing | None
    figures: list[tuple[str, list[str]]]
    eccentricity: str
    bars: list[Bar]
    cases: list[CaseRow]
    sentences: list[str]
    why: str


def face_result(held: Held, numbers: Mapping[int | None, int]) -> FaceResult:
    """Return what the page shows of one face; `numbers` gives each load's number there."""
    ground, face = held.ground, held.face
    told = held.found.to_json() if held.found else {"cases": [], "sentences": [], "reasons": {}}
    if face is None:
        return FaceResult(ground.face, ground.photo, ground.measurement, None, [], "", [], [], [], held.why)
    pairs = list(zip(held.loads, told["cases"], strict=True))
    numbered = [(numbers[load.id], load, case["peak"]) for load, case in pairs]
    sections = sections_json(face)
    return FaceResult(
        ground.face,
        ground.photo,
        ground.measurement,
        draw(ground, face, numbered),
        figures(sections),
        eccentricity_words(sections),
        bars(face),
        [_case(numbers[load.id], load, case) for load, case in pairs],
        told["sentences"],
        knock_down(face)[1],
    )


def figures(sections: Mapping[str, Any]) -> list[tuple[str, list[str]]]:
    """Return a row for each figure: its words, and its value as built, with every contact joined, and solid."""
    return [
        (words, [_figure(sections.get(side), name, unit, digits) for side, _ in SIDES])
        for name, (words, unit, digits) in FIGURES.items()
    ]


def _figure(section: Mapping[str, Any] | None, name: str, unit: str, digits: int) -> str:
    if section is None:
        return "none"
    spread = (section.get("relative_sd") or {}).get(name)
    about = f" ± {1.645 * spread * 100:.0f} %" if spread else ""  # half of a 90 % interval
    value = float(section[name])
    return number(value, max(0, digits - max(0, int(math.log10(abs(value) or 1)) - 1)), unit) + about


def eccentricity_words(sections: Mapping[str, Any]) -> str:
    """Say how far the middle of the welds lies off the middle of the face."""
    off = sections.get("eccentricity_mm")
    if off is None:
        return ""
    x, y = off
    aside, along = "right" if x > 0 else "left", "below" if y > 0 else "above"
    return (
        f"The middle of the welds lies {math.hypot(x, y):.2f} mm off the middle of the face ({abs(x):.2f} mm to the "
        f"{aside}, {abs(y):.2f} mm {along} on the photo). A pull through the middle of the part bends the welds by "
        "that much."
    )


def bars(face: FaceWelds) -> list[Bar]:
    """Return what is left of a face with every contact joined; empty where there is none to compare with."""
    fall, _ = knock_down(face)
    if fall is None:
        return []
    (weak, least), (strong, most) = fall.weakest_axis, fall.strongest_axis
    rows = [
        ("Area joined", fall.area),
        ("Pulled through the middle of the face", fall.tension),
        (f"Bent about the worst axis ({weak}° on the photo)", least),
        (f"Bent about the best axis ({strong}°)", most),
        ("Slid along", fall.shear),
        ("Twisted", fall.torque),
    ]
    return [
        Bar(
            words,
            percent(ratio.value),
            f"{percent(ratio.low)} to {percent(ratio.high)}",
            *(round(100 * min(1.0, value), 2) for value in (ratio.value, ratio.low, ratio.high)),
        )
        for words, ratio in rows
    ]


def _case(number_: int, load: LoadCase, case: dict[str, Any]) -> CaseRow:
    given = {"load": [load.force_low_n, load.force_high_n], "built": case["as_built_n"], "whole": case["as_designed_n"]}
    spans, ticks = spans_of(given)
    chances = [
        ("More than it bore as built", case["exceeds_built"]),
        ("More than it would have borne with every contact joined", case["exceeds_designed"]),
        ("Of the loads given, this one broke it", case["explains"]),
        ("If it broke this face, it would have broken the whole one too", case["whole_too"]),
    ]
    return CaseRow(
        number_,
        case["name"],
        spans,
        ticks,
        [(words, chance_words(p)) for words, p in chances if p is not None],
        LIMITS.get(case["limited_by"] or "", ""),
        list(dict.fromkeys(case["reasons"].values())),
    )


SPANS = {"load": "The load", "built": "Borne as built", "whole": "Borne with every contact joined"}


def spans_of(given: Mapping[str, Any]) -> tuple[list[Span], list[tuple[float, str]]]:
    """Return ranges in N on one axis of decades, and the axis's marks; nothing where only the load is known."""
    known = {code: pair for code, pair in given.items() if pair}
    if set(known) <= {"load"}:
        return [], []
    ends = [value for pair in known.values() for value in pair]
    low, high = math.log10(min(ends) / DECADE_ROOM), math.log10(max(ends) * DECADE_ROOM)

    def at(newton: float) -> float:
        return round((math.log10(newton) - low) / (high - low) * AXIS_WIDTH, 2)

    spans = [
        Span(code, SPANS[code], f"{range_words(_shown(pair))} N", at(pair[0]), max(2.0, at(pair[1]) - at(pair[0])))
        for code, pair in known.items()
    ]
    marks = [step * 10.0**power for power in range(-6, 9) for step in (1, 3)]
    return spans, [(at(mark), f"{mark:g}") for mark in marks if low <= math.log10(mark) <= high]


def _shown(pair: list[float]) -> tuple[float, float]:
    # Two figures are more than a range of a factor two deserves.
    low, high = (float(f"{value:.2g}") for value in pair)
    return (low, high)
