"""The table of materials, and the strength across layers, checked against published bars."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.materials.library import MaterialsError, load_library, parse_library
from analysis.materials.strength import combine, heat_factor, interface_mpa, interlayer_mpa, upright_gross_mpa

LIBRARY = load_library()
CODES = sorted(LIBRARY.materials)
spans = st.tuples(st.floats(0.1, 100), st.floats(1, 5)).map(lambda pair: (pair[0], pair[0] * pair[1]))


class TestAgainstPublishedBars:
    def test_pla_upright_on_gross_and_on_bonded_area(self) -> None:
        """Perez et al. 2021, 3D Print. Addit. Manuf. 8:23: 22.8 MPa on gross, 33.75 MPa on the interface's area."""
        pla = LIBRARY.materials["pla"]
        gross, bonded = upright_gross_mpa(pla), interface_mpa(pla)

        assert gross is not None
        assert bonded is not None
        assert gross[0] <= 22.8 <= gross[1]
        assert bonded[0] <= 33.75 <= bonded[1]

    def test_the_bonded_share_holds_the_one_published(self) -> None:
        """Perez et al. 2021: 22.8 / 33.75 = 0.676 of the section carried."""
        assert LIBRARY.bonded_share.low <= 22.8 / 33.75 <= LIBRARY.bonded_share.high

    def test_pla_reaches_its_bulk_on_true_area(self) -> None:
        """Allum et al. 2020 and Heuer et al. 2021: PLA welds can come close to bulk; bulk 43.7 MPa in Perez et al."""
        bonded = interface_mpa(LIBRARY.materials["pla"])

        assert bonded is not None
        assert bonded[0] < 43.7 < bonded[1]

    def test_filled_pa12_upright(self) -> None:
        """Babis et al. 2025, Technologies 13(10):456, 4.2: 27.71 and 21.79 MPa flat, 8.78 MPa upright on gross."""
        filled = LIBRARY.materials["pa12_cf"]
        gross, ratio, flat = upright_gross_mpa(filled), filled.figure("z_ratio"), filled.figure("in_plane_mpa")

        assert gross is not None
        assert ratio is not None
        assert flat is not None
        assert gross[0] <= 8.78 <= gross[1]
        assert flat.low <= 21.79 + 0.01
        assert ratio.low <= 8.78 / 27.71 < 8.78 / 21.79 <= ratio.high

    def test_strengths_of_flat_bars_as_reported(self) -> None:
        """An array study over 25 settings, as reported: PLA 37.3-54.7, ABS 32.0-39.5, PETG 28.2-47.1 MPa."""
        wanted = {"pla": (37.3, 54.7), "abs": (32.0, 39.5), "petg": (28.2, 47.1)}
        for code, span in wanted.items():
            figure = LIBRARY.materials[code].figure("in_plane_mpa")
            assert figure is not None
            assert (figure.low, figure.high) == span


class TestLaws:
    @pytest.mark.parametrize("code", [code for code in CODES if upright_gross_mpa(LIBRARY.materials[code])])
    def test_the_interface_is_never_weaker_than_the_gross_section_nor_stronger_than_the_bar(self, code: str) -> None:
        """Voids carry nothing, so counting them lowers a strength; a weld isn't stronger than its own polymer."""
        material = LIBRARY.materials[code]
        gross, bonded, flat = upright_gross_mpa(material), interface_mpa(material), material.figure("in_plane_mpa")

        assert gross is not None
        assert bonded is not None
        assert flat is not None
        assert gross[0] <= bonded[0]
        assert bonded[1] <= flat.high

    @given(st.sampled_from(CODES), st.floats(-40, 300), st.floats(0, 100))
    def test_heat_never_makes_it_stronger(self, code: str, cooler_c: float, more: float) -> None:
        """Both ends of the range fall with temperature, and once it softens it stays soft."""
        cool, warm = interlayer_mpa(code, cooler_c)[0], interlayer_mpa(code, cooler_c + more)[0]
        if cool is None:
            assert warm is None
        elif warm is not None:
            assert warm[0] <= cool[0] * (1 + 1e-9)
            assert warm[1] <= cool[1] * (1 + 1e-9)

    @given(spans, spans)
    def test_a_product_lies_between_the_corners_and_undoes_itself_in_the_middle(
        self, first: tuple[float, float], second: tuple[float, float]
    ) -> None:
        """GUM 5.1.6: relative uncertainties of a product add in quadrature, never to more than the corners."""
        low, high = combine(first, second)

        assert first[0] * second[0] * (1 - 1e-9) <= low <= high <= first[1] * second[1] * (1 + 1e-9)
        assert math.isclose(low * high, first[0] * first[1] * second[0] * second[1], rel_tol=1e-9)


class TestNotKnown:
    def test_a_material_that_is_not_there(self) -> None:
        """An unknown code is no error and no guess."""
        assert interlayer_mpa("unobtainium") == (None, "this material isn't in the table")

    def test_no_figures_no_strength(self) -> None:
        """Where no strength across layers is listed the answer says to test bars."""
        span, reason = interlayer_mpa("petg_cf")

        assert span is None
        assert "upright bars" in reason

    def test_above_the_glass_transition_there_is_no_strength(self) -> None:
        """A softened part has no figure; a published PLA Tg of 137 °C is impossible and isn't in the table."""
        span, reason = interlayer_mpa("pla", 70)
        glass = LIBRARY.materials["pla"].figure("glass_c")

        assert span is None
        assert "softens" in reason
        assert glass is not None
        assert glass.high < 80

    def test_without_a_temperature_it_says_so(self) -> None:
        """Figures at room temperature are marked as such."""
        assert "temperature not given" in interlayer_mpa("petg")[1]

    def test_heat_of_an_elastomer_is_not_known(self) -> None:
        """No rule for TPU: None and a reason."""
        assert heat_factor(LIBRARY.materials["tpu"], 40)[0] is None


HEAD = '[sources]\nm = {status = "memory", words = "x"}\n[upright_bar]\nbonded_share = [0.6, 0.9, "m"]\n'
ROW = '[[material]]\ncode = "a"\nwords = "A"\ndecodes = "A"\nkind = "amorphous"\n'


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('glass_c = [60, 50, "m"]', "backwards"),
        ('glass_c = [50, 60, "nowhere"]', "no source nowhere"),
        ('shine = [1, 2, "m"]', "nothing is called shine"),
        ('chem_oil = ["fine", "m"]', "no word fine"),
    ],
)
def test_a_wrong_row_is_named(line: str, words: str) -> None:
    """A slip in the table is told by material and quantity."""
    with pytest.raises(MaterialsError, match=words):
        parse_library(HEAD + ROW + line)


def test_every_figure_has_a_source_that_says_how_it_is_known() -> None:
    """No figure without source and status; none that is plainly impossible for a plastic."""
    for material in LIBRARY.materials.values():
        for name, figure in material.figures.items():
            assert figure.source.words
            assert figure.low <= figure.high
            if name.endswith("_c"):
                assert figure.low > -100
                assert figure.high < 400
