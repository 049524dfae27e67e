"""The gaps of a measurement with what the photo shows of their cause, and where the seam is likely."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.measures.gapcause import Hint
from analysis.measures.seam import Key, Seam, WallGaps, find_seam, gap_path, recurring
from server.measuring.strips import title_of
from server.records import Measurement

Points = NDArray[np.float64]


@dataclass(frozen=True)
class Gap:
    """One gap, numbered from 1 through the whole measurement; `path_px` its course on the photo."""

    number: int
    outline: str
    index: int
    start_mm: float
    end_mm: float
    length_mm: float
    path_px: Points
    hint: Hint
    asked_mate: bool

    @property
    def wall(self) -> str:
        """The wall's name."""
        return title_of({"outline": self.outline, "index": self.index})


@dataclass(frozen=True)
class SeamLine:
    """A likely seam: across the walls on the photo, and at which mm of which wall (outline, index)."""

    line_px: Points
    at_mm: dict[tuple[str, int], float]
    walls: int
    whole_stretch: bool


def gaps_of(measurement: Measurement) -> tuple[list[Gap], list[SeamLine]]:
    """Return the gaps in the order of the result's walls, and the likely seams, one an outline at most."""
    by_outline: dict[str, list[dict[str, Any]]] = {}
    for wall in measurement.result.get("walls") or []:
        by_outline.setdefault(wall["outline"], []).append(wall)
    gaps: list[Gap] = []
    seams: list[SeamLine] = []
    for outline, walls in by_outline.items():
        found, seam = _of_outline(measurement, outline, walls, len(gaps))
        gaps += found
        seams += [seam] if seam else []
    return gaps, seams


def _of_outline(
    measurement: Measurement, outline: str, walls: list[dict[str, Any]], before: int
) -> tuple[list[Gap], SeamLine | None]:
    given, result = measurement.given, measurement.result
    width = given.get("line_width_mm") or 0.4
    spacing, mm_per_px = given.get("road_spacing_mm") or width, given["um_per_px"] / 1000
    is_hole = outline != "outer"
    rings = (result.get("holes_px") or []) if is_hole else [result.get("outline_px") or []]
    number = int(outline.removeprefix("hole")) if is_hole else 0
    if number >= len(rings) or not rings[number] or not all("start_px" in g for w in walls for g in w["gaps"]):
        return [], None  # an older or foreign result that doesn't say where its gaps lie
    ring = np.array(rings[number], float)
    lines = [
        WallGaps(w["index"], w["length_mm"], tuple((_xy(g["start_px"]), _xy(g["end_px"])) for g in w["gaps"]))
        for w in walls
    ]
    seam = find_seam(lines, width, spacing, mm_per_px)
    beside = recurring(lines, ring, spacing, mm_per_px, is_hole)
    gaps: list[Gap] = []
    for number, wall in enumerate(walls):
        for place, gap in enumerate(wall["gaps"]):
            path = gap_path(ring, *lines[number].gaps[place], is_hole)
            hint = _hint(gap, beside[number, place], seam, (number, place))
            lengths = (gap["start_mm"], gap["end_mm"], gap["length_mm"])
            gaps.append(Gap(before + len(gaps) + 1, outline, wall["index"], *lengths, path, hint, "confirmed" in gap))
    return gaps, _line(seam, outline, walls) if seam else None


def _xy(point: list[float]) -> tuple[float, float]:
    return (point[0], point[1])


def _hint(gap: dict[str, Any], beside: tuple[int, ...], seam: Seam | None, key: Key) -> Hint:
    there = seam is not None and key in seam.at
    return Hint(beside, there, there and seam is not None and seam.both_ends, gap.get("confirmed"))


def _line(seam: Seam, outline: str, walls: list[dict[str, Any]]) -> SeamLine:
    at = {}
    for number, place in seam.at:
        wall = walls[number]
        at[outline, wall["index"]] = wall["gaps"][place][f"{seam.side}_mm"] % wall["length_mm"]
    return SeamLine(seam.line_px, at, len(seam.at), seam.both_ends)


def hint_words(gap: Gap) -> list[str]:
    """Say what the photo shows of the gap, for the person who looks for its cause."""
    said = []
    if gap.hint.beside:
        walls = " and ".join(str(index + 1) for index in gap.hint.beside)
        said.append(f"recurs on wall {walls}")
    else:
        said.append("not on the neighbouring walls")
    if gap.hint.whole_stretch:
        said.append("the same stretch is missing on several walls")
    elif gap.hint.at_seam:
        said.append("one end lines up with other walls' gaps: likely the seam")
    if gap.index == 0:
        said.append("on the wall at the edge: look at the outside")
    return said
