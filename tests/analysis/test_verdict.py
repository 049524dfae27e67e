"""The verdict against worked examples of weighing, and the promises about groups, doubt and contradiction."""

import json
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.evidence import bayes
from analysis.evidence.catalogue import MODES, Catalogue, CatalogueError, Observation, load_catalogue
from analysis.evidence.next_look import next_looks
from analysis.evidence.observations import Seen, from_measures
from analysis.evidence.verdict import UNDETERMINED, cautions, leave_one_out, weigh
from analysis.evidence.weights import weigh_each
from analysis.evidence.words import grade

BOOK = load_catalogue()
CODES = [entry.code for entry in BOOK.answers()]

answers = st.dictionaries(st.sampled_from(CODES), st.sampled_from(["yes", "no", "cant_tell"]), max_size=12).map(
    lambda given: [Seen(code, answer) for code, answer in given.items()]  # type: ignore[arg-type]
)


def yes(*codes: str) -> list[Seen]:
    """Those features seen."""
    return [Seen(code, "yes") for code in codes]


def no(*codes: str) -> list[Seen]:
    """Those features looked for and not seen."""
    return [Seen(code, "no") for code in codes]


def small_book(rows: Mapping[str, Sequence[float]], prior: Sequence[float]) -> Catalogue:
    """A catalogue of yes/no observations with stated P(yes | mode), each in a group of its own."""
    entries = {
        code: Observation(
            code=code, words=code, look_for="", kind="answer", group=code, bins=("yes", "no"),
            likelihood={m: (p, 1 - p) for m, p in zip(MODES, row, strict=True)}, reason="", source="", status="",
        )
        for code, row in rows.items()
    }  # fmt: skip
    shares = dict(zip(MODES, prior, strict=True))
    return replace(BOOK, observations=entries, groups={c: c for c in rows}, prior=shares)


FOUR_MODES = small_book(
    {"first": (0.8, 0.5, 0.2, 0.1), "second": (0.7, 0.9, 0.2, 0.1), "third": (0.3, 0.2, 0.9, 0.2)}, (0.4, 0.3, 0.2, 0.1)
)


class TestWorkedExamples:
    def test_four_mode_update(self) -> None:
        """Prior .4 .3 .2 .1 and three observations, reckoned by hand: posterior and +4.6690 dB for the first mode."""
        verdict = weigh(yes("first", "second", "third"), catalogue=FOUR_MODES)
        assert list(verdict.probabilities.values()) == pytest.approx([0.661417, 0.265748, 0.070866, 0.001969], abs=5e-7)
        assert verdict.weight_db["layer_delamination"] == pytest.approx(4.6690, abs=5e-5)
        assert bayes.entropy_bits(FOUR_MODES.prior.values()) == pytest.approx(1.846439, abs=5e-7)
        assert bayes.entropy_bits(verdict.probabilities.values()) == pytest.approx(1.190838, abs=5e-7)

    def test_expected_information_of_the_first_look(self) -> None:
        """Before anything is seen, the first of the three is worth 0.218789 bit (mutual information)."""
        looks = {look.code: look.bits for look in next_looks([], FOUR_MODES.prior, FOUR_MODES)}
        assert looks["first"] == pytest.approx(0.218789, abs=5e-7)
        rows = FOUR_MODES.observations["first"].likelihood
        assert bayes.expected_gain_bits(FOUR_MODES.prior, rows) == pytest.approx(0.218789, abs=5e-7)
        after_yes = weigh(yes("first"), catalogue=FOUR_MODES).probabilities
        after_no = weigh(no("first"), catalogue=FOUR_MODES).probabilities
        assert list(after_yes.values()) == pytest.approx([0.6154, 0.2885, 0.0769, 0.0192], abs=5e-5)
        assert list(after_no.values()) == pytest.approx([0.1667, 0.3125, 0.3333, 0.1875], abs=5e-5)

    def test_oil_wildcatter(self) -> None:
        """Raiffa's seismic test (table as printed in the SAS/OR manual) is worth 0.160411 bit."""
        prior = {"dry": 0.5, "wet": 0.3, "soaking": 0.2}
        rows = {"dry": (0.6, 0.3, 0.1), "wet": (0.3, 0.4, 0.3), "soaking": (0.1, 0.4, 0.5)}
        assert bayes.expected_gain_bits(prior, rows) == pytest.approx(0.160411, abs=5e-7)

    def test_imperfect_drilling_test(self) -> None:
        """Samuelson and Marks, Managerial Economics ch. 13: the imperfect test brings 0.124511 bit."""
        gain = bayes.expected_gain_bits({"wet": 0.4, "dry": 0.6}, {"wet": (0.75, 0.25), "dry": (1 / 3, 2 / 3)})
        assert gain == pytest.approx(0.124511, abs=5e-7)

    def test_twenty_heads(self) -> None:
        """General Report on Tunny 21(g): 20 heads, prior odds 1:10⁴; exactly 20.2060 dB and P 0.990553."""
        weight = {"double_headed": 0.0, "fair": 20 * bayes.deciban(0.5)}
        prior = {"double_headed": 1 / 10001, "fair": 10000 / 10001}
        after = bayes.posterior(prior, [weight])
        assert bayes.against_rest_db(prior, weight)["double_headed"] == pytest.approx(60.2060, abs=5e-5)
        assert bayes.deciban(after["double_headed"] / after["fair"]) == pytest.approx(20.2060, abs=5e-5)
        assert after["double_headed"] == pytest.approx(0.990553, abs=5e-7)

    @pytest.mark.parametrize(("db", "p"), [(0, 0.5), (1, 0.557312), (10, 0.909091), (20, 0.990099)])
    def test_decibans_to_probability(self, db: float, p: float) -> None:
        """Even odds moved by 1, 10 and 20 dB (encyclopaedia entry "Deciban", recomputed)."""
        assert bayes.probability(db) == pytest.approx(p, abs=5e-7)

    def test_screening(self) -> None:
        """Prior 1 %, 80 % sensitive, 9.6 % false alarms: 7.764 %, 9.208 dB (the classic example, from memory)."""
        weights = {"ill": bayes.deciban(0.8), "well": bayes.deciban(0.096)}
        assert bayes.posterior({"ill": 0.01, "well": 0.99}, [weights])["ill"] == pytest.approx(0.07764, abs=5e-6)
        assert weights["ill"] - weights["well"] == pytest.approx(9.208, abs=5e-4)


