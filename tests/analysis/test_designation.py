"""Designations read against the standards' own examples, in the trade's spellings, and on any text."""

import itertools

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from analysis.materials.designation import Designation, decode
from analysis.materials.finding import find_material
from analysis.materials.library import load_library
from analysis.materials.symbols import POLYMERS


def shares(read: Designation) -> list[tuple[str, float | None]]:
    return [(one.symbol, one.percent) for one in read.fillers]


class TestStandardsExamples:
    def test_iso_16396(self) -> None:
        """ISO 16396-1:2022's example PA6T/66, MH, 14-190, GF50: copolymer, use, viscosity, modulus, 50 % glass."""
        read = decode("PA6T/66, MH, 14-190, GF50")

        assert read.polymers == ("PA6T/66",)
        assert read.data == ("MH", "14-190")
        assert shares(read) == [("GF", 50.0)]
        assert not read.unknown

    @pytest.mark.parametrize(
        ("text", "kind", "form"),
        [
            ("PBT-GF20", "glass", "fibre"),
            ("PA66-GCM30", "glass", "chopped-strand mat"),
            ("PP-MD20", "mineral", "powder"),
            ("PA6-MED(Al)20", "metal", "powder"),
        ],
    )
    def test_iso_1043_2(self, text: str, kind: str, form: str) -> None:
        """ISO 1043-2 as read in a copy: GF glass fibre, GCM chopped-strand mat, MD mineral powder, MED(Al) metal."""
        filler = decode(text).fillers[0]

        assert (filler.kind, filler.form) == (kind, form)

    def test_mixture_of_fillers(self) -> None:
        """ISO 1043-2 writes mixtures as (GF+MD): each with its share, or one figure for all."""
        assert shares(decode("PA66-(GF25+MD15)")) == [("GF", 25.0), ("MD", 15.0)]
        assert decode("PA66-(GF+MD)40").together_percent == 40.0
        assert shares(decode("PA66-(GF+MD)40")) == [("GF", None), ("MD", None)]

    def test_carbon_atoms(self) -> None:
        """ISO 16396-1: PA612-GF20 has 6 and 12 carbon atoms and 20 % glass fibre (the reading from memory)."""
        read = decode("PA612-GF20")

        assert read.plain == "PA612-GF"
        assert shares(read) == [("GF", 20.0)]
        assert any("612 after PA counts carbon atoms" in words for words in read.warnings)

    def test_blend(self) -> None:
        """ISO 1043-1 writes PC+ABS what the trade writes PC/ABS."""
        assert decode("PC/ABS").plain == "PC+ABS"
        assert any("PC/ABS in the trade" in words for words in decode("PC+ABS").warnings)


@pytest.mark.parametrize(
    ("text", "plain", "filler", "shore"),
    [
        ("PA66-GF30", "PA66-GF", [("GF", 30.0)], ""),
        ("PA610", "PA610", [], ""),
        ("PP-T20", "PP-TD", [("TD", 20.0)], ""),
        ("PP-TD20", "PP-TD", [("TD", 20.0)], ""),
        ("ABS/PC 20GF", "ABS+PC-GF", [("GF", 20.0)], ""),
        ("PET-G", "PETG", [], ""),
        ("PET-GF30", "PET-GF", [("GF", 30.0)], ""),
        ("PETG-CF", "PETG-CF", [("CF", None)], ""),
        ("TPU 95A", "TPU", [], "95 Shore A"),
        ("TPE-U Shore D 40", "TPU", [], "40 Shore D"),
        ("PLA-CF", "PLA-CF", [("CF", None)], ""),
        ("PETG, carbon-fibre filled", "PETG-CF", [("CF", None)], ""),
        ("Nylon 6.6", "PA66", [], ""),
        ("HIPS", "PS-HI", [], ""),
    ],
)
def test_trade_spelling(text: str, plain: str, filler: list[tuple[str, float | None]], shore: str) -> None:
    """What stands on labels is read as what the standard would write."""
    read = decode(text)

    assert (read.plain, shares(read), read.shore, read.unknown) == (plain, filler, shore, ())


