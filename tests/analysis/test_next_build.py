"""Plans for the next build: what is locked stays locked, and no plan is surer than its ranges."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from analysis.nextbuild.candidates import survey
from analysis.nextbuild.catalogue import ROOM_KINDS, ChangesError, load_changes, parse_changes
from analysis.nextbuild.cost import CostRefused, part_cost
from analysis.nextbuild.effects import ONE, Candidate, Ceilings, Joint, join
from analysis.nextbuild.envelope import EnvelopeRefused, Region, room_for
from analysis.nextbuild.outlook import Baseline, changed_capacity, draw, look_ahead
from analysis.nextbuild.plans import rank_plans, surety
from analysis.nextbuild.situation import MaterialOption, PlanRefused, PresentBuild, PrinterLimits, Situation
from analysis.strength.ranges import Range

CHANGES = load_changes()
MODES = ("layer_delamination", "under_extrusion", "overload", "interference_rub")
RANGES = st.tuples(st.floats(0.2, 5), st.floats(0.01, 0.8)).map(lambda pair: Range.around(*pair))
REGIONS = st.builds(
    Region,
    name=st.sampled_from(["root", "upper side", "rim"]),
    kind=st.sampled_from(ROOM_KINDS),
    at_break=st.booleans(),
    locked=st.just(False),
    room_mm=st.none() | st.floats(0, 20),
)
LOCKED = REGIONS.map(lambda region: replace(region, locked=True, room_mm=None))


def weld(effect: Range, code: str = "hotter_nozzle") -> Joint:
    """A joint of one change."""
    return join([Candidate(CHANGES[code], effect)], Ceilings())


class TestEnvelope:
    @given(st.lists(LOCKED, max_size=4), st.lists(REGIONS.filter(lambda r: not r.at_break), max_size=3))
    def test_a_locked_region_never_gives_room(self, locked: list[Region], elsewhere: list[Region]) -> None:
        """Where all that is at the break is locked, no change that needs room there is possible."""
        for change in CHANGES.values():
            if change.room is not None:
                assert room_for(change, [*locked, *elsewhere]).standing != "possible"

    @given(st.lists(REGIONS | LOCKED, max_size=6))
    def test_room_is_really_there(self, regions: list[Region]) -> None:
        """Whenever a change is possible, one free region of its kind at the break has the room it needs."""
        for change in CHANGES.values():
            if change.room is not None and room_for(change, regions).standing == "possible":
                assert any(
                    r.kind == change.room.kind
                    and r.at_break
                    and not r.locked
                    and (r.room_mm or 0) >= change.room.least_mm
                    for r in regions
                )

    @given(st.lists(REGIONS | LOCKED, max_size=5))
    def test_plans_keep_to_the_envelope(self, regions: list[Region]) -> None:
        """No ranked plan holds a change for which there is no room."""
        for plan in rank_plans(Situation("overload", regions=regions)).plans:
            for one in plan.changes:
                assert room_for(one.kind, regions).standing == "possible"

    def test_reasons_name_the_region_and_the_millimetres(self) -> None:
        """What is excluded says where and by how much; what is elsewhere says that it did not break."""
        regions = [
            Region("inner edge of the fork", "inner corner", True, True, reason="a ball runs along it"),
            Region("back of the fork", "thickness", True, False, 0.3),
            Region("shaft", "thickness", False, False, 2.0),
        ]
        found = survey(Situation("overload", regions=regions))
        why = {left.kind.code: left.why for left in found.left_out}

        assert "inner edge of the fork" in why["fillet"]
        assert "a ball runs along it" in why["fillet"]
        assert "0.3 mm" in why["thicker"]
        assert "0.4 mm" in why["thicker"]
        assert any("shaft" in line and "did not break" in line for line in found.would_not_help)

    def test_unknown_room_is_asked_for_and_not_assumed(self) -> None:
        """Room that nobody measured is neither possible nor excluded."""
        left = survey(Situation("overload", regions=[Region("root", "inner corner", True, False)])).left_out
        fillet = next(one for one in left if one.kind.code == "fillet")

        assert fillet.is_open
        assert "Measure" in fillet.why

    def test_what_moves_dimensions_is_out_where_one_is_locked(self) -> None:
        """Annealing shrinks a part; with an outside dimension locked it is no plan."""
        region = Region("bearing seat", "thickness", False, True)

        assert room_for(CHANGES["annealing"], [region]).standing == "excluded"
        assert room_for(CHANGES["annealing"], []).standing == "possible"

    @pytest.mark.parametrize(
        "wrong", [{"room_mm": -1.0}, {"room_mm": math.nan}, {"kind": "attic"}, {"name": " "}, {"locked": True}]
    )
    def test_impossible_regions_are_refused(self, wrong: dict[str, object]) -> None:
        """With words on what to give."""
        with pytest.raises(EnvelopeRefused):
            Region(**({"name": "root", "kind": "side", "at_break": True, "locked": False, "room_mm": 1.0} | wrong))  # type: ignore[arg-type]


class TestTogether:
    @given(RANGES, RANGES)
    def test_changes_on_one_term_count_once(self, one: Range, other: Range) -> None:
        """Hotter and with less fan is no better than the better of the two, as nobody measured them together."""
        both = join([Candidate(CHANGES["hotter_nozzle"], one), Candidate(CHANGES["less_fan"], other)], Ceilings())

        assert both.factor.median == pytest.approx(max(one.median, other.median))
        assert both.notes

    @given(RANGES, RANGES)
    def test_changes_on_different_terms_multiply_with_their_errors(self, one: Range, other: Range) -> None:
        """Independent lognormal factors: medians multiply, variances of the logarithms add."""
        both = join([Candidate(CHANGES["fillet"], one), Candidate(CHANGES["hotter_nozzle"], other)], Ceilings())

        assert both.factor.median == pytest.approx(one.median * other.median)
        assert both.factor.log_sd == pytest.approx(math.hypot(one.log_sd, other.log_sd))

    def test_contact_never_exceeds_the_whole(self) -> None:
        """With 80 % of the contact joined, no flow and no width can win more than a quarter."""
        joint = join([Candidate(CHANGES["flow"], Range(1.5, 3.0))], Ceilings(contact=1.25))
        drawn = draw(Baseline(Range(50, 100), Range(80, 160)))

        assert (changed_capacity(drawn, joint) <= drawn.capacity_n * 1.25 + 1e-9).all()

    def test_turned_on_the_bed_the_weld_adds_nothing(self) -> None:
        """The layers no longer decide."""
        turned = Candidate(CHANGES["orientation"], Range(1.5, 2))
        both = join([turned, Candidate(CHANGES["hotter_nozzle"], Range(1.2, 1.4))], Ceilings())

        assert set(both.terms) == {"orientation"}
        assert "no longer decide" in both.notes[0]


class TestOutlook:
    def test_unchanged_it_breaks_again(self) -> None:
        """The same load on the same capacity: what broke, breaks."""
        drawn = draw(Baseline(Range(50, 100), Range(40, 120)))

        assert look_ahead(drawn, Joint({}, Ceilings())).after == 1.0

    def test_before_agrees_with_the_closed_form(self) -> None:
        """Stress-strength interference of two lognormals: P(load > capacity) = Phi of the log medians' distance."""
        baseline = Baseline(Range(60, 140), Range(30, 110))
        sd = math.hypot(baseline.capacity_n.log_sd, baseline.load_n.log_sd)
        exact = stats.norm.cdf(math.log(baseline.load_n.median / baseline.capacity_n.median) / sd)
        drawn = draw(baseline, draws=200_000)

        assert drawn.before == pytest.approx(exact, abs=4 * math.sqrt(exact * (1 - exact) / 200_000))

    def test_after_agrees_with_a_numerical_integral(self) -> None:
        """Given that it broke, a known factor k leaves P(load > k capacity) / P(load > capacity): both closed forms."""
        baseline, k = Baseline(Range(60, 140), Range(50, 160)), 1.4
        sd = math.hypot(baseline.capacity_n.log_sd, baseline.load_n.log_sd)
        lead = math.log(baseline.load_n.median / baseline.capacity_n.median)
        exact = stats.norm.cdf((lead - math.log(k)) / sd) / stats.norm.cdf(lead / sd)
        got = look_ahead(draw(baseline, draws=200_000), weld(Range(k, k)))

        assert got.after == pytest.approx(exact, abs=5 * got.standard_error)

    @given(st.floats(1.0, 3.0), st.floats(1.01, 2.0))
    @settings(max_examples=30)
    def test_a_larger_gain_never_breaks_more_often(self, gain: float, more: float) -> None:
        """On the same draws the probability falls or stays as the factor grows."""
        drawn = draw(Baseline(Range(50, 100), Range(60, 120)), draws=4000)
        one, other = (look_ahead(drawn, weld(Range(f * 0.9, f * 1.1))).after for f in (gain, gain * more))

        assert other <= one

    def test_ranges_that_contradict_the_break_are_said(self) -> None:
        """A load of 1 to 2 N on a face that carries 900 N did not break it: something stated is wrong."""
        drawn = draw(Baseline(Range(900, 1000), Range(1, 2)))

        assert "Check them" in drawn.note
        assert np.isfinite(drawn.capacity_n).all()
        assert len(drawn.capacity_n) > 0