class TestWords:
    @pytest.mark.parametrize(
        ("db", "words"),
        [
            (0, "barely worth mentioning"), (4.99, "barely worth mentioning"), (5, "substantial"),
            (9.99, "substantial"), (10, "strong"), (14.99, "strong"), (15, "very strong"), (19.99, "very strong"),
            (20, "decisive"), (60, "decisive"), (-12, "strong"),
        ],
    )  # fmt: skip
    def test_jeffreys_grades(self, db: float, words: str) -> None:
        """Jeffreys' grades at log10 B of 1/2, 1, 3/2 and 2 (as listed at statlect.com), an edge going up."""
        assert grade(db) == words


class TestUndetermined:
    def test_nothing_seen(self) -> None:
        """Without observations the verdict is undetermined, the shares are the prior's, and a first look is named."""
        verdict = weigh([])
        assert verdict.primary == UNDETERMINED
        assert verdict.probabilities == pytest.approx(dict(BOOK.prior))
        assert "Nothing has been observed" in str(verdict.undetermined_because)
        assert verdict.next_look is not None

    def test_a_sure_prior_is_no_evidence(self) -> None:
        """A prior of 90 % and nothing but a faint sight stays undetermined: the prior alone names no mode."""
        prior = {"layer_delamination": 0.9, "under_extrusion": 0.04, "overload": 0.03, "interference_rub": 0.03}
        verdict = weigh(yes("whitening_patches"), prior=prior)
        assert verdict.probabilities["layer_delamination"] > 0.85
        assert verdict.primary == UNDETERMINED
        assert "Too little evidence" in str(verdict.undetermined_because)

    def test_below_the_bar(self) -> None:
        """A leading mode below the bar is not named; the reason gives both numbers."""
        seen = yes("bare_roads_both", "load_across_layers")
        assert weigh(seen, bar=0.4).primary == "layer_delamination"
        high = weigh(seen, bar=0.95)
        assert high.primary == UNDETERMINED
        assert re.search(r"\d+%.*95% is asked for", str(high.undetermined_because))

    def test_contradiction_names_both_sides(self) -> None:
        """Strong evidence for and against gives undetermined, and says what speaks against what.

        Here overload and its contrary are both well seen; under-extrusion, which fits neither badly, must not win.
        """
        seen = yes("whitening_most", "drawn_lips", "roads_crossed", "overload_seen", "bare_roads_both")
        seen += yes("ordinary_load", "gaps_mate", "thin_roads") + no("several_planes")
        verdict = weigh(seen)
        because = str(verdict.undetermined_because)
        assert verdict.primary == UNDETERMINED
        assert "contradicts itself" in because
        for side in ("about overload", "together) for it", "against it", "Whitening over most", "Bare rounded roads"):
            assert side in because

    def test_a_mode_that_is_merely_left_over_is_not_named(self) -> None:
        """Rings of fatigue and an everyday load speak against overload; they show no rub."""
        verdict = weigh([*yes("beach_marks", "ordinary_load", "roads_crossed"), *no("bare_roads_both", "thin_roads")])
        assert verdict.leading == "interference_rub"
        assert verdict.primary == UNDETERMINED
        assert "Rubbing contact" in str(verdict.undetermined_because)

    def test_two_modes_with_strong_marks_each(self) -> None:
        """Starved and torn: each side's sights are named, though neither mode stands badly against the rest."""
        verdict = weigh(yes("thin_roads", "gaps_mate", "whitening_most", "drawn_lips", "roads_crossed"))
        assert verdict.primary == UNDETERMINED
        assert re.search(
            r"between overload and under-extrusion: .*Drawn lips.* for the one, .*Roads thin.* for the other",
            str(verdict.undetermined_because),
        )

    def test_the_same_question_answered_both_ways_is_no_evidence(self) -> None:
        """Yes and no to one question cancel far enough that no mode is named."""
        assert weigh(yes("bare_roads_both") + no("bare_roads_both")).primary == UNDETERMINED


