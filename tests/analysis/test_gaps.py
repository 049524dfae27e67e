"""Gaps along walls: drawn with known ends, then found."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.measures.gaps import find_gaps, find_runs, measure_wall, missing_along, stamp_gaps, wall_json
from analysis.roads.walls import find_walls, trace_walls
from analysis.roads.workview import ROAD_PX
from tests.analysis.drawn_face import LINE_WIDTH_MM, ROAD_PHOTO_PX, angle_map, circle, radius_map, reading_of, view_of

CENTRE = (500.0, 500.0)
RADIUS = 400.0


def _measured(gaps: list[tuple[float, float]], wall_index: int = 0):
    """A disc of two walls, one of them missing between the given angles (degrees, clockwise on the photo)."""
    view = view_of(circle(CENTRE, RADIUS))
    depth = RADIUS / ROAD_PHOTO_PX - radius_map(view, CENTRE)
    angle = np.degrees(angle_map(view, CENTRE))
    kind = np.full(view.inside.shape, 3)
    kind[(depth > 0) & (depth < 2)] = 1
    kind[(depth > 0) & (depth < 2) & (angle < 180)] = 0
    here = np.floor(depth) == wall_index
    for start, end in gaps:
        inside = (angle >= start) & (angle < end) if start < end else (angle >= start) | (angle < end)
        kind[here & inside] = 2
    field = find_walls(view, 2, ROAD_PX)
    reading = reading_of(view, kind)
    walls = trace_walls(view, field)
    found = [find_gaps(view, w, m) for w, m in zip(walls, missing_along(view, reading, walls), strict=True)]
    reading = stamp_gaps(view, field, reading, walls, found)
    return view, [
        measure_wall(view, field, reading, view.inside, wall, gaps, 0.7)
        for wall, gaps in zip(walls, found, strict=True)
    ]


class TestMeasureWall:
    @pytest.mark.parametrize("gap", [(40.0, 75.0), (350.0, 20.0), (100.0, 106.0)])
    def test_ends_of_a_drawn_gap(self, gap: tuple[float, float]) -> None:
        """Both ends of a drawn gap are found to 0.1 mm, also where it runs over the wall's start."""
        view, walls = _measured([gap])
        radius_mm = (RADIUS / ROAD_PHOTO_PX - 0.5) * LINE_WIDTH_MM
        found = wall_json(view, walls[0])["gaps"]

        assert len(found) == 1
        assert found[0]["length_mm"] == pytest.approx(np.radians((gap[1] - gap[0]) % 360) * radius_mm, abs=0.1)
        for key, angle in (("start_px", gap[0]), ("end_px", gap[1])):
            x, y = np.array(found[0][key]) - CENTRE
            off = (np.degrees(np.arctan2(y, x)) - angle + 180) % 360 - 180
            assert abs(np.radians(off) * radius_mm) < 0.1

    def test_continuity_is_what_is_left(self) -> None:
        """A quarter of the wall missing: continuity 0.75 on that wall, 1 on the other."""
        _, walls = _measured([(10, 100)])
        assert walls[0].continuity == pytest.approx(0.75, abs=0.01)
        assert walls[1].continuity == 1.0

    def test_gap_on_the_inner_wall_only(self) -> None:
        """A gap is laid to the wall it lies on."""
        _, walls = _measured([(10, 100)], wall_index=1)
        assert not walls[0].gaps
        assert len(walls[1].gaps) == 1

    def test_two_gaps_stay_two(self) -> None:
        """Gaps a road apart and more are told apart."""
        _, walls = _measured([(40, 60), (80, 120)])
        assert len(walls[0].gaps) == 2

    def test_bonded_fraction_of_a_half_welded_wall(self) -> None:
        """Half of the ring bonded, half bare: one half."""
        _, walls = _measured([])
        assert walls[0].bonded_fraction == pytest.approx(0.5, abs=0.02)


class TestFindRuns:
    def test_all_missing_is_one_run(self) -> None:
        """A wall that is not there at all is one gap as long as the wall."""
        assert find_runs(np.ones(50), 5) == [(0.0, 50.0)]

    def test_short_runs_are_dropped(self) -> None:
        """Less than half a road is no gap, by definition."""
        line = np.zeros(100)
        line[10:13] = 1
        assert find_runs(line, 6) == []

    @settings(max_examples=60)
    @given(st.integers(0, 199), st.integers(10, 80), st.integers(0, 199))
    def test_where_the_line_starts_changes_nothing(self, start: int, length: int, turn: int) -> None:
        """Rolling a closed line rolls its gap."""
        line = np.zeros(200)
        line.put(range(start, start + length), 1, mode="wrap")
        first, second = find_runs(line, 5)[0], find_runs(np.roll(line, turn), 5)[0]
        assert second[1] - second[0] == pytest.approx(first[1] - first[0])
        assert (second[0] - first[0] - turn + 100) % 200 - 100 == pytest.approx(0, abs=1e-9)
