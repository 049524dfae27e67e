"""What fits a place: the laws of the judgement, and cases that a practitioner would know."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.materials.environments import WATERS, Environment, load_presets
from analysis.materials.fitness import ORDER, Stood, heat_ceiling, heat_floor, judge, judge_all
from analysis.materials.library import AGENTS, KINDS, Figure, Material, Source, load_library

TABLE = load_library().materials
HEAT = ("glass_c", "melting_c", "hdt_045_c", "hdt_180_c", "continuous_c", "brief_c")
SOMEONE = Source("invented for the test", "own")
PRESETS = load_presets()


@st.composite
def materials(draw: st.DrawFn) -> Material:
    """A material of the table, or an invented one with any part of the figures for heat, even contradicting ones."""
    if draw(st.booleans()):
        return TABLE[draw(st.sampled_from(sorted(TABLE)))]
    figures = {}
    for name in draw(st.sets(st.sampled_from(HEAT))):
        low, more = draw(st.integers(20, 250)), draw(st.integers(0, 60))
        figures[name] = Figure(low, low + more, "°C", SOMEONE)
    return Material("x", "X", "X", draw(st.sampled_from(KINDS)), figures, {})


stays = st.builds(Stood, materials(), st.floats(0, 40), st.booleans())
agents = st.sets(st.sampled_from(sorted(AGENTS)), max_size=3).map(tuple)


class TestLaws:
    @given(
        materials(),
        st.floats(-40, 300) | st.none(),
        st.floats(0, 200),
        agents,
        st.sampled_from(["", *WATERS]),
        st.lists(stays, max_size=3),
    )
    def test_more_heat_never_fits_better(
        self,
        material: Material,
        cool: float | None,
        more: float,
        around: tuple[str, ...],
        water: str,
        stood: list[Stood],
    ) -> None:
        """Raising the temperature never makes a material fit better, whatever is known or has been shown."""
        if cool is None:
            return
        before = judge(material, Environment(cool, around, water), stood)
        after = judge(material, Environment(cool + more, around, water), stood)

        assert ORDER.index(after.fit) <= ORDER.index(before.fit)

    @given(materials(), st.floats(-40, 300), agents, st.sampled_from(sorted(AGENTS)))
    def test_one_more_agent_never_fits_better(
        self, material: Material, highest_c: float, around: tuple[str, ...], more: str
    ) -> None:
        """What else is around can only harm."""
        before = judge(material, Environment(highest_c, around))
        after = judge(material, Environment(highest_c, (*around, more)))

        assert ORDER.index(after.fit) <= ORDER.index(before.fit)

    @given(materials(), st.floats(-40, 300), st.lists(stays, max_size=2))
    def test_the_worst_point_decides(self, material: Material, highest_c: float, stood: list[Stood]) -> None:
        """The whole is as good as its worst point, and that point says why."""
        made = judge(material, Environment(highest_c, ("chem_oil",), "wet"), stood)

        assert made.fit == min((point.fit for point in made.points), key=ORDER.index)
        assert made.decides in made.points
        assert made.decides.why


class TestPlaces:
    @pytest.mark.parametrize(
        ("code", "highest_c", "fit"),
        [
            ("pla", 20, "fits"),
            ("pla", 69, "doesnt_fit"),  # dashboard in sun, as reported from Tempe AZ; glass transition 55-65
            ("petg", 69, "marginal"),  # continuous use 70 by one list, heat deflection at 1.8 MPa 60-70
            ("asa", 69, "fits"),
            ("pc", 105, "fits"),
            ("abs", 105, "doesnt_fit"),
            ("pps_cf", 150, "fits"),
            ("petg", 93, "doesnt_fit"),
        ],
    )
    def test_heat(self, code: str, highest_c: float, fit: str) -> None:
        """Common cases, whose figures are the table's."""
        assert judge(TABLE[code], Environment(highest_c)).fit == fit

    def test_the_number_that_decides_is_told(self) -> None:
        """The reason names the temperature of the place and the figure that it meets."""
        why = judge(TABLE["pla"], Environment(69)).decides.why

        assert "69 °C" in why
        assert "60 °C" in why

    def test_agents(self) -> None:
        """ABS: ketones attack; oil cracks it under stress (an automaker's list); PA stands oil."""
        assert judge(TABLE["abs"], Environment(20, ("chem_ketone",))).fit == "doesnt_fit"
        assert judge(TABLE["abs"], Environment(20, ("chem_oil",))).fit == "marginal"
        assert judge(TABLE["pa12_cf"], Environment(20, ("chem_oil",))).fit == "fits"

    def test_what_is_not_known_is_said(self) -> None:
        """An agent without a word in the table, or a place without temperature, is not known."""
        assert judge(TABLE["petg"], Environment(20, ("chem_brake_fluid",))).fit == "not_known"
        assert judge(TABLE["petg"], Environment(None)).fit == "not_known"

    def test_water(self) -> None:
        """PA6 soaks up to a tenth of its mass, PA12-CF and PP hardly anything."""
        wet = {code: judge(TABLE[code], Environment(20, (), "wet")).fit for code in ("pa6", "pa12", "pp")}

        assert wet == {"pa6": "marginal", "pa12": "marginal", "pp": "fits"}

    def test_numbers_of_the_presets(self) -> None:
        """As reported: dashboard 69 and 77, cabin 41-76 (Grundstein et al. 2009), dark 65-93, dishwasher 60/82."""
        wanted = {"car_dash": (69, 77), "car_cabin": (41, 76), "outdoors_dark": (65, 93), "dishwasher": (60, 82)}

        assert {code: (PRESETS[code].low_c, PRESETS[code].high_c) for code in wanted} == wanted
        assert all(place.source and place.status for place in PRESETS.values())

    def test_unknown_words_are_refused(self) -> None:
        """A slip in an agent's or water's code is the programmer's mistake."""
        with pytest.raises(ValueError, match="nothing is called chem_tea"):
            Environment(20, ("chem_tea",))
        with pytest.raises(ValueError, match="water"):
            Environment(20, (), "damp")