class TestCases:
    """Descriptions whose verdict follows from handbook features of polymer fractures (from memory)."""

    @pytest.mark.parametrize(
        ("mode", "seen"),
        [
            ("layer_delamination", yes("bare_roads_both", "one_layer_plane", "ordinary_load", "load_across_layers")
             + no("whitening_most", "gaps_mate", "thin_roads", "roads_crossed", "drawn_lips", "glossy_patch")),
            ("under_extrusion", yes("thin_roads", "gaps_mate", "one_layer_plane", "whitening_patches", "ordinary_load")
             + no("drawn_lips", "glossy_patch", "overload_seen")),
            ("overload", yes("whitening_most", "drawn_lips", "roads_crossed", "several_planes", "overload_seen")
             + no("bare_roads_both", "thin_roads", "gaps_mate", "glossy_patch")),
            ("interference_rub", yes("glossy_patch", "powder", "bound_before", "heat_marks")
             + no("came_apart", "overload_seen")),
        ],
    )  # fmt: skip
    def test_a_plain_case_is_named(self, mode: str, seen: list[Seen]) -> None:
        """The features that the handbooks give for a mode name that mode, with strong evidence or better."""
        verdict = weigh(seen)
        assert verdict.primary == mode
        assert verdict.weight_db[mode] >= 10
        assert verdict.undetermined_because is None

    def test_thin_roads_by_the_road_model(self) -> None:
        """At 75 % flow a 0.45 x 0.2 mm road keeps 0.1483 of 0.25 mm contact (rectangle with half-round ends) and
        leaves gaps: under-extrusion.
        """
        area = 0.75 * ((0.45 - 0.2) * 0.2 + math.pi * 0.2**2 / 4)
        contact = (area - math.pi * 0.2**2 / 4) / 0.2 / (0.45 - 0.2)
        result = {
            "surface": "fracture", "face_area_mm2": 50.0, "largest_gap_mm": 2.5,
            "bonded_area_fraction": {"value": contact, "interval": [contact - 0.05, contact + 0.05], "bounds": None},
            "walls": [{"length_mm": 60.0, "continuity": 0.9}], "layer_planes": [{}],
        }  # fmt: skip
        assert 0.55 < contact < 0.65
        assert weigh(from_measures(result)).primary == "under_extrusion"

    def test_a_rub_beside_the_break_is_reported_with_it(self) -> None:
        """A break that let go at the layers, with a rubbed patch: the rub contributes and does not take over."""
        seen = yes("bare_roads_both", "one_layer_plane", "ordinary_load", "load_across_layers", "came_apart")
        seen += no("whitening_most", "gaps_mate", "thin_roads", "roads_crossed", "drawn_lips", "powder")
        verdict = weigh([*seen, Seen("bound_before", "yes"), Seen("contact_touched", "yes", shares=(0, 0, 1))])
        assert verdict.leading == "layer_delamination"
        assert "interference_rub" in verdict.contributing