class TestSurety:
    @given(RANGES, RANGES, st.floats(1.0, 4.0))
    def test_wider_ranges_never_give_a_surer_rank(self, one: Range, other: Range, wider: float) -> None:
        """Widening what a change may gain, its middle kept, brings "better than the next" nearer to one half."""
        wide = Range.around(one.median, one.log_sd * wider)
        before, after = (surety(weld(r), weld(other, "fillet")) for r in (one, wide))

        assert abs(after - 0.5) <= abs(before - 0.5) + 1e-12

    @given(RANGES, RANGES)
    def test_one_of_two_is_better(self, one: Range, other: Range) -> None:
        """The two sureties sum to 1."""
        a, b = weld(one), weld(other, "fillet")

        assert surety(a, b) + surety(b, a) == pytest.approx(1)

    def test_what_both_share_cancels(self) -> None:
        """Two plans with the same uncertain change differ only by the rest."""
        vague = Candidate(CHANGES["hotter_nozzle"], Range(0.5, 4))
        fillet = Candidate(CHANGES["fillet"], Range(1.2, 1.3))
        both, alone = join([vague, fillet], Ceilings()), join([vague], Ceilings())

        assert surety(both, alone) > 0.999


class TestPlans:
    baseline = Baseline(Range(60, 110), Range(70, 130))

    def test_what_is_ranked_first_promises_most(self) -> None:
        """Probabilities rise down the list."""
        ranking = rank_plans(Situation("layer_delamination", baseline=self.baseline))
        after = [round(plan.outlook.after, 2) for plan in ranking.plans if plan.outlook]

        assert len(after) > 3
        assert after == sorted(after)

    def test_out_of_reach_is_said_plainly(self) -> None:
        """Where no plan reaches what is wanted, another way of making the part is named."""
        hopeless = Baseline(Range(20, 30), Range(900, 1000))
        ranking = rank_plans(Situation("layer_delamination", baseline=hopeless, wanted=0.01))

        assert ranking.reaches is False
        assert "original part" in ranking.words

    def test_where_nothing_treats_the_mode_there_is_no_plan(self) -> None:
        """An empty list is an answer too."""
        assert rank_plans(Situation("undetermined", baseline=self.baseline)).plans == ()

    def test_without_a_load_no_probability_is_made_up(self) -> None:
        """Ranked by gain alone, and it says why."""
        ranking = rank_plans(Situation("layer_delamination", no_baseline="No load was stated."))

        assert ranking.reaches is None
        assert ranking.words.startswith("No load was stated.")
        assert all(plan.outlook is None for plan in ranking.plans)
        assert ranking.plans

    def test_material_that_comes_too_late_is_left_out(self) -> None:
        """With both numbers of days in the reason."""
        late = MaterialOption("x", "slow one", "fits", "", Range(2, 3), days=9)
        found = survey(Situation("layer_delamination", materials=[late], days_left=4))

        assert any("9 days" in left.why and "4" in left.why for left in found.left_out if left.detail == "slow one")

    @pytest.mark.parametrize("fitness", ["doesnt_fit", "not_known"])
    def test_material_that_does_not_fit_is_never_planned(self, fitness: str) -> None:
        """However strong it is."""
        strong = MaterialOption("x", "strong one", fitness, "softens at 60 °C", Range(5, 9))  # type: ignore[arg-type]
        ranking = rank_plans(Situation("layer_delamination", materials=[strong], baseline=self.baseline))

        assert not any(one.detail == "strong one" for plan in ranking.plans for one in plan.changes)

    def test_printer_without_a_chamber_gets_no_chamber(self) -> None:
        """What the printer can't do is excluded by its reason."""
        found = survey(Situation("layer_delamination", printer=PrinterLimits(heated_chamber=False)))

        assert "no heated chamber" in next(one.why for one in found.left_out if one.kind.code == "warm_chamber")

    def test_rub_is_relieved_beside_whatever_carries(self) -> None:
        """A rub that broke nothing is mended in the same build, and changes no probability."""
        plain = rank_plans(Situation("overload", baseline=self.baseline))
        rubbing = rank_plans(Situation("overload", rubs=True, baseline=self.baseline))

        assert [one.kind.code for one in rubbing.plans[0].also] == ["relief"]
        assert plain.plans[0].outlook == rubbing.plans[0].outlook

    def test_solid_section_gains_nothing_from_walls(self) -> None:
        """More walls are for sparse sections."""
        found = survey(Situation("overload", build=PresentBuild(infill_percent=100)))

        assert "solid" in next(one.why for one in found.left_out if one.kind.code == "more_walls")

    def test_roads_that_are_wide_already_gain_nothing(self) -> None:
        """Roads at 1.5 bores are left out with their width."""
        build = PresentBuild(line_width_mm=0.6, layer_height_mm=0.2, nozzle_mm=0.4)
        left = survey(Situation("under_extrusion", build=build)).left_out

        assert "0.6 mm wide already" in next(one.words for one in left if one.kind.code == "wider_roads")

    @pytest.mark.parametrize("wanted", [0.0, 0.9, math.nan])
    def test_impossible_wishes_are_refused(self, wanted: float) -> None:
        """Nothing is certain, and a coin is no plan."""
        with pytest.raises(PlanRefused):
            Situation("overload", wanted=wanted)

    @pytest.mark.parametrize("mode", MODES)
    def test_every_mode_has_a_treatment(self, mode: str) -> None:
        """No mode is left without any change in the catalogue."""
        assert any(mode in change.treats_modes for change in CHANGES.values())


