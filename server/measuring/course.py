"""How the break went over the face, for people: strokes over the photo, and what they mean in sentences."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from skimage.measure import points_in_poly

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
    return [*directions_of(result, photo), *course_strokes(result)]


def course_strokes(result: dict[str, Any]) -> list[Direction]:
    """The arrow with its cone, the origin's ellipse and the hinge line, cut off at the outline; none without a course.

    The arrow goes through the middle between origin and hinge, which on a long face needn't lie behind each other.
    """
    course = result.get("course")
    if not course:
        return []
    origin, hinge = course["origin"], course["hinge"]["line_px"]
    ring = np.array(result.get("outline_px") or [], float).reshape(-1, 2)
    first = np.array(origin["centre_px"], float)
    deg, (low, high) = course["direction_deg"]["value"], course["direction_deg"]["interval"]
    ahead, middle, reach = along(deg), first, 2.0 * origin["half_long_px"]
    found = [Direction("origin", WORDS["origin"], [plain(list(_within(ring, first, _ellipse(origin))))], "origin")]
    if hinge:
        ends = np.array(hinge, float)
        middle, reach = (first + ends.mean(0)) / 2, float((ends.mean(0) - first) @ ahead)
        found.append(Direction("hinge", WORDS["hinge"], _hinge(ends, ahead, HEAD * reach), "hinge"))
    begin, tip = _within(ring, middle, np.array([middle - reach / 2 * ahead, middle + reach / 2 * ahead]))
    long = float(np.linalg.norm(tip - begin))
    doubt = [plain([begin, *(begin + long * along(angle) for angle in np.linspace(low, high, 24)), begin])]
    return [Direction("way", WORDS["way"], _arrow(begin, deg, long), "way", doubt), *found]


def _within(ring: NDArray[np.float64], middle: NDArray[np.float64], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """The points, each drawn in towards `middle` until it lies inside the ring; as they are without a ring."""
    if len(ring) < 3:
        return points
    shares = np.linspace(1, 0.1, 91)
    tried = middle + shares[:, None, None] * (points - middle)
    inside = points_in_poly(tried.reshape(-1, 2), ring).reshape(tried.shape[:2])
    inside[-1] = True
    return np.asarray(tried[inside.argmax(0), np.arange(len(points))])


def _arrow(begin: NDArray[np.float64], deg: float, reach: float) -> list[Line]:
    tip, head = begin + reach * along(deg), HEAD * reach
    return [plain([begin, tip]), plain([tip - head * along(deg + 30), tip, tip - head * along(deg - 30)])]


def _ellipse(origin: dict[str, Any]) -> NDArray[np.float64]:
    turn = np.linspace(0, 2 * np.pi, 49)
    around = np.outer(np.cos(turn) * origin["half_long_px"], along(origin["long_deg"]))
    aside = np.outer(np.sin(turn) * origin["half_short_px"], along(origin["long_deg"] + 90))
    return np.asarray(np.array(origin["centre_px"], float) + around + aside)


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
            f"{_once(shuffled)} with the patches shuffled, {_once(patchy)} if welds are just as patchy",
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


def _once(chance: dict[str, float]) -> str:
    return f"{100 * chance['strength_at_bar']:.0f} % one time in {1 / chance['bar']:.0f}"


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