class TestGroups:
    def test_three_looks_at_one_weld_do_not_count_three_times(self) -> None:
        """The same sight repeated adds less than a third of the strongest, however often."""
        one = weigh_each(yes("bare_roads_both"), BOOK)[0].weights_db
        many = weigh_each(yes(*["bare_roads_both"] * 30), BOOK)
        for mode in MODES:
            assert abs(sum(w.weights_db[mode] for w in many)) <= abs(one[mode]) / (1 - 0.25) + 1e-9

    def test_the_contrary_is_not_silenced(self) -> None:
        """Within a group an observation that says the opposite keeps its full weight."""
        factors = {w.seen.code: w.factor for w in weigh_each(yes("whitening_most", "bare_roads_both"), BOOK)}
        assert factors == {"whitening_most": 1.0, "bare_roads_both": 1.0}

    def test_other_groups_do_not_discount(self) -> None:
        """Observations of different groups all count fully."""
        seen = yes("bare_roads_both", "thin_roads", "drawn_lips", "glossy_patch")
        assert [w.factor for w in weigh_each(seen, BOOK)] == [1.0] * 4

    def test_measure_and_eye_on_the_same_weld_share_their_weight(self) -> None:
        """A low bonded share and bare roads say the same: together less than their sum."""
        measured = Seen("bonded_contact", "yes", shares=(1, 0, 0, 0, 0))
        pair = weigh_each([measured, Seen("bare_roads_both", "yes")], BOOK)
        assert sorted(w.factor for w in pair)[0] < 0.5

    @given(answers)
    def test_factors_stay_between_0_and_1(self, seen: list[Seen]) -> None:
        """A discount never adds weight and never turns its sign."""
        for weighed in weigh_each(seen, BOOK):
            assert 0 <= weighed.factor <= 1


class TestLaws:
    @given(answers)
    def test_probabilities_are_a_distribution(self, seen: list[Seen]) -> None:
        """Four probabilities, none negative, sum 1."""
        shares = weigh(seen).probabilities
        assert set(shares) == set(MODES)
        assert sum(shares.values()) == pytest.approx(1)
        assert min(shares.values()) > 0

    @given(answers, st.sampled_from(CODES))
    def test_cant_tell_weighs_nothing(self, seen: list[Seen], code: str) -> None:
        """Adding a "can't tell" leaves every probability as it was."""
        asked = [*[s for s in seen if s.code != code], Seen(code, "cant_tell")]
        without = [s for s in seen if s.code != code]
        assert weigh(asked).probabilities == pytest.approx(weigh(without).probabilities)

    @given(answers, st.randoms(use_true_random=False))
    def test_order_is_of_no_account(self, seen: list[Seen], shuffle: object) -> None:
        """The same observations in any order give the same verdict."""
        mixed = list(seen)
        shuffle.shuffle(mixed)  # type: ignore[attr-defined]
        assert weigh(mixed).probabilities == pytest.approx(weigh(seen).probabilities)

    @given(st.sampled_from(CODES), st.sampled_from(["yes", "no"]))
    def test_doubt_weakens(self, code: str, answer: str) -> None:
        """The surer the answer the farther it moves the verdict, from not at all at strength 0."""
        moved = [
            bayes.divergence_bits(weigh([Seen(code, answer, strength=s)]).probabilities, BOOK.prior)  # type: ignore[arg-type]
            for s in (0.0, 0.4, 0.8, 1.0)
        ]
        assert moved[0] == pytest.approx(0, abs=1e-12)
        assert moved == sorted(moved)

    @given(answers)
    def test_a_sceptic_can_add_it_up(self, seen: list[Seen]) -> None:
        """Prior and the contributions as printed give the probabilities as printed, by adding decibans alone."""
        told = weigh(seen).to_json()
        sums = {
            mode: 10 * math.log10(told["prior"][mode]) + sum(line["weights_db"][mode] for line in told["contributions"])
            for mode in MODES
        }
        raw = {mode: 10 ** (db / 10) for mode, db in sums.items()}
        added = {mode: value / sum(raw.values()) for mode, value in raw.items()}
        assert told["probabilities"] == pytest.approx(added, abs=0.01)  # twelve lines rounded to 0.01 dB

    @given(answers)
    def test_weight_moves_prior_odds_to_posterior_odds(self, seen: list[Seen]) -> None:
        """Log-odds of the prior plus the weight against the rest are the log-odds of the posterior."""
        verdict = weigh(seen)
        for mode in MODES:
            before = bayes.deciban(verdict.prior[mode] / (1 - verdict.prior[mode]))
            after = bayes.deciban(verdict.probabilities[mode] / (1 - verdict.probabilities[mode]))
            assert after - before == pytest.approx(verdict.weight_db[mode], abs=1e-6)

    @given(answers)
    def test_next_look_is_open_and_worth_something(self, seen: list[Seen]) -> None:
        """What is proposed was not answered yet, and its gain is never negative."""
        look = weigh(seen).next_look
        assert look is not None
        assert look.code not in {s.code for s in seen}
        assert look.bits >= 0


