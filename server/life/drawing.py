"""Curves as shapes of an SVG, drawn twice: wide for a desk, narrow for a phone, with letters of one size."""

import math
from dataclasses import dataclass

import numpy as np

from server.life.groups import Group

HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 300, 46, 26, 14, 40
SIGNS = ("circle", "square", "triangle", "diamond", "cross")
DASHES = ("", "9 4", "2 3", "12 3 2 3", "5 2 1 2 1 2")
LETTERS = "ABCDE"
TICKS_SHOWN = 60  # more marks of censored units than this would only smear the curve
SIGNS_SHOWN = 30


@dataclass(frozen=True)
class Trace:
    """One group on the drawing; `number` chooses its dash, sign and colour, `letter` names it."""

    number: int
    letter: str
    path: str
    band: str
    fit: str
    dash: str
    sign: str
    signs: list[tuple[float, float]]
    ticks: list[tuple[float, float]]
    end: tuple[float, float]


@dataclass(frozen=True)
class Drawing:
    """A drawing of `width` by `height`; ticks are (place, words)."""

    width: int
    height: int
    left: int
    right: int
    top: int
    bottom: int
    traces: list[Trace]
    across: list[tuple[float, str]]
    up: list[tuple[float, str]]


def nice_step(span: float, most: int) -> float:
    """Return a step of 1, 2 or 5 times a power of ten that divides a span into at most so many."""
    raw = max(span / most, 1.0)
    power = 10.0 ** math.floor(math.log10(raw))
    return next(power * factor for factor in (1, 2, 5, 10) if power * factor >= raw * (1 - 1e-9))


def age_ticks(groups: list[Group], most: int) -> list[float]:
    """Return round ages from 0 to at least the highest that any unit reached."""
    last = max((group.curve.last for group in groups), default=1.0)
    step = nice_step(last, most)
    return [step * n for n in range(math.ceil(last / step) + 1)]


@dataclass(frozen=True)
class _Plane:
    """From ages and shares to places on the drawing."""

    width: int
    last: float

    def x(self, age: float) -> float:
        return round(LEFT + (self.width - RIGHT - LEFT) * age / self.last, 1)

    def y(self, share: float) -> float:
        return round(HEIGHT - BOTTOM - (HEIGHT - BOTTOM - TOP) * share, 1)

    def steps(self, ages: list[float], shares: list[float]) -> str:
        """A line level up to each age in turn, then at the next share: one share less than ages."""
        return "".join(
            f"{'M' if n == 0 else 'V'}{f'{self.x(ages[0])} ' if n == 0 else ''}{self.y(share)}H{self.x(ages[n + 1])}"
            for n, share in enumerate(shares)
        )


def draw(groups: list[Group], width: int, *, bands: bool = True, first: int = 0) -> Drawing:
    """Return the drawing of some groups; `first` is the number of the first of them on the page."""
    ages = age_ticks(groups, 8 if width > 500 else 4)
    plane = _Plane(width, ages[-1])
    traces: list[Trace] = []
    for number, group in enumerate(groups, first):
        traces.append(_trace(plane, group, number, bands, [trace.end[1] for trace in traces]))
    up = [(plane.y(share), f"{100 * share:g} %") for share in (0, 0.25, 0.5, 0.75, 1)]
    across = [(plane.x(age), f"{age:g}") for age in ages]
    return Drawing(width, HEIGHT, LEFT, width - RIGHT, TOP, HEIGHT - BOTTOM, traces, across, up)


def _trace(plane: _Plane, group: Group, number: int, bands: bool, taken: list[float]) -> Trace:
    curve, ages = group.curve, group.ages
    edges = [0.0, *(float(at) for at in curve.at), curve.last]
    shares = [1.0, *(float(share) for share in curve.share)]
    until = np.unique(ages.reached[~ages.failed])
    shown = until if len(until) <= TICKS_SHOWN else until[:0]
    ticks = [(plane.x(float(at)), plane.y(curve.share_at(float(at)) or 0.0)) for at in shown]
    falls = [(plane.x(at), plane.y(share)) for at, share in zip(edges[1:], shares[1:], strict=False)]
    end = plane.y(shares[-1])
    while any(abs(end - other) < 13 for other in taken):  # letters at the curves' ends don't stand on each other
        end -= 13
    return Trace(
        number,
        LETTERS[number],
        plane.steps(edges, shares),
        _band(plane, group, edges) if bands else "",
        _fitted(plane, group),
        DASHES[number],
        SIGNS[number],
        falls if len(falls) <= SIGNS_SHOWN else falls[:: len(falls) // SIGNS_SHOWN + 1],
        ticks,
        (plane.x(curve.last), end),
    )


def _band(plane: _Plane, group: Group, edges: list[float]) -> str:
    """The 95 % band from the first fall on; where the last unit at risk failed there is none any more."""
    low, high = group.curve.limits()
    there = int(np.isfinite(low).sum())
    if not there:
        return ""
    ages = edges[1 : there + 2]
    above = plane.steps(ages, [float(share) for share in high[:there]])
    below = "".join(
        f"L{plane.x(ages[n + 1])} {plane.y(float(low[n]))}L{plane.x(ages[n])} {plane.y(float(low[n]))}"
        for n in reversed(range(there))
    )
    return f"{above}{below}Z"


def _fitted(plane: _Plane, group: Group) -> str:
    if group.fit is None:
        return ""
    ages = np.linspace(0, group.curve.last, 60)
    points = [f"{plane.x(float(age))} {plane.y(group.fit.weibull.share_at(float(age)))}" for age in ages]
    return "M" + "L".join(points)
