"""The catalogue of evidence and the way from measures to observations."""

import math
import tomllib
from importlib import resources
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.evidence.catalogue import MODES, CatalogueError, Observation, check_prior, load_catalogue, parse_catalogue
from analysis.evidence.observations import ObservationRefused, Seen, from_measures, range_shares
from analysis.evidence.weights import weigh_each

BOOK = load_catalogue()
TEXT = resources.files("analysis.evidence").joinpath("evidence.toml").read_text(encoding="utf-8")
STATUSES = {
    "direction from the source, figures judgement",
    "direction from the source, figures estimated on rendered faces",
    "estimated on rendered faces",
    "common practice, no source",
    "judgement",
}


def face(**measures: Any) -> dict[str, Any]:
    """A fracture face's result with the measures that matter to a test."""
    return {"surface": "fracture", "face_area_mm2": 40.0, **measures}


def bonded(value: float, low: float, high: float, bounds: list[float] | None = None) -> dict[str, Any]:
    """A bonded share with its 90 % interval."""
    return face(bonded_area_fraction={"value": value, "interval": [low, high], "bounds": bounds})


def spread(result: dict[str, Any], code: str = "bonded_contact") -> float:
    """How far apart one measure's weights pull the modes, dB."""
    weights = next(w for w in weigh_each(from_measures(result), BOOK) if w.observation.code == code).own_db
    return max(weights.values()) - min(weights.values())


class TestDataFile:
    @pytest.mark.parametrize("entry", BOOK.observations.values(), ids=lambda entry: entry.code)
    def test_every_entry_is_whole(self, entry: Observation) -> None:
        """Each observation says what to look for, why it weighs, and how well that is known."""
        assert len(entry.look_for) > 20
        assert len(entry.reason) > 20
        assert entry.source
        assert entry.status in STATUSES
        if "direction" in entry.status:
            assert "no source" not in entry.source

    @pytest.mark.parametrize("entry", BOOK.observations.values(), ids=lambda entry: entry.code)
    def test_no_outcome_can_only_speak_one_way(self, entry: Observation) -> None:
        """For every mode the outcomes' weights have both signs or are all 0: seeing must be able to go either way."""
        for mode in MODES:
            weights = [entry.weights_db(outcome)[mode] for outcome in entry.bins]
            nothing = all(abs(w) < 1e-9 for w in weights)
            assert nothing or (min(weights) < 0 < max(weights))

    def test_the_number_of_questions_stays_answerable(self) -> None:
        """A person is asked between 15 and 30 questions."""
        assert 15 <= len(BOOK.answers()) <= 30

    @pytest.mark.parametrize("code", ["layer_delamination", "under_extrusion", "overload", "interference_rub"])
    def test_every_mode_has_its_own_mark(self, code: str) -> None:
        """Each mode names the groups of evidence that show it, and they exist."""
        assert BOOK.marks[code]
        assert set(BOOK.marks[code]) <= set(BOOK.groups)

    @pytest.mark.parametrize(
        ("code", "outcome", "mode"),
        [
            ("whitening_most", "yes", "overload"),
            ("drawn_lips", "yes", "overload"),
            ("roads_crossed", "yes", "overload"),
            ("several_planes", "yes", "overload"),
            ("overload_seen", "yes", "overload"),
            ("bonded_contact", "85 % and more", "overload"),
            ("bare_roads_both", "yes", "layer_delamination"),
            ("one_layer_plane", "yes", "layer_delamination"),
            ("bonded_contact", "under 25 %", "layer_delamination"),
            ("contact_touched", "35 % and more", "layer_delamination"),
            ("gaps_mate", "yes", "under_extrusion"),
            ("thin_roads", "yes", "under_extrusion"),
            ("wall_gap_share", "15 % and more", "under_extrusion"),
            ("longest_gap", "2 mm and more", "under_extrusion"),
            ("glossy_patch", "yes", "interference_rub"),
            ("powder", "yes", "interference_rub"),
            ("rub_area", "3 mm² and more", "interference_rub"),
        ],
    )
    def test_features_point_where_fractography_says(self, code: str, outcome: str, mode: str) -> None:
        """Feature and what it points to, as in handbook tables of polymer fractography (from memory)."""
        weights = BOOK.observations[code].weights_db(outcome)
        assert max(weights, key=lambda m: weights[m]) == mode

    def test_no_whitening_speaks_against_overload(self) -> None:
        """Looked at and not whitened: that counts against overload, but less than whitening counts for it."""
        entry = BOOK.observations["whitening_most"]
        assert entry.weights_db("no")["overload"] < 0
        assert abs(entry.weights_db("no")["overload"]) < entry.weights_db("yes")["overload"]

    def test_every_cause_can_be_raised(self) -> None:
        """Each contributing cause has an observation that raises it above 5 dB."""
        for cause in BOOK.causes:
            pairs = [entry.causes[cause] for entry in BOOK.answers() if entry.causes and cause in entry.causes]
            assert pairs
            assert all(present > absent for present, absent in pairs)

    @given(st.sampled_from(list(BOOK.observations.values())), st.lists(st.floats(0.01, 1), min_size=4, max_size=4))
    def test_nobody_can_expect_to_be_swayed(self, entry: Observation, raw: list[float]) -> None:
        """Averaged over its outcomes an observation leaves the prior where it was (law of total probability)."""
        prior = check_prior(dict(zip(MODES, raw, strict=True)))
        expected = dict.fromkeys(MODES, 0.0)
        for outcome in entry.bins:
            factors = {m: prior[m] * 10 ** (entry.weights_db(outcome)[m] / 10) for m in MODES}
            place = entry.bins.index(outcome)
            chance = sum(prior[m] * entry.likelihood[m][place] for m in MODES)
            for mode in MODES:
                expected[mode] += chance * factors[mode] / sum(factors.values())
        assert expected == pytest.approx(prior)