class TestWhatIf:
    def test_leaving_one_out_gives_the_verdict_without_it(self) -> None:
        """Each observation comes with the verdict that the others give."""
        seen = yes("bare_roads_both", "one_layer_plane", "glossy_patch")
        without = leave_one_out(seen)
        assert [entry.code for entry, _ in without] == ["bare_roads_both", "one_layer_plane", "glossy_patch"]
        assert without[2][1].probabilities == weigh(seen[:2]).probabilities

    def test_another_prior_moves_the_verdict(self) -> None:
        """The prior is a setting: a shop that sees many rubs gets more of them."""
        rubs = {"layer_delamination": 1.0, "under_extrusion": 1.0, "overload": 1.0, "interference_rub": 7.0}
        seen = yes("powder")
        assert weigh(seen, prior=rubs).probabilities["interference_rub"] > weigh(seen).probabilities["interference_rub"]
        assert sum(weigh(seen, prior=rubs).prior.values()) == pytest.approx(1)

    @pytest.mark.parametrize("share", [0.0, -1.0, math.nan, math.inf])
    def test_an_impossible_prior_is_refused(self, share: float) -> None:
        """A mode ruled out beforehand could never come back; the message names it."""
        with pytest.raises(CatalogueError, match="overload"):
            weigh([], prior={**BOOK.prior, "overload": share})

    def test_a_prior_must_name_all_modes(self) -> None:
        """A mode left out is not silently given 0."""
        with pytest.raises(CatalogueError, match="name exactly"):
            weigh([], prior={"overload": 1.0})


class TestCauses:
    def test_causes_stand_beside_the_modes(self) -> None:
        """Heat marks raise softening with its own weight: 10 log10(0.70 / 0.05)."""
        verdict = weigh(yes("heat_marks"))
        (cause,) = verdict.causes
        assert (cause.code, cause.raised_by) == ("heat_softening", ("heat_marks",))
        assert cause.weight_db == pytest.approx(10 * math.log10(0.70 / 0.05))
        assert set(verdict.probabilities) == set(MODES)

    def test_looked_for_and_not_found_speaks_against(self) -> None:
        """No beach marks weigh against fatigue; "can't tell" says nothing."""
        assert weigh(no("beach_marks")).causes[0].weight_db < 0
        assert weigh([Seen("beach_marks", "cant_tell")]).causes == ()

    def test_telling_it_twice_does_not_raise_it_twice(self) -> None:
        """The same observation reported twice counts once for a cause."""
        assert weigh(yes("crazes", "crazes")).causes == weigh(yes("crazes")).causes


class TestWhatIsShown:
    def test_json_holds_the_contract(self) -> None:
        """The verdict serialises, with the fields that pages and the command promise."""
        told = json.loads(json.dumps(weigh([*yes("bare_roads_both"), Seen("powder", "cant_tell")]).to_json()))
        assert {"primary", "probabilities", "contributing", "contributions", "words", "undetermined_because",
                "next_look"} <= set(told)  # fmt: skip
        line = told["contributions"][0]
        assert {"code", "words", "answer", "value", "strength", "group", "weights_db", "source", "origin"} <= set(line)

    def test_evidence_list_names_value_and_source(self) -> None:
        """The short list gives observation, value, weights and source of each line."""
        measured = Seen("bonded_contact", "yes", value="10% of the contact area", shares=(1, 0, 0, 0, 0))
        first, second = weigh([measured, Seen("powder", "no")]).evidence_json()
        assert set(first) == {"observation", "value", "weights_db", "source"}
        assert (first["value"], second["value"]) == ("10% of the contact area", "no")
        assert set(first["weights_db"]) == set(MODES)

    def test_where_someone_can_be_hurt_the_grave_words_come_first(self) -> None:
        """Out of use, a licensed professional, the local rules: said before anything else."""
        first, second, *_ = cautions(can_hurt=True)
        assert "take it out of use" in first
        assert "licensed professional" in second
        assert set(cautions(can_hurt=False)) < set(cautions(can_hurt=True))

    @given(answers)
    def test_nothing_is_ever_called_safe(self, seen: list[Seen]) -> None:
        """No word of the verdict, of its lines or of the cautions calls a part safe or cleared."""
        text = json.dumps(weigh(seen).to_json()) + " ".join(cautions(True) + cautions(False))
        assert not re.search(r"\b(safe|safely|cleared|harmless|fit for (use|service))\b", text, re.IGNORECASE)
