"""Directions as strokes over a photo: on an outer surface an arrow along scratches and rails along the layer lines."""

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from server.records import Photo

Line = list[tuple[float, float]]
Sign = Literal["arrow", "rails", "way", "origin", "hinge"]
REACH = 0.14  # of the photo's longer side, from the middle to an end
LEAST_REACH = 0.09  # where the patch is small
HEAD = 0.025
RAILS = 0.022  # half their distance


@dataclass(frozen=True)
class Direction:
    """One direction: its strokes in px of the photo, the words in the legend and its sign there.

    `doubt_px` are strokes that show how unsure it is, drawn thinner.
    """

    name: str
    words: str
    lines_px: list[Line]
    sign: Sign
    doubt_px: list[Line] = field(default_factory=list)

    @property
    def paths(self) -> list[str]:
        """The strokes as SVG points; the view draws pixel centres half a pixel from the corner."""
        return [_svg(line) for line in self.lines_px]

    @property
    def doubt_paths(self) -> list[str]:
        """The strokes of `doubt_px` likewise."""
        return [_svg(line) for line in self.doubt_px]


def _svg(line: Line) -> str:
    return " ".join(f"{x + 0.5:.1f},{y + 0.5:.1f}" for x, y in line)


def directions_of(result: dict[str, Any], photo: Photo) -> list[Direction]:
    """Return what is known of directions on an outer surface; through the patch where there is one."""
    longest = max(photo.width_px, photo.height_px)
    ring = np.array(result.get("rub_outline_px") or [], float).reshape(-1, 2)
    middle, reach = np.array([photo.width_px / 2, photo.height_px / 2]), REACH * longest
    if len(ring):
        middle = (ring.min(0) + ring.max(0)) / 2
        reach = float(np.clip((ring.max(0) - ring.min(0)).min() * 0.5, LEAST_REACH * longest, REACH * longest))
    found = []
    if result.get("scratch_deg") is not None:
        lines = _arrow(middle, result["scratch_deg"], reach, HEAD * longest)
        found.append(Direction("scratches", "direction of the scratches", lines, "arrow"))
    if result.get("layer_line_deg") is not None:
        lines = _rails(middle, result["layer_line_deg"], reach, RAILS * longest)
        found.append(Direction("layer-lines", "direction of the layer lines", lines, "rails"))
    return found


def along(deg: float) -> NDArray[np.float64]:
    # Clockwise on the photo, y downward.
    return np.array([np.cos(np.radians(deg)), np.sin(np.radians(deg))])


def _arrow(middle: NDArray[np.float64], deg: float, reach: float, head: float) -> list[Line]:
    ahead = along(deg)
    lines = [[middle - reach * ahead, middle + reach * ahead]]
    for sense in (1, -1):
        tip = middle + sense * reach * ahead
        lines.append([tip - sense * head * along(deg + 35), tip, tip - sense * head * along(deg - 35)])
    return [plain(line) for line in lines]


def _rails(middle: NDArray[np.float64], deg: float, reach: float, apart: float) -> list[Line]:
    ahead, aside = along(deg), along(deg + 90)
    return [
        plain([middle + side * apart * aside - reach * ahead, middle + side * apart * aside + reach * ahead])
        for side in (-1, 1)
    ]


def plain(line: list[NDArray[np.float64]]) -> Line:
    return [(float(x), float(y)) for x, y in line]
