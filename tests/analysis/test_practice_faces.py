"""Practice faces that the stored network never saw are measured within what their profiles promise.

The faces are rendered (see tests/faces/README.md): what is held here is robustness, not accuracy on real photographs.
Single faces scatter about the mean errors that the benchmark prints, so each limit is about three times the mean
error reached on unseen faces of its profile; a broken stage overshoots it by far.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from analysis.training.practice import HELD_OUT
from tests.bench.reading import fracture_faces, measure
from tests.bench.scoring import FaceScore, score_fracture

FACES = Path(__file__).parents[1] / "faces"
SHARE_LIMIT = {"easy": 0.20, "typical": 0.25, "hard": 0.30}


@pytest.fixture(scope="module")
def measured() -> dict[str, tuple[dict[str, Any] | None, FaceScore]]:
    """Result and score of every unseen face, measured once."""
    found = {}
    for name in HELD_OUT:
        result = measure(FACES / name)
        found[name] = (result, score_fracture(FACES / name, result))
    return found


def test_unseen_faces_are_there() -> None:
    """The four faces kept out of training are among those carried here."""
    assert set(HELD_OUT) <= {f.name for f in fracture_faces(FACES)}


@pytest.mark.parametrize("name", HELD_OUT)
def test_bonded_share_is_near_the_truth(name: str, measured: dict[str, Any]) -> None:
    """Within the limit of its profile."""
    _, score = measured[name]
    assert score.values["bonded_share_of_face_error"] <= SHARE_LIMIT[score.profile]


def test_plain_answers_are_beaten(measured: dict[str, Any]) -> None:
    """On average over the unseen faces nearer than one threshold and than the best constant."""
    scores = [score.values for _, score in measured.values()]
    plain = ("bonded_share_of_face_error", "otsu_error", "constant_error")
    mean = {key: sum(s[key] for s in scores) / len(scores) for key in plain}
    assert mean["bonded_share_of_face_error"] < mean["otsu_error"]
    assert mean["bonded_share_of_face_error"] < mean["constant_error"]


def test_intervals_hold_most_unseen_faces(measured: dict[str, Any]) -> None:
    """A 90 % interval misses at most one of four (two misses in four have a chance of 5 %)."""
    held = [score.values["bonded_share_of_face_held"] for _, score in measured.values()]
    assert sum(held) >= len(held) - 1


@pytest.mark.parametrize("name", HELD_OUT)
def test_outline_is_found(name: str, measured: dict[str, Any]) -> None:
    """Intersection over union with the true face of at least 0.9."""
    assert measured[name][1].values["outline_iou"] > 0.9


@pytest.mark.parametrize("name", HELD_OUT)
def test_wall_continuity_is_near_the_truth(name: str, measured: dict[str, Any]) -> None:
    """On easy and typical faces within 0.15, three times the typical goal; hard ones may miss a dark wall."""
    _, score = measured[name]
    assert score.values["continuity_error"] <= {"easy": 0.15, "typical": 0.15, "hard": 0.45}[score.profile]


def test_mates_are_laid_on_each_other(measured: dict[str, Any]) -> None:
    """Each unseen face that has a mate is laid on it within half a road."""
    fitted = [s.values["mate_fitted"] for _, s in measured.values() if "mate_fitted" in s.values]
    assert fitted == [1.0] * 3