class TestServiceCounts:
    def test_a_proven_material_backs_itself_and_better_ones(self) -> None:
        """PETG stood 14 months: it and ASA are backed where figures leave doubt; PLA, softer, isn't."""
        stood = [Stood(TABLE["petg"], 14)]
        place = Environment(66)

        assert judge(TABLE["petg"], place).fit == "marginal"
        assert judge(TABLE["petg"], place, stood).fit == "fits"
        assert judge(TABLE["asa"], Environment(None), stood).fit == "fits"
        assert judge(TABLE["pla"], Environment(40), stood).fit == "marginal"
        assert judge(TABLE["pla"], Environment(None), stood).fit == "not_known"

    def test_a_few_weeks_prove_nothing(self) -> None:
        """Less than three months leave the judgement as it was."""
        place = Environment(66)

        assert judge(TABLE["petg"], place, [Stood(TABLE["petg"], 1)]) == judge(TABLE["petg"], place)

    def test_service_does_not_overrule_a_temperature_that_is_said(self) -> None:
        """Where the two contradict each other, the material doesn't fit and the place is to be measured."""
        made = judge(TABLE["petg"], Environment(95), [Stood(TABLE["petg"], 14)])

        assert made.fit == "doesnt_fit"
        assert "measure" in made.decides.why

    def test_what_softened_takes_the_lesser_with_it(self) -> None:
        """PETG softened here: PLA can't fit, whatever the temperature that was said; PC may."""
        stood = [Stood(TABLE["petg"], 1, softened=True)]

        assert judge(TABLE["pla"], Environment(40), stood).fit == "doesnt_fit"
        assert judge(TABLE["pc"], Environment(40), stood).fit == "fits"


@pytest.mark.parametrize("code", sorted(TABLE))
def test_limits_stand_in_order(code: str) -> None:
    """No material of the table stops fitting before it stops surely fitting."""
    floor, ceiling = heat_floor(TABLE[code]), heat_ceiling(TABLE[code])

    if floor and ceiling:
        assert floor.celsius <= ceiling.celsius


def test_the_list_begins_with_what_fits() -> None:
    """Best first."""
    fits = [made.fit for made in judge_all(TABLE.values(), Environment(76, ("chem_uv",)))]

    assert [ORDER.index(fit) for fit in fits] == sorted((ORDER.index(fit) for fit in fits), reverse=True)
    assert fits[0] == "fits"