class TestFileRefused:
    @pytest.mark.parametrize(
        ("old", "new", "words"),
        [
            ("layer_delamination = 0.06, under_extrusion = 0.20", "layer_delamination = 0.0, under_extrusion = 0.2",
             "whitening_most.*nothing is certain"),
            ("p.layer_delamination = [0.20, 0.35, 0.45]", "p.layer_delamination = [0.20, 0.35, 0.40]",
             "contact_touched.*sum to 1"),
            ('group = "contact"', 'group = "luck"', "no group luck"),
            ("edges = [0.10, 0.35]", "edges = [0.35, 0.10]", "rising limits"),
            ("overload = 0.25\n", "overload = 0\n", "prior of overload"),
            ('code = "powder"', 'code = "drawn_lips"', "share a code"),
            ("moisture = [", "weather = [", "no cause weather"),
        ],
    )  # fmt: skip
    def test_a_wrong_entry_is_named(self, old: str, new: str, words: str) -> None:
        """An edited file that contradicts itself is refused with the entry's code."""
        assert old in TEXT
        with pytest.raises(CatalogueError, match=words):
            parse_catalogue(TEXT.replace(old, new))

    def test_weights_are_not_stored(self) -> None:
        """The file holds probabilities alone; a stored weight could disagree with them."""
        assert not any("weights_db" in entry for entry in tomllib.loads(TEXT)["observation"])


