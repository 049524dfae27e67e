"""Small drawings of sights that are hard to put in words: schematic, our own, drawn from numbers, the same every time.

Each is the inside of an SVG of 96 x 64 units. Classes take their colours from the page: `m` material, `w` whitened,
`b` bare road, `l` line, `h` what to look for. `t` is the text that a reader hears in the drawing's place.
"""

import random
from dataclasses import dataclass

from markupsafe import Markup

WIDTH, HEIGHT = 96, 64


@dataclass(frozen=True)
class Sight:
    """A drawing with the words that stand for it."""

    words: str
    drawing: Markup


def _rect(x: float, y: float, w: float, h: float, kind: str, r: float = 0) -> str:
    return f'<rect class="{kind}" x="{x:g}" y="{y:g}" width="{w:g}" height="{h:g}" rx="{r:g}"/>'


def _path(d: str, kind: str) -> str:
    return f'<path class="{kind}" d="{d}"/>'


def _face(inside: str) -> str:
    """A fracture face seen from above: its roads side by side."""
    return _rect(6, 6, 84, 52, "m", 3) + inside + _roads("l")


def _roads(kind: str) -> str:
    return "".join(_path(f"M6 {y:g}H90", kind) for y in (14.7, 23.3, 32, 40.7, 49.3))


def _specks(x: float, y: float, w: float, h: float, count: int, seed: int) -> str:
    """Short hairs of torn, pale material within a rectangle."""
    draw = random.Random(seed)
    hairs = []
    for _ in range(count):
        a, b = x + draw.random() * w, y + draw.random() * h
        hairs.append(f"M{a:.1f} {b:.1f}l{draw.uniform(-2, 2):.1f} {draw.uniform(-2.4, -1):.1f}")
    return _path("".join(hairs), "w")


def _whitening_most() -> str:
    return _face(_rect(9, 8, 76, 46, "h", 6) + _specks(11, 12, 72, 40, 90, 1))


def _whitening_patches() -> str:
    spots = ((13, 11, 22, 13), (55, 9, 20, 11), (28, 33, 18, 14), (66, 36, 17, 12))
    islands = [
        _rect(x, y, w, h, "h", 6) + _specks(x + 2, y + 3, w - 4, h - 4, 14, n) for n, (x, y, w, h) in enumerate(spots)
    ]
    return _face("".join(islands))


def _whitening_last_ligament() -> str:
    return _face(_rect(78, 6, 12, 52, "h", 3) + _specks(79, 10, 10, 46, 34, 3))


def _bare_roads_both() -> str:
    """Two halves in section, opened like a book: round crowns face each other."""
    upper = "".join(_path(f"M{x} 8V20a7 5 0 0 0 14 0V8Z", "b") for x in (13, 27, 41, 55, 69))
    lower = "".join(_path(f"M{x} 56V44a7 5 0 0 1 14 0V56Z", "b") for x in (13, 27, 41, 55, 69))
    return upper + lower + _path("M6 32H90", "l dash")


def _gaps_mate() -> str:
    """Both halves from above, one mirrored: the same road ends and begins at the same place."""
    halves = []
    for left, gap_from in ((4, 26), (52, 56)):
        halves.append(_rect(left, 10, 40, 44, "m", 3))
        halves += [_path(f"M{left} {y}H{left + 40}", "l") for y in (19, 28, 37, 46)]
        halves.append(_rect(gap_from, 28, 14, 9, "h"))
    return "".join(halves) + _path("M48 4V60", "l dash")


def _thin_roads() -> str:
    """Roads in section: full ones touch, thin ones leave daylight between them."""
    full = "".join(f'<ellipse class="m" cx="{x}" cy="16" rx="8" ry="6"/>' for x in (16, 31, 46, 61, 76))
    thin = "".join(f'<ellipse class="h" cx="{x}" cy="46" rx="4.6" ry="6"/>' for x in (16, 31, 46, 61, 76))
    return full + _path("M6 31H90", "l dash") + thin


