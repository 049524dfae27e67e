"""How the break went over the face, for people: strokes over the photo, and what they mean in sentences."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.measuring.directions import Direction, Line, along, directions_of, plain
from server.records import Photo

SIDES = ("right", "lower right", "lower side", "lower left", "left", "upper left", "upper side", "upper right")
HEAD = 0.09  # of the arrow's length
KNUCKLES = 7  # ticks on the hinge line
WORDS = {
    "way": "the way the break went, with its 90 % cone",
    "origin": "where it let go first, 90 % ellipse",
    "hinge": "where it hung last, as on a hinge",
}


@dataclass(frozen=True)
class Told:
    """What the page says: the sentence, or why there is none; the figures behind it; what the reading rests on."""

    sentence: str
    why: str
    figures: list[tuple[str, str]]
    rests_on: str


def strokes_of(result: dict[str, Any], photo: Photo) -> list[Direction]:
    """Every direction that is drawn over the photo."""
    return [*directions_of(result, photo), *course_strokes(result.get("course"))]


def course_strokes(course: dict[str, Any] | None) -> list[Direction]:
    """The origin's ellipse, the hinge line and the arrow from one to the other with its cone; none without a course."""
    if not course:
        return []
    origin, hinge = course["origin"], course["hinge"]["line_px"]
    begin = np.array(origin["centre_px"], float)
    deg, (low, high) = course["direction_deg"]["value"], course["direction_deg"]["interval"]
    reach = 2.0 * origin["half_long_px"]
    found = [Direction("origin", WORDS["origin"], [_ellipse(origin)], "origin")]
    if hinge:
        ends = np.array(hinge, float)
        reach = max(float((ends.mean(0) - begin) @ along(deg)), reach / 2)
        found.append(Direction("hinge", WORDS["hinge"], _hinge(ends, along(deg), HEAD * reach), "hinge"))
    arc = [begin + reach * along(angle) for angle in np.linspace(low, high, 24)]
    doubt = [plain([begin, *arc, begin])]
    return [Direction("way", WORDS["way"], _arrow(begin, deg, reach), "way", doubt), *found]


def _arrow(begin: NDArray[np.float64], deg: float, reach: float) -> list[Line]:
    tip, head = begin + reach * along(deg), HEAD * reach
    return [plain([begin, tip]), plain([tip - head * along(deg + 30), tip, tip - head * along(deg - 30)])]


def _ellipse(origin: dict[str, Any]) -> Line:
    turn = np.linspace(0, 2 * np.pi, 49)
    long, short = along(origin["long_deg"]), along(origin["long_deg"] + 90)
    middle = np.array(origin["centre_px"], float)
    around = np.outer(np.cos(turn) * origin["half_long_px"], long)
    return plain(list(middle + around + np.outer(np.sin(turn) * origin["half_short_px"], short)))


def _hinge(ends: NDArray[np.float64], way: NDArray[np.float64], size: float) -> list[Line]:
    """The line with ticks on its far side."""
    marks = [ends[0] + share * (ends[1] - ends[0]) for share in np.linspace(0, 1, KNUCKLES)]
    return [plain([ends[0], ends[1]]), *(plain([mark, mark + size * 0.6 * way]) for mark in marks)]


def side(deg: float) -> str:
    """The side of the face that a direction points to, on the photo."""
    return SIDES[round(deg / 45) % 8]


def course_sentence(course: dict[str, Any]) -> str:
    """One sentence for any page."""
    found = course["direction_deg"]
    low, high = found["interval"]
    first, last = side(found["value"] + 180), side(found["value"])
    return (
        f"It let go first at the {first} of the face as the photo shows it, hung last at the {last} and was levered "
        f"towards there: at {found['value']:.0f}°, {low:.0f}° to {high:.0f}° (90 %; 0° to the right, 90° down)."
    )


def told(result: dict[str, Any]) -> Told:
    """What the measurement's page says of the course; `why` where none could be told."""
    course = result.get("course")
    if not course:
        why = (result.get("reasons") or {}).get("course")
        return Told("", why or "This measurement was made by a program that did not look for it.", [], "")
    trend = course["trend"]
    shuffled, patchy = trend["shuffled"], trend["patchy"]
    torn = ", ".join(f"{100 * share:.0f} %" for share in course["torn_by_fifths"])
    figures = [
        ("Torn, from the first fifth of the contact to the last", torn),
        (
            "Strength of the trend",
            f"{100 * trend['explained']:.0f} % of the differences between {trend['patches']} patches, "
            f"{trend['patch_mm']:.1f} mm wide",
        ),
        (
            "What chance reaches",
            f"one time in twenty {100 * shuffled['one_in_twenty']:.0f} % with the patches shuffled, "
            f"{100 * patchy['one_in_twenty']:.0f} % on a face as patchy as this one",
        ),
        *_roads(course["roads"]),
        *_planes(course),
        *_mate(course.get("mate")),
    ]
    rests_on = (
        f"{course['reading']} That is {course['status']}. In a tough polymer a crack that grows slowly whitens too: "
        "hold it against lips, a bent rim, crazes and what was seen when it broke."
    )
    return Told(course_sentence(course), "", figures, rests_on)


def _roads(roads: Sequence[dict[str, Any]]) -> list[tuple[str, str]]:
    if not roads:
        return []
    words = [f"{_road(one)} at {100 * one['reached']:.0f} %" for one in roads]
    return [("Roads in the order the break reached them, share of the way", ", ".join(words))]


def _road(one: dict[str, Any]) -> str:
    if one["index"] is None:
        return "filling"
    around = "" if one["name"] == "outer" else f" of hole {int(one['name'].removeprefix('hole')) + 1}"
    return f"wall {one['index'] + 1}{around}"


def _planes(course: dict[str, Any]) -> list[tuple[str, str]]:
    if len(course["planes"]) < 2 or course["planes_order_kept"] is None:
        return []
    words = [f"no. {one['index']} ({100 * one['torn_share']:.0f} % torn)" for one in course["planes"]]
    kept = course["planes_order_kept"]
    sure = f"the same order in {100 * kept:.0f} % of the directions that the cone allows"
    return [("Layer planes in the order the break crossed them, no. 1 the largest", f"{', '.join(words)}; {sure}")]


def _mate(mate: dict[str, Any] | None) -> list[tuple[str, str]]:
    if mate is None:
        return []
    if mate["agrees"]:
        both = [mate[key]["value"] for key in ("this_half_deg", "other_half_deg")]
        said = f"both show it by themselves, at {both[0]:.0f}° and {both[1]:.0f}°"
    elif mate["this_half_deg"] or mate["other_half_deg"]:
        said = f"only {'this half' if mate['this_half_deg'] else 'the other half'} shows it by itself"
    else:
        said = "neither shows it by itself, only both read together"
    return [("The two halves", said)]
