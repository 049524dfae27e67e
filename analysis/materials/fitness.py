"""Does a material fit a place? Heat, chemicals and water are judged one by one; the worst decides.

The rules are judgement; the numbers that they compare are the table's, each with its source:

* heat fits up to the lowest of: continuous use, heat deflection at either load, and for amorphous polymers 10 K below
  the glass transition; it doesn't fit above the lowest of the highest figures for glass transition, heat deflection at
  the small load, brief use and melting; in between it is marginal;
* an agent that attacks doesn't fit; one that cracks, swells, weathers or hydrolyses is marginal;
* water taken up softens and swells: marginal where a soaked part takes up more than 1 % and stands wet, 3 % and humid.

Raising the temperature never makes a fit better: each step of the rule is taken once, on the way down.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from analysis.materials.environments import WATERS, Environment
from analysis.materials.library import AGENTS, QUANTITIES, STATUSES, Figure, Material

# From worst to best; "not known" stands below "marginal", for it may turn out to be anything.
FITS: Mapping[str, str] = {
    "doesnt_fit": "doesn’t fit",
    "not_known": "not known",
    "marginal": "marginal",
    "fits": "fits",
}
ORDER = tuple(FITS)
GLASS_MARGIN_K = 10.0
UPTAKE_LIMIT_PERCENT = {"wet": 1.0, "humid": 3.0}
LEAST_MONTHS = 3.0  # shorter service hasn't seen the place's seasons; judgement


@dataclass(frozen=True)
class Limit:
    """A temperature that decides, °C, with the figure it comes from."""

    celsius: float
    words: str


@dataclass(frozen=True)
class Stood:
    """What service has shown: a material that was so many months at the place, and whether it softened there."""

    material: Material
    months: float
    softened: bool = False


@dataclass(frozen=True)
class Point:
    """One judgement: about heat, an agent or water; its fit (a key of `FITS`) and the number or fact that decides."""

    about: str
    fit: str
    why: str


@dataclass(frozen=True)
class Judgement:
    """A material at a place: the fit of its worst point, which is `decides`, and all points."""

    material: Material
    fit: str
    decides: Point
    points: tuple[Point, ...]


def heat_floor(material: Material) -> Limit | None:
    """Return up to which temperature heat surely fits: the lowest of the figures for it; None where there is none."""
    names = ("continuous_c", "hdt_180_c", "hdt_045_c")
    found = [Limit(figure.low, _told(name, figure)) for name in names if (figure := material.figure(name))]
    if material.kind == "amorphous" and (glass := material.figure("glass_c")):
        words = f"{GLASS_MARGIN_K:g} K below the {_told('glass_c', glass)}"
        found.append(Limit(glass.low - GLASS_MARGIN_K, words))
    return min(found, key=lambda limit: limit.celsius, default=None)


def heat_ceiling(material: Material) -> Limit | None:
    """Return above which temperature heat surely doesn't fit; None where no figure tells."""
    names = ("hdt_045_c", "brief_c", "melting_c", *(("glass_c",) if material.kind == "amorphous" else ()))
    found = [Limit(figure.high, _told(name, figure)) for name in names if (figure := material.figure(name))]
    return min(found, key=lambda limit: limit.celsius, default=None)


def judge(material: Material, place: Environment, stood: Sequence[Stood] = ()) -> Judgement:
    """Judge one material for a place, with what service has shown there."""
    points = [_heat(material, place.highest_c, stood), *(_agent(material, agent) for agent in place.agents)]
    if place.water:
        points.append(_water(material, place.water))
    worst = min(points, key=lambda point: ORDER.index(point.fit))
    return Judgement(material, worst.fit, worst, tuple(points))


def judge_all(materials: Iterable[Material], place: Environment, stood: Sequence[Stood] = ()) -> list[Judgement]:
    """Judge every material; best first, and among equals the one with more heat to spare."""

    def rank(judgement: Judgement) -> tuple[int, float]:
        floor = heat_floor(judgement.material)
        return -ORDER.index(judgement.fit), -(floor.celsius if floor else -273.15)

    return sorted((judge(material, place, stood) for material in materials), key=rank)