def _layers(y_of: str) -> str:
    """A side view of stacked layers with the path of the break through them."""
    lines = "".join(_path(f"M8 {y}H88", "l") for y in range(12, 60, 8))
    return _rect(8, 6, 80, 52, "m", 2) + lines + _path(y_of, "break")


def _one_layer_plane() -> str:
    return _layers("M4 36H92")


def _several_planes() -> str:
    return _layers("M4 44H26V36H48V28H70V20H92")


def _roads_crossed() -> str:
    """Cut ends of roads, round, with torn material in them."""
    ends = []
    for n, (x, y) in enumerate((x, y) for y in (20, 44) for x in (16, 37, 58, 79)):
        ends.append(f'<ellipse class="h" cx="{x}" cy="{y}" rx="9.5" ry="9"/>' + _specks(x - 5, y - 2, 10, 7, 9, 20 + n))
    return "".join(ends)


def _drawn_lips() -> str:
    """A wall in section that thins and is pulled out before it parted."""
    return (
        _path("M20 58V30C20 22 27 20 29 6C31 20 40 22 40 30V58Z", "m")
        + _path("M56 58V30C56 22 63 22 66 10C67 22 76 22 76 30V58Z", "m")
        + _path("M25 22C27 17 28 12 29 6M62 22C64 19 65.5 15 66 10", "w")
    )


def _crazes() -> str:
    draw = random.Random(5)
    lines = "".join(f"M{16 + 3.4 * n:.1f} {6 + draw.uniform(0, 3):.1f}v{draw.uniform(8, 20):.1f}" for n in range(20))
    return _rect(6, 6, 84, 52, "m", 3) + _path(lines, "w")


def _beach_marks() -> str:
    arcs = "".join(_path(f"M{6 + r:g} 58A{r} {r} 0 0 0 6 {58 - r:g}", "h-line") for r in (10, 18, 26, 34, 42))
    rough = _specks(56, 10, 32, 44, 40, 9)
    return _rect(6, 6, 84, 52, "m", 3) + arcs + rough + '<circle class="dot" cx="6" cy="58" r="3"/>'


def _glossy_patch() -> str:
    """An outer wall with its layer lines; in the patch they are flattened and scored along the motion."""
    lines = "".join(_path(f"M6 {y}H90", "l") for y in range(12, 58, 6))
    scores = "".join(f"M{x} {18 + (x % 5)}l5 {27 - (x % 4)}" for x in range(34, 62, 4))
    return (
        _rect(6, 6, 84, 52, "m", 3)
        + lines
        + '<ellipse class="h" cx="50" cy="32" rx="24" ry="18"/>'
        + _path(scores, "l")
    )


def _sight(words: str, inside: str) -> Sight:
    return Sight(words, Markup(inside))


SIGHTS: dict[str, Sight] = {
    "whitening_most": _sight("a face, pale and hairy nearly all over", _whitening_most()),
    "whitening_patches": _sight("a face with pale islands between plain roads", _whitening_patches()),
    "whitening_last_ligament": _sight("a plain face with one pale rim", _whitening_last_ligament()),
    "bare_roads_both": _sight("two halves in section, round crowns facing each other", _bare_roads_both()),
    "gaps_mate": _sight("two halves, one mirrored, a road missing at the same place of both", _gaps_mate()),
    "thin_roads": _sight("roads in section: full ones touch, thin ones stand apart", _thin_roads()),
    "one_layer_plane": _sight("stacked layers, the break straight along one of them", _one_layer_plane()),
    "several_planes": _sight("stacked layers, the break in steps over several", _several_planes()),
    "roads_crossed": _sight("round ends of roads, torn through", _roads_crossed()),
    "drawn_lips": _sight("two walls in section, thinned and pulled out to a lip", _drawn_lips()),
    "crazes": _sight("many short pale lines side by side from one edge", _crazes()),
    "beach_marks": _sight("rings around one corner, rough ground away from it", _beach_marks()),
    "glossy_patch": _sight("layer lines, flattened and scored within a patch", _glossy_patch()),
}