class TestFromMeasures:
    def test_null_measures_give_no_observation(self) -> None:
        """Unknown is unknown: a result without a number adds nothing but the fact of the break."""
        nothing = face(bonded_area_fraction=None, walls=[], largest_gap_mm=None, layer_planes=[], touched_share=None)
        assert [s.code for s in from_measures(nothing)] == ["came_apart"]
        empty = {"value": None, "interval": None, "bounds": None}
        assert [s.code for s in from_measures(face(bonded_area_fraction=empty))] == ["came_apart"]

    def test_not_a_number_is_unknown(self) -> None:
        """NaN counts as null, not as a value."""
        assert [s.code for s in from_measures(face(largest_gap_mm=math.nan))] == ["came_apart"]

    def test_an_outer_surface_speaks_about_rubbing_alone(self) -> None:
        """A bonded share on an outer surface is not evidence, and a photo of one is no evidence of a rub."""
        result = {**bonded(0.1, 0.05, 0.15), "surface": "outer", "rub_area_mm2": 8.0}
        assert [s.code for s in from_measures(result)] == ["rub_area"]
        assert from_measures({**result, "rub_area_mm2": None}) == []

    @pytest.mark.parametrize(
        ("result", "code", "mode"),
        [
            (bonded(0.10, 0.05, 0.15), "bonded_contact", "layer_delamination"),
            (bonded(0.95, 0.90, 0.98), "bonded_contact", "overload"),
            (face(largest_gap_mm=4.0), "longest_gap", "under_extrusion"),
            (face(walls=[{"length_mm": 30.0, "continuity": 0.7}]), "wall_gap_share", "under_extrusion"),
            (face(touched_share=0.6), "contact_touched", "layer_delamination"),
            (face(gap_agreement=0.9, gap_agreement_by_chance=0.1), "gaps_confirmed", "under_extrusion"),
            (face(layer_planes=[{}, {}, {}]), "plane_count", "overload"),
            ({"surface": "outer", "rub_area_mm2": 9.0}, "rub_area", "interference_rub"),
        ],
    )
    def test_a_clear_measure_points_at_its_mode(self, result: dict[str, Any], code: str, mode: str) -> None:
        """Each measure at a clear value weighs most for the mode whose mark it is."""
        weights = next(w for w in weigh_each(from_measures(result), BOOK) if w.observation.code == code).own_db
        assert max(weights, key=lambda m: weights[m]) == mode

    def test_walls_count_by_their_length(self) -> None:
        """A short broken wall beside a long whole one is a small share: 10 % of 30 + 70 mm lost in the short one."""
        walls = [{"length_mm": 30.0, "continuity": 2 / 3}, {"length_mm": 70.0, "continuity": 1.0}]
        seen = next(s for s in from_measures(face(walls=walls)) if s.code == "wall_gap_share")
        assert seen.value == "10.0% of the walls' length"
        assert max(range(4), key=lambda i: seen.shares[i]) == 2  # 5 to 15 %

    @pytest.mark.parametrize("value", [0.1, 0.55, 0.92])
    def test_a_wider_interval_weighs_less(self, value: float) -> None:
        """The same share known less well pulls the modes less far apart."""
        pulls = [spread(bonded(value, max(0.0, value - w), min(1.0, value + w))) for w in (0.05, 0.2, 0.6)]
        assert pulls[0] > pulls[1] > pulls[2]

    def test_unknown_zones_weaken_the_weight(self) -> None:
        """Bounds far apart, because much of the face can't be read, make the measure weigh less."""
        assert spread(bonded(0.92, 0.87, 0.97, [0.45, 0.97])) < spread(bonded(0.92, 0.87, 0.97, [0.91, 0.93]))

    def test_a_share_without_interval_is_rough(self) -> None:
        """A missing interval is not an interval of width 0."""
        rough = face(bonded_area_fraction={"value": 0.92, "interval": None, "bounds": None})
        assert spread(rough) < spread(bonded(0.92, 0.89, 0.95))

    def test_a_mate_that_does_not_fit_confirms_nothing(self) -> None:
        """A refused mate gives no observation about gaps."""
        refused = face(gap_agreement=0.9, gap_agreement_by_chance=0.1, mate_fit="refused")
        assert "gaps_confirmed" not in [s.code for s in from_measures(refused)]

    def test_the_origin_is_handed_through(self) -> None:
        """Every observation can be traced to the caller's measurement."""
        assert {s.origin for s in from_measures(bonded(0.5, 0.4, 0.6), origin="measurement 7")} == {"measurement 7"}


class TestRangeShares:
    @given(st.floats(0, 1), st.floats(0, 2), st.lists(st.floats(0.01, 0.99), min_size=1, max_size=5, unique=True))
    def test_shares_are_a_distribution(self, value: float, sd: float, edges: list[float]) -> None:
        """The shares of the ranges are never negative and sum to 1, however wide the reading."""
        shares = range_shares(value, sd, sorted(edges), 0.0, 1.0)
        assert sum(shares) == pytest.approx(1)
        assert min(shares) >= 0

    def test_normal_by_hand(self) -> None:
        """68.27 % of a normal lie within one standard deviation (table of the normal distribution)."""
        assert range_shares(5, 1, [4, 6], -math.inf, math.inf)[1] == pytest.approx(0.6827, abs=5e-5)

    def test_an_exact_value_on_a_limit_belongs_above(self) -> None:
        """A value on a limit falls in the range that begins there."""
        assert range_shares(0.25, 0, [0.25, 0.5], 0, 1) == (0, 1, 0)

    def test_a_reading_outside_what_can_be_is_pulled_in(self) -> None:
        """A share read as 1.3 counts as the highest possible."""
        assert range_shares(1.3, 0.01, [0.5], 0, 1)[1] == pytest.approx(1)


class TestSeen:
    def test_an_answer_must_be_one_of_three(self) -> None:
        """Anything but yes, no and can't tell is refused with what to give."""
        with pytest.raises(ObservationRefused, match="give yes, no or cant_tell"):
            Seen("powder", "maybe")  # type: ignore[arg-type]

    @pytest.mark.parametrize("strength", [-0.1, 1.1, math.nan])
    def test_strength_lies_between_0_and_1(self, strength: float) -> None:
        """A strength outside 0 to 1 is refused."""
        with pytest.raises(ObservationRefused, match="not between 0 and 1"):
            Seen("powder", "yes", strength=strength)

    def test_an_unknown_code_is_refused_by_name(self) -> None:
        """A code that isn't in the catalogue can't be weighed."""
        with pytest.raises(ObservationRefused, match="moon_phase"):
            weigh_each([Seen("moon_phase", "yes")], BOOK)

    def test_a_measure_is_not_answered_by_hand(self) -> None:
        """A measure without its ranges, or denied, is refused."""
        for answer in ("yes", "no"):
            with pytest.raises(ObservationRefused, match="is a measure"):
                weigh_each([Seen("rub_area", answer)], BOOK)  # type: ignore[arg-type]