def _heat(material: Material, highest_c: float | None, stood: Sequence[Stood]) -> Point:
    point = _heat_by_figures(material, highest_c)
    for one in stood:
        if one.softened:
            point = _after_softening(material, point, one)
        elif one.months >= LEAST_MONTHS:
            point = _after_standing(material, point, one)
    return point


def _heat_by_figures(material: Material, highest_c: float | None) -> Point:
    floor, ceiling = heat_floor(material), heat_ceiling(material)
    if highest_c is None:
        return Point("heat", "not_known", "the place’s highest temperature isn’t known")
    if ceiling and highest_c > ceiling.celsius:
        return Point("heat", "doesnt_fit", f"{highest_c:g} °C is above the {ceiling.words}")
    if floor and highest_c <= floor.celsius:
        return Point("heat", "fits", f"{highest_c:g} °C keeps below the {floor.words}")
    if floor and ceiling:
        return Point("heat", "marginal", f"{highest_c:g} °C is above the {floor.words}, below the {ceiling.words}")
    known = floor or ceiling
    words = f"only the {known.words} is known" if known else "no figure for heat is known"
    return Point("heat", "not_known", f"{words}; it doesn’t tell about {highest_c:g} °C")


def _after_standing(material: Material, point: Point, stood: Stood) -> Point:
    """What stood there for months sets a floor: as much heat or more is backed by service, less is not."""
    told = f"{stood.material.words} stood here for {stood.months:.0f} months"
    if point.fit == "doesnt_fit":
        if material == stood.material:
            why = f"{point.why}; yet {told} without softening: measure the place’s temperature"
            return Point("heat", "doesnt_fit", why)
        return point
    if _at_least(material, stood.material):
        return Point("heat", "fits", f"{told} without softening, and this stands as much heat or more")
    if point.fit == "fits":
        return Point("heat", "marginal", f"{point.why}; but {told}, and this softens earlier")
    return point


def _after_softening(material: Material, point: Point, stood: Stood) -> Point:
    if _at_least(stood.material, material):
        return Point("heat", "doesnt_fit", f"{stood.material.words} softened here, and this stands no more heat")
    return point


def _at_least(one: Material, other: Material) -> bool:
    """Whether `one` is known to stand as much heat as `other`, by both of its limits."""
    if one == other:
        return True
    mine, theirs = (heat_floor(one), heat_ceiling(one)), (heat_floor(other), heat_ceiling(other))
    return all(a and b and a.celsius >= b.celsius for a, b in zip(mine, theirs, strict=True))


def _agent(material: Material, agent: str) -> Point:
    rating = material.rating(agent)
    about = AGENTS[agent]
    if rating is None:
        return Point(about, "not_known", f"how it stands {about} isn’t known")
    fit = {"ok": "fits", "attacked": "doesnt_fit"}.get(rating.code, "marginal")
    words = {
        "ok": "no harm known",
        "attacked": "attacked",
        "cracks": "cracks under lasting stress",
        "swells": "swells",
        "weathers": "weathers",
        "hydrolyses": "is broken down slowly (hydrolysis)",
    }[rating.code]
    note = f", {rating.note}" if rating.note else ""
    return Point(about, fit, f"{about}: {words}{note} ({STATUSES[rating.source.status]})")


def _water(material: Material, water: str) -> Point:
    figure, about = material.figure("uptake_saturated_percent"), "water"
    if water == "dry":
        return Point(about, "fits", "it stays dry")
    if figure is None:
        return Point(about, "not_known", "how much water it takes up isn’t known")
    limit, place = UPTAKE_LIMIT_PERCENT[water], WATERS[water]
    told = f"takes up to {figure.high:g} % water when soaked ({STATUSES[figure.source.status]})"
    if figure.high <= limit:
        return Point(about, "fits", told)
    return Point(about, "marginal", f"{told}: it softens and grows where it is {place}")


def _told(name: str, figure: Figure) -> str:
    words = QUANTITIES[name][0]
    span = f"{figure.low:g}" if figure.low == figure.high else f"{figure.low:g} to {figure.high:g}"
    return f"{words[0].lower()}{words[1:]} of {span} {figure.unit} ({STATUSES[figure.source.status]})"