class TestCatalogue:
    def test_nothing_promises_a_loss(self) -> None:
        """No change's range lies below 1, and every one names its reason, source and risk."""
        for change in CHANGES.values():
            assert change.effect is None or change.effect.high > 1
            assert change.reason
            assert change.source
            assert change.risk
            assert change.status

    def test_errors_name_the_entry(self) -> None:
        """A wrong term, a missing effect and an unknown room are refused by code."""
        entry = (
            '[[change]]\ncode="x"\nwords="X"\ndo=""\nacts_on="luck"\ntreats_modes=[]\ntreats_causes=[]\n'
            'time=""\nrisk=""\nreason=""\nsource=""\nstatus="judgement"\n'
        )
        with pytest.raises(ChangesError, match="x: acts_on"):
            parse_changes(entry)
        with pytest.raises(ChangesError, match="x: give an effect"):
            parse_changes(entry.replace("luck", "weld"))
        with pytest.raises(ChangesError, match="x: room"):
            parse_changes(entry.replace("luck", "clearance") + 'room={kind="attic", least_mm=1}\n')


class TestCost:
    def test_cost_is_mass_times_price_and_hours(self) -> None:
        """42 g at 30 a kilogram, 3 h at 0.50: 1.26 and 1.50 each."""
        cost = part_cost(42, 30, 3, 0.5, copies=2)

        assert (cost.material, cost.printer, cost.bench) == (pytest.approx(2.52), pytest.approx(3.0), None)
        assert cost.known == pytest.approx(5.52)
        assert not cost.is_whole

    def test_negative_figures_are_refused_by_name(self) -> None:
        """With words on which."""
        with pytest.raises(CostRefused, match="mass"):
            part_cost(-1, 30)


def test_one_is_one() -> None:
    """The neutral factor is exactly known."""
    assert (ONE.median, ONE.log_sd) == (1.0, 0.0)