class TestUsualMistakes:
    def test_trade_words_are_named_as_such(self) -> None:
        """HT after a symbol is the trade's, and doesn't hide what follows."""
        read = decode("PAHT-CF15")

        assert read.plain == "PA-CF"
        assert any(words.startswith("HT is a trade word") for words in read.warnings)
        assert any("whole family" in words for words in read.warnings)

    @pytest.mark.parametrize("symbol", ["PPS", "PPA", "PPE", "PSU", "PA12"])
    def test_letters_that_look_alike(self, symbol: str) -> None:
        """Each of the symbols that are mixed up names the others."""
        assert any("look alike" in words for words in decode(symbol).warnings)

    def test_pps_is_not_pp(self) -> None:
        """A longer symbol is never read as a shorter one with rest."""
        assert decode("PPS").families == ("polyphenylene sulfide",)
        assert decode("PPA").families != decode("PA").families

    def test_copolymer_or_other_polyamide(self) -> None:
        """6/12 is a copolymer to the standard, often PA612 to the trade: both are said."""
        assert any("PA612" in words for words in decode("PA6/12").warnings)

    def test_unknown_parts_are_named(self) -> None:
        """What has no meaning here is listed as written, and no polymer is made up from it."""
        assert decode("Zeta 9 PETG").unknown == ("ZETA", "9")
        assert decode("wonder filament").polymers == ()


VARIED = ["PA66-GF30", "PBT-GF20", "PC+ABS", "PP-TD20", "PP-T20", "PLA-CF15", "PPS-CF", "PETG-CF20", "ASA", "PA12-CF15"]


def meaning(read: Designation) -> tuple[object, ...]:
    return read.polymers, read.fillers, read.together_percent, read.shore, read.data, read.unknown


@pytest.mark.parametrize("text", VARIED)
@pytest.mark.parametrize("gap", ["-", " ", "_", "/", " / ", " - ", "–", ", "])
def test_gaps_between_symbols_do_not_matter(text: str, gap: str) -> None:
    """Hyphens, spaces, slashes decode alike, in either case."""
    written = text.replace("+", "-").replace("-", gap)

    assert meaning(decode(written)) == meaning(decode(text))
    assert meaning(decode(written.lower())) == meaning(decode(text))


@pytest.mark.parametrize("text", VARIED)
def test_no_gap_at_all(text: str) -> None:
    """Written in one word it still decodes alike."""
    assert meaning(decode(text.replace("-", "").replace("+", ""))) == meaning(decode(text))


@given(st.text(max_size=260))
@example("PA²³-GF٣")
@example("9" * 300)
@example("PA6." + "0" * 400)
def test_never_raises(text: str) -> None:
    """Any text gets an answer, and only polymers of the list come out."""
    read = decode(text)
    find_material(text)

    assert all(name in POLYMERS or name.startswith("PA") for name in read.polymers)
    assert all(one.percent is None or 0 < one.percent <= 90 for one in read.fillers)


@given(
    st.integers(0, 20000),
    st.sampled_from(["", " ", "-", "/", "_"]),
    st.sampled_from(["", " ", "-", "/"]),
    st.sampled_from(["", "GF", "CF", "T", "MD", "carbon fibre"]),
    st.integers(1, 60) | st.none(),
)
def test_no_number_after_pa_becomes_a_share(number: int, gap: str, gap_2: str, filler: str, share: int | None) -> None:
    """Whatever stands right after PA counts carbon atoms or is unknown; the share is what follows the filler."""
    given_share = share if filler else None
    read = decode(f"PA{gap}{number}{gap_2}{filler}{'' if given_share is None else given_share}")

    told = {one.percent for one in read.fillers} - {None}
    assert told <= ({float(given_share)} if given_share else set())


class TestFinding:
    def test_every_material_of_the_table_is_found_by_its_own_designation(self) -> None:
        """Each row can be reached, and no two rows claim the same designation."""
        for code, material in load_library().materials.items():
            assert find_material(material.decodes)[0] == code

    @pytest.mark.parametrize(
        ("label", "code"),
        [
            ("PETG orange", "petg"),
            ("PETG, carbon-fibre filled", "petg_cf"),
            ("ABS/PC", "pc_abs"),
            ("PA6-CF20", "pa6_cf"),
            ("TPU 95A", "tpu"),
            ("TPU 60D", None),
            ("PA-CF", None),
            ("PA6/66", None),
            ("PBT", None),
            ("", None),
        ],
    )
    def test_labels(self, label: str, code: str | None) -> None:
        """A label finds its material, or none with a reason; an unnamed polyamide finds none."""
        found, reason = find_material(label)

        assert found == code
        assert reason


def test_order_of_a_blend_does_not_matter() -> None:
    """PC+ABS and ABS+PC find the same row."""
    assert len({find_material("/".join(pair))[0] for pair in itertools.permutations(("PC", "ABS"))}) == 1
