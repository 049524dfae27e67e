"""Two halves of one break speak once."""

from hypothesis import given
from hypothesis import strategies as st

from analysis.evidence.both_halves import of_both_halves
from analysis.evidence.observations import Seen, from_measures
from analysis.evidence.verdict import weigh


def result(continuity: float, gap_mm: float, fraction: float = 0.6, half: float = 0.1) -> dict[str, object]:
    """A face's measures."""
    return {
        "surface": "fracture",
        "face_area_mm2": 60.0,
        "bonded_area_fraction": {"value": fraction, "interval": [fraction - half, fraction + half]},
        "walls": [{"length_mm": 30.0, "continuity": continuity}],
        "largest_gap_mm": gap_mm,
        "layer_planes": [{"area_share": 1.0}],
    }


def test_the_half_that_misses_the_road_knows() -> None:
    """A whole wall on the mate doesn't speak against the gap that lies opposite; in either order."""
    gapped, whole = from_measures(result(0.80, 4.6)), from_measures(result(1.0, 0.0))
    for pair in ((gapped, whole), (whole, gapped)):
        told = {entry.code: entry.value for entry in of_both_halves(*pair)}
        assert told["longest_gap"] == "4.6 mm"
        assert told["wall_gap_share"] == "20.0% of the walls' length"


def test_the_surer_half_gives_the_bonded_share() -> None:
    """Of two readings of one contact the narrower one is weighed."""
    rough, fine = from_measures(result(1.0, 0.0, 0.6, 0.3)), from_measures(result(1.0, 0.0, 0.55, 0.04))
    (told,) = [entry for entry in of_both_halves(rough, fine) if entry.code == "bonded_contact"]
    assert told.value.startswith("55%")


def test_a_half_alone_is_taken_as_it_is() -> None:
    """Without a mate nothing changes, whichever half it is that was measured."""
    alone = from_measures(result(0.9, 2.0))
    assert of_both_halves(alone, []) == alone == of_both_halves([], alone)


@given(st.floats(0, 1), st.floats(0, 9), st.floats(0.02, 0.98))
def test_a_mate_that_shows_the_same_changes_nothing(continuity: float, gap_mm: float, fraction: float) -> None:
    """The same sight twice is one sight."""
    seen = from_measures(result(continuity, gap_mm, fraction))
    twice: list[Seen] = of_both_halves(seen, seen)
    assert weigh(twice).probabilities == weigh(seen).probabilities
