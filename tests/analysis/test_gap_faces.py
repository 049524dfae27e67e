"""The faces that the gap network learns from: what they are labelled with has to be what was planned."""

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from analysis.training.gap_faces import LEAN, lean, write_face
from analysis.training.render.spec import Spec

SEEDS = LEAN[:3]


@pytest.fixture(scope="module")
def planned() -> dict[int, Spec]:
    return {seed: lean(seed) for seed in SEEDS}


@pytest.fixture(scope="module")
def written(planned, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("faces") / "face.npz"
    write_face(path, "face", planned[SEEDS[0]])
    return path


def test_gaps_lie_apart(planned):
    """No two gaps of a lean face lie nearer than a road width along the same wall, the wall's start included."""
    for spec in planned.values():
        assert spec.defects.gaps
        for one, other in combinations(spec.defects.gaps, 2):
            round_mm = spec.plan.walls[one.wall].length_mm
            between = abs(((one.start_mm + one.end_mm) - (other.start_mm + other.end_mm)) / 2)
            between = min(between, round_mm - between) - (one.length_mm + other.length_mm) / 2
            assert one.wall != other.wall or between > spec.plan.line_width_mm


def test_labels_are_the_planned_gaps(planned, written):
    """The share of unrolled wall that is labelled missing is the planned gaps' length over the walls' (to 0.01)."""
    spec = planned[SEEDS[0]]
    with np.load(written) as stored:
        missing, columns = stored["missing"], stored["columns"]
    gaps = sum(gap.length_mm for gap in spec.defects.gaps)
    walls = sum(wall.length_mm for wall in spec.plan.walls)

    assert columns.sum() == len(missing)
    assert missing.mean() == pytest.approx(gaps / walls, abs=0.01)


def test_same_seed_same_file(written, tmp_path):
    """What a face is written as follows from its seed alone, byte for byte: so the training can be done again."""
    write_face(tmp_path / "again.npz", "face", lean(SEEDS[0]))

    assert (tmp_path / "again.npz").read_bytes() == written.read_bytes()
