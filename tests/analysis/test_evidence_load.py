"""The load against the strength of a whole face, as evidence."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.evidence.catalogue import MODES, load_catalogue
from analysis.evidence.load import CODE, seen_from_load
from analysis.evidence.observations import ObservationRefused, Seen
from analysis.evidence.verdict import weigh
from analysis.evidence.weights import weigh_each

BOOK = load_catalogue()
BARE = Seen("bare_roads_both", "yes")


def own(exceeded: float, interval: tuple[float, float] | None = None) -> dict[str, float]:
    """Weights per mode of that probability alone, dB."""
    return dict(weigh_each([seen_from_load(exceeded, interval)], BOOK)[0].own_db)


def test_a_load_beyond_a_whole_face_speaks_for_overload() -> None:
    """Interference of load and strength: where the whole face could not hold, no weak build is needed."""
    weights = own(0.95, (0.9, 0.99))
    assert max(weights, key=lambda m: weights[m]) == "overload"
    assert weights["overload"] > 3


def test_a_load_that_a_whole_face_carries_speaks_for_a_weak_build() -> None:
    """The same law the other way round: overload loses, both weak builds gain alike."""
    weights = own(0.01, (0.0, 0.04))
    assert min(weights, key=lambda m: weights[m]) == "overload"
    assert weights["layer_delamination"] == weights["under_extrusion"] > 0


@given(st.floats(0, 1), st.floats(0, 1))
def test_the_higher_the_probability_the_more_for_overload(one: float, two: float) -> None:
    """Against delamination the weight for overload never falls as the probability rises (one interval width)."""
    low, high = (own(p) for p in sorted((one, two)))
    gap = [w["overload"] - w["layer_delamination"] for w in (low, high)]
    assert gap[0] <= gap[1] + 1e-9


def test_a_wide_interval_weighs_less() -> None:
    """A probability that is hardly known pulls the modes less far apart."""
    pulls = [max(w.values()) - min(w.values()) for w in (own(0.9, (0.85, 0.95)), own(0.9), own(0.9, (0.1, 1.0)))]
    assert pulls[0] > pulls[1] > pulls[2]


def test_it_does_not_count_the_weld_twice() -> None:
    """Bare roads and a load that a whole face carries both say weak weld: together less than their sum."""
    load = seen_from_load(0.01, (0.0, 0.04))
    together = {w.seen.code: w.factor for w in weigh_each([BARE, load], BOOK)}
    assert together["bare_roads_both"] == 1.0
    assert together[CODE] < 0.75
    sure, both = weigh([BARE]).probabilities, weigh([BARE, load]).probabilities
    assert set(both) == set(MODES)
    assert both["overload"] <= sure["overload"]


@pytest.mark.parametrize(
    ("exceeded", "interval"), [(1.2, None), (math.nan, None), (0.5, (0.6, 0.4)), (0.5, (-0.1, 0.4)), (0.5, (0.4,))]
)
def test_impossible_probabilities_are_refused(exceeded: float, interval: tuple[float, float] | None) -> None:
    """Numbers that are no probabilities, and an interval upside down, are refused by name."""
    with pytest.raises(ObservationRefused, match=CODE):
        seen_from_load(exceeded, interval)
