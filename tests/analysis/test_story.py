"""What the verdict tells: the sentence, what contributed, what was found besides, causes with their parts, clashes."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.evidence.catalogue import MODES, load_catalogue
from analysis.evidence.causes import open_causes, weigh_causes
from analysis.evidence.clashes import clashes
from analysis.evidence.next_look import next_looks, worth_showing
from analysis.evidence.observations import Seen, from_measures
from analysis.evidence.story import share_in_words
from analysis.evidence.verdict import UNDETERMINED, weigh
from analysis.evidence.weights import weigh_each

BOOK = load_catalogue()
LAYERS = [Seen(c, "yes") for c in ("bare_roads_both", "one_layer_plane", "load_across_layers", "came_apart")]
LAYERS += [Seen(c, "no") for c in ("whitening_most", "gaps_mate", "thin_roads", "roads_crossed", "drawn_lips")]
RUBBED = Seen("glossy_patch", "yes")
PAIRS = [(entry.code, other) for entry in BOOK.observations.values() for other in entry.excludes]


def face(share: float, **more: object) -> list[Seen]:
    """A measured fracture face with that bonded share, known to 4 % either way."""
    bonded = {"value": share, "interval": [share - 0.04, share + 0.04], "bounds": None}
    return from_measures({"surface": "fracture", "face_area_mm2": 40.0, "bonded_area_fraction": bonded, **more})


class TestSentence:
    def test_it_says_how_much_of_the_contact_was_missing(self) -> None:
        """A measured share goes into the sentence as people say it: 1 - 0.31 is about two thirds."""
        verdict = weigh([*LAYERS, *face(0.31)])
        assert verdict.primary == "layer_delamination"
        assert verdict.sentence == (
            "It let go at the layers, because about two thirds of the contact never became a weld."
        )

    def test_causes_that_weigh_enough_stand_in_it(self) -> None:
        """Heat marks weigh 11.5 dB for softening: told as what may be; 3.5 dB for the orientation is not told."""
        told = str(weigh([*LAYERS, Seen("heat_marks", "yes")]).sentence)
        assert told.endswith(". It may be that it had been softened by heat.")
        assert "pulled across the layers" not in told

    def test_an_undetermined_verdict_has_none(self) -> None:
        """A sentence with a because would settle by the back door what the weighing left open."""
        verdict = weigh([Seen("drawn_lips", "yes"), Seen("bare_roads_both", "yes")])
        assert (verdict.primary, verdict.sentence) == (UNDETERMINED, None)

    @pytest.mark.parametrize("mode", MODES)
    def test_each_mode_begins_its_own_way(self, mode: str) -> None:
        """The four beginnings differ and end without a full stop, so that a clause can follow."""
        heads = {BOOK.told[m].head for m in MODES}
        assert len(heads) == 4
        assert not BOOK.told[mode].head.endswith(".")

    @given(st.floats(0, 1))
    def test_words_for_a_share_are_near_it(self, share: float) -> None:
        """A share in words is never farther than 5 points from the share (shares as fractions, exact)."""
        named = {"a tenth": 0.1, "a fifth": 0.2, "a quarter": 0.25, "a third": 1 / 3, "two fifths": 0.4, "half": 0.5,
                 "three fifths": 0.6, "two thirds": 2 / 3, "three quarters": 0.75, "four fifths": 0.8,
                 "nine tenths": 0.9, "hardly any": 0.025, "nearly all": 0.975}  # fmt: skip
        assert abs(named[share_in_words(share).removeprefix("about ")] - share) <= 0.05 + 1e-9


class TestBeside:
    def test_a_rub_elsewhere_is_an_incidental_finding(self) -> None:
        """A scored patch that nothing ties to the break did not break it, and comes with what to do about it."""
        verdict = weigh([*LAYERS, RUBBED, Seen("rub_at_break", "no")])
        assert verdict.primary == "layer_delamination"
        assert "interference_rub" not in verdict.contributing
        (found,) = verdict.incidental
        assert (found.code, found.because) == ("interference_rub", "a patch on an outer surface is polished and scored")
        assert "next revision" in found.mend

    def test_a_rub_that_pushed_on_the_break_contributes(self) -> None:
        """The same patch where it binds: now it helped."""
        verdict = weigh([*LAYERS, Seen("drawn_lips", "no"), RUBBED, Seen("bound_before", "yes")])
        assert "interference_rub" in verdict.contributing
        assert verdict.incidental == ()

    def test_nothing_is_incidental_while_the_mode_is_open(self) -> None:
        """Without a named mode it is open which of the marks belong to the break."""
        verdict = weigh([RUBBED, Seen("drawn_lips", "yes"), Seen("bare_roads_both", "yes")], bar=0.9)
        assert verdict.primary == UNDETERMINED
        assert verdict.incidental == ()
        assert "interference_rub" in verdict.contributing

    def test_missing_roads_beside_a_weak_weld_contribute(self) -> None:
        """Gaps lie in the face that broke, so they helped; the clause gives the measured share."""
        walls = [{"length_mm": 50.0, "continuity": 0.88}]
        layers = [entry for entry in LAYERS if entry.code not in {"gaps_mate", "thin_roads"}]
        verdict = weigh([*layers, Seen("contact_touched", "yes", shares=(0, 0, 1)), *face(0.2, walls=walls)])
        assert verdict.primary == "layer_delamination"
        (found,) = [f for f in verdict.beside if f.code == "under_extrusion"]
        assert found.because == "12% of the walls' length is missing"


class TestWhatHeld:
    def test_no_trace_on_what_held_speaks_against_overload(self) -> None:
        """Comparing damaged with undamaged features (common practice): unmarked neighbours had room to spare."""
        weights = BOOK.observations["held_whitened"].weights_db("no")
        assert weights["overload"] < -1
        assert all(weights[mode] > 0 for mode in MODES if mode != "overload")

    def test_and_for_the_material(self) -> None:
        """It also speaks against the causes that lie in the material: a chemical and wet filament."""
        found = {cause.code: cause.weight_db for cause in weigh_causes([Seen("held_whitened", "no")], BOOK)}
        assert set(found) == {"chemical_cracking", "moisture"}
        assert all(weight < 0 for weight in found.values())


class TestCauses:
    @pytest.mark.parametrize("cause", BOOK.causes)
    def test_each_of_the_seven_is_open_until_looked_at(self, cause: str) -> None:
        """With nothing seen each is listed with its questions; one answer to one of them gives it a weight."""
        assert len(BOOK.causes) == 7
        (entry,) = [entry for entry in open_causes([], BOOK) if entry["code"] == cause]
        look = entry["look"][0]  # type: ignore[index]
        seen = [Seen(look, "yes")]
        assert cause not in [entry["code"] for entry in open_causes(seen, BOOK)]
        assert next(c for c in weigh_causes(seen, BOOK) if c.code == cause).weight_db > 0

    def test_the_parts_add_up_and_name_their_origin(self) -> None:
        """Fatigue from beach marks and an ordinary load: 10 log10(.60/.03) + 10 log10(.70/.35)."""
        seen = [Seen("beach_marks", "yes", origin="answer:4"), Seen("ordinary_load", "yes", origin="answer:9")]
        (cause,) = weigh_causes(seen, BOOK)
        assert cause.weight_db == pytest.approx(10 * math.log10(0.60 / 0.03) + 10 * math.log10(0.70 / 0.35))
        assert [(part.code, part.origin) for part in cause.parts] == [
            ("beach_marks", "answer:4"),
            ("ordinary_load", "answer:9"),
        ]


class TestClashes:
    @pytest.mark.parametrize("pair", PAIRS)
    def test_both_are_named_and_kept(self, pair: tuple[str, str]) -> None:
        """Two answers of which at most one is true: both words are said, both lines stay, each counts less."""
        seen = [Seen(code, "yes") for code in pair]
        verdict = weigh(seen)
        (clash,) = verdict.clashes
        for code in pair:
            assert BOOK.observations[code].words in clash.words
        assert {line.weighed.seen.code for line in verdict.contributions} == set(pair)
        alone = {code: weigh_each([Seen(code, "yes")], BOOK)[0].own_db for code in pair}
        for line in verdict.contributions:
            assert line.weighed.is_doubted
            full = alone[line.weighed.seen.code]
            assert max(map(abs, line.weighed.own_db.values())) < max(map(abs, full.values()))

    @pytest.mark.parametrize("answer", ["no", "cant_tell"])
    def test_yes_and_no_do_not_clash(self, answer: str) -> None:
        """One plane and not several is one account, not two."""
        seen = [Seen("one_layer_plane", "yes"), Seen("several_planes", answer)]  # type: ignore[arg-type]
        assert clashes(seen, BOOK) == []
        assert not any(weighed.is_doubted for weighed in weigh_each(seen, BOOK))

    def test_the_pairs_of_the_trade_are_there(self) -> None:
        """One plane and several, whitening over most and in patches only: can't both be (by their words)."""
        assert {("one_layer_plane", "several_planes"), ("whitening_most", "whitening_patches")} <= set(PAIRS)

    def test_a_question_about_a_rub_waits_for_one(self) -> None:
        """Where the rubbed place lies is asked once a rubbed place was seen, not before."""
        before, after = (
            [look.code for look in next_looks(seen, BOOK.prior, BOOK, count=99)]
            for seen in ([Seen("glossy_patch", "no")], [RUBBED])
        )
        assert "rub_at_break" not in before
        assert "rub_at_break" in after

    @given(st.sets(st.sampled_from([e.code for e in BOOK.answers() if not e.after]), max_size=23))
    def test_a_question_is_always_among_the_looks_while_one_is_open(self, done: set[str]) -> None:
        """Whatever was answered, at least one look needs no measuring; only without open questions none does."""
        looks = worth_showing([Seen(code, "cant_tell") for code in done], BOOK.prior, BOOK)
        assert any(look.kind == "answer" for look in looks)
        assert len(looks) <= 4

    @pytest.mark.parametrize("pair", PAIRS)
    def test_what_an_answer_rules_out_is_not_asked_next(self, pair: tuple[str, str]) -> None:
        """After one of the two was seen, the other is no question any more."""
        for said, other in (pair, pair[::-1]):
            looks = next_looks([Seen(said, "yes")], BOOK.prior, BOOK, count=99)
            assert other not in [look.code for look in looks]
