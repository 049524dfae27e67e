"""A face held against loads: capacities, chances, what the break says, and what can't be told."""

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

from analysis.common.classes import BARE, BONDED, OPENING, OUTSIDE, RUBBED, UNKNOWN, VOID
from analysis.strength.assess import NO_STRENGTH, NOTHING_PULLS, assess
from analysis.strength.assessment import Assessment, ServiceSurvived
from analysis.strength.bearing import bearing
from analysis.strength.capacity import carried, centre_of, peak_for
from analysis.strength.facewelds import NO_CONTACT, NO_SCALE, NO_WELD, FaceWelds
from analysis.strength.knockdown import knock_down
from analysis.strength.loadcase import LoadCase, LoadRefused
from analysis.strength.ranges import Range
from analysis.strength.section import SectionRefused, section_properties
from analysis.strength.uncertainty import relative_sds
from analysis.strength.weldgroup import WeldGroup
from analysis.strength.wording import ANCHOR, INTERFACE, UPPER_BOUND

FACES = Path(__file__).parents[1] / "faces"
Floats = NDArray[np.float64]
WELD = Range(20.0, 30.0)
PULL = LoadCase("pull", Range(800.0, 2500.0), 0.0)
LEAN = LoadCase("lean", Range(20.0, 60.0), 90.0, 90.0, Range(20.0, 60.0))


def face(lost: int = 8, rows: int = 40, cols: int = 20, **more: object) -> FaceWelds:
    """A plate of 0.5 mm pixels of which the first `lost` rows were never joined; nothing else is uncertain."""
    whole = np.ones((rows, cols))
    bonded = whole.copy()
    bonded[:lost] = 0
    given_ = {"mm_per_px": 0.5, "scale_relative_sd": 0.0} | more
    return FaceWelds(bonded, whole, np.zeros(whole.shape, bool), whole > 0, **given_)  # type: ignore[arg-type]


def hidden(rows: int, **more: object) -> FaceWelds:
    """The same with the last rows greased over."""
    one = face(**more)  # type: ignore[arg-type]
    unknown = np.zeros(one.gross.shape, bool)
    unknown[-rows:] = True
    return replace(one, bonded=one.bonded * ~unknown, unknown=unknown)


def _peak(one: FaceWelds, group: WeldGroup | None, load: LoadCase, force_n: float, reach_mm: float) -> float:
    assert group is not None
    return peak_for(one, group, load, force_n, reach_mm, "von_mises").equivalent_mpa


class TestCapacity:
    def test_by_hand(self) -> None:
        """10 x 20 mm, a fifth lost at one edge, 25 MPa exactly: the fully bonded face carries 25 x 200 = 5000 N, the
        face as built 5000/2.1875 (net-section law)."""
        got = assess(face(), PULL, Range(25, 25)).cases[0]
        assert got.as_designed_n is not None
        assert got.as_built_n is not None
        assert got.as_designed_n.median == pytest.approx(5000)
        assert got.as_built_n.median == pytest.approx(5000 / 2.1875)
        assert got.knock_down == pytest.approx(1 / 2.1875)
        assert got.method == "closed form"

    def test_lever_arm_by_hand(self) -> None:
        """Side load of F at 40 mm on the full 10 x 20 plate: σ = 6 F·40/(10·20²), τ = F/200, von Mises."""
        load = LoadCase("lean", Range(30, 30), 90.0, 90.0, Range(40, 40))
        got = assess(face(lost=0), load, Range(25, 25)).cases[0]
        sigma, tau = 6 * 40 / (10 * 20**2), 1 / 200
        assert got.as_built_n is not None
        assert got.as_built_n.median == pytest.approx(25 / math.sqrt(sigma**2 + 3 * tau**2))
        assert got.peak is not None
        assert got.peak.limited_by == "bending"
        assert got.peak.bending_mpa > 0  # it gives way where it opens

    def test_closed_form_and_draws_agree(self) -> None:
        """The same case by draws: chances and range ends within the draws' error."""
        one = face(scale_relative_sd=0.02, edge_sd_px=0.3)
        exact = assess(one, PULL, WELD, Range(1.1, 1.6)).cases[0]
        # A lever arm of no length to speak of sends the same load through the draws.
        drawn = assess(one, replace(PULL, reach_mm=Range(1e-9, 2e-9)), WELD, Range(1.1, 1.6), draws=200_000).cases[0]
        assert (exact.method, drawn.method) == ("closed form", "draws")
        assert exact.exceeds_built is not None
        assert drawn.exceeds_built == pytest.approx(exact.exceeds_built, rel=0.02)
        assert exact.as_built_n is not None
        assert drawn.as_built_n is not None
        assert (drawn.as_built_n.low, drawn.as_built_n.high) == pytest.approx(
            (exact.as_built_n.low, exact.as_built_n.high), rel=0.02
        )

    def test_against_worlds_worked_out_one_by_one(self) -> None:
        """An aslant load beside the middle with a lever arm, scale and notch all unsure: each world reckoned anew.

        Draws strength, notch, scale and lever arm, builds the welds at that scale, takes the exact peak and counts;
        no interpolation, no first order, no smoothing. Agreement within four binomial standard errors.
        """
        one, n, rng = face(4, 20, 10, mm_per_px=1.0, scale_relative_sd=0.03), 2500, np.random.default_rng(11)
        load = LoadCase("aslant", Range(150, 500), 60.0, 30.0, Range(10.0, 30.0), (1.5, -2.0))
        weld, notch = Range(18, 30), Range(1.1, 1.6)
        broke = whole = 0
        parts = (weld, notch, load.force_n, Range(10.0, 30.0))
        for mpa, factor, force, reach in zip(*(part.sample(rng, n) for part in parts), strict=True):
            side = math.exp(0.03 * rng.standard_normal())
            world = replace(one, mm_per_px=side)
            broke += _peak(world, world.built(), load, force, reach) * factor > mpa
            whole += _peak(world, world.whole, load, force, reach) * factor > mpa
        got = assess(one, load, weld, notch).cases[0]
        for told, counted in ((got.exceeds_built, broke / n), (got.exceeds_designed, whole / n)):
            assert told == pytest.approx(counted, abs=4 * math.sqrt(counted * (1 - counted) / n))
        assert 0.1 < whole / n < broke / n < 0.9  # the test has something to tell apart

    @given(st.floats(0.2, 5), st.floats(0.2, 5))
    @settings(max_examples=25, deadline=None)
    def test_capacity_goes_with_strength_and_area(self, strength: float, size: float) -> None:
        """Strength doubled, capacity doubled; all lengths doubled, a pull's capacity fourfold."""
        one, other = face(), face(mm_per_px=0.5 * size)
        got = assess(one, PULL, Range(25, 25), draws=10).cases[0].as_built_n
        stronger = assess(one, PULL, Range(25 * strength, 25 * strength), draws=10).cases[0].as_built_n
        larger = assess(other, PULL, Range(25, 25), draws=10).cases[0].as_built_n
        assert got is not None
        assert stronger is not None
        assert larger is not None
        assert stronger.median == pytest.approx(got.median * strength)
        assert larger.median == pytest.approx(got.median * size**2)

    def test_lever_arms_between_those_worked_out(self) -> None:
        """Going straight between lever arms errs to the side of more stress, and by less than 1 %."""
        one = face()
        work = carried(one, LEAN, "von_mises")
        assert work is not None
        for reach in np.geomspace(18, 66, 23):
            exact = peak_for(one, one.built(), LEAN, 1.0, float(reach), "von_mises").equivalent_mpa
            between = float(np.interp(reach, work.reach_mm, work.built[1]))
            assert exact * (1 - 1e-9) <= between <= exact * 1.01

    def test_scale_and_outline_widen_the_range(self) -> None:
        """A pull's capacity goes with the square of the scale: 2 % of scale are 4 % of capacity."""
        sure, unsure = (assess(face(scale_relative_sd=sd), PULL, Range(25, 25)).cases[0].as_built_n for sd in (0, 0.02))
        edged = assess(face(edge_sd_px=1.0), PULL, Range(25, 25)).cases[0].as_built_n
        assert sure is not None
        assert unsure is not None
        assert edged is not None
        assert sure.log_sd == pytest.approx(0, abs=1e-12)
        assert unsure.log_sd == pytest.approx(0.04, rel=0.03)
        assert edged.log_sd > 0

    def test_section_spread(self) -> None:
        """Relative spreads of area, modulus and moment go as 2, 3 and 4 times the scale's (K5, first order)."""
        one = face(scale_relative_sd=0.01)
        section = one.built().section
        told = relative_sds(one, section, section, 0.0)
        assert (told["area_mm2"], told["z_top_mm3"], told["polar_mm4"]) == pytest.approx((0.02, 0.03, 0.04))
        # The edge: a plate of 20 x 40 px loses 116 of its 800 px with its rim; half of that counts for 1 px.
        plain = replace(face(lost=0), edge_sd_px=1.0)
        inner = plain.without_rim
        assert inner is not None
        edge = relative_sds(plain, plain.outline.section, inner.outline.section, 0.0)["area_mm2"]
        assert edge == pytest.approx(0.5 * math.log(800 / (38 * 18)))

    def test_a_notch_divides(self) -> None:
        """A notch factor of exactly 2 halves both capacities."""
        plain, notched = (assess(face(), PULL, Range(25, 25), n).cases[0] for n in (None, Range(2, 2)))
        assert plain.as_built_n is not None
        assert notched.as_built_n is not None
        assert notched.as_built_n.median == pytest.approx(plain.as_built_n.median / 2)

    def test_more_unknown_is_never_surer(self) -> None:
        """Grease over part of the face widens the range of the capacity as built."""
        clear, greasy = (assess(one, PULL, WELD).cases[0].as_built_n for one in (face(), hidden(10)))
        assert clear is not None
        assert greasy is not None
        assert greasy.log_sd > clear.log_sd

    def test_unknown_is_neither_bonded_nor_bare(self) -> None:
        """The three readings of the unknown zone enclose what is told of it."""
        one = hidden(10)
        low, mid, high = (one.built(how).section.area_mm2 for how in ("bare", "rest", "bonded"))  # type: ignore[arg-type]
        assert low < mid < high
        fall, _ = knock_down(one)
        assert fall is not None
        full = one.whole.section.area_mm2 if one.whole else 0.0
        assert (fall.area.low, fall.area.value, fall.area.high) == pytest.approx((low / full, mid / full, high / full))

    def test_pressing_halves_together(self) -> None:
        """A push square on the face pulls at no weld: no capacity by the criteria that ask for opening, and a word."""
        push = LoadCase("stand", Range(500, 900), 180.0)
        got = assess(face(lost=0), push, WELD, criterion="opening").cases[0]
        assert got.as_built_n is None
        assert got.reasons["as_built_n"] == NOTHING_PULLS
        assert got.exceeds_built == 0
        told = assess(face(lost=0), push, WELD)
        assert any("pressed, not pulled" in line for line in told.sentences)


class TestKnockDown:
    @given(st.integers(2, 40).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n - 1))))
    def test_laws_of_the_edge_strip(self, rows: tuple[int, int]) -> None:
        """Area and shear 1-f, tension (1-f)²/(1+2f), bending about the strip (1-f)², across it 1-f; no scale needed."""
        n, lost = rows
        fall, _ = knock_down(face(lost, n, 6, mm_per_px=None))
        f = lost / n
        assert fall is not None
        assert (fall.area.value, fall.shear.value) == pytest.approx((1 - f, 1 - f))
        assert fall.tension.value == pytest.approx((1 - f) ** 2 / (1 + 2 * f))
        assert (fall.bending[0].value, fall.bending[18].value) == pytest.approx(((1 - f) ** 2, 1 - f))

    def test_torque_by_hand(self) -> None:
        """10 x 20 less a fifth: J/r of 10 x 16 over 10 x 20 by b h (b² + h²)/12 and half the diagonal."""

        def modulus(b: float, h: float) -> float:
            return b * h * (b * b + h * h) / 12 / (math.hypot(b, h) / 2)

        fall, _ = knock_down(face())
        assert fall is not None
        assert fall.torque.value == pytest.approx(modulus(10, 16) / modulus(10, 20))

    def test_a_fully_bonded_face_keeps_all(self) -> None:
        """Nothing lost, all ratios 1, and their ranges don't go above it."""
        fall, _ = knock_down(replace(face(lost=0), bonded_relative_sd=0.1))
        assert fall is not None
        for one in (fall.area, fall.tension, fall.shear, fall.torque, *fall.bending):
            assert (one.value, one.high) == pytest.approx((1, 1))
            assert one.low < 1

    def test_extremes_over_the_axes(self) -> None:
        """The weakest and the strongest axis are those of the list."""
        fall, _ = knock_down(face())
        assert fall is not None
        values = [one.value for one in fall.bending]
        assert fall.weakest_axis[1].value == min(values)
        assert fall.strongest_axis[1].value == max(values)
        assert fall.weakest_axis[0] == 0


class TestTheBreak:
    def test_between_overload_and_weak_build(self) -> None:
        """A load far above both capacities: overload. One between the two: the missing welds made the difference."""
        carries = 25 * 200
        for force, least, most in ((Range(9000, 11000), 0.98, 1.0), (Range(2900, 3100), 0.0, 0.02)):
            got = assess(face(), LoadCase("it", force, 0.0), Range(24, 26))
            assert got.whole_too is not None
            assert least <= got.whole_too <= most
        assert 3100 < carries < 9000

    def test_a_sound_face_that_broke_was_overloaded(self) -> None:
        """As built and as designed are one face: what broke one broke the other."""
        got = assess(face(lost=0), PULL, WELD)
        assert got.whole_too == pytest.approx(1)
        # Scale, outline and strength are the same for both, however badly they are known.
        unsure = assess(face(lost=0, scale_relative_sd=0.1, edge_sd_px=1.0), PULL, Range(10, 60))
        assert unsure.whole_too == pytest.approx(1)

    def test_a_wide_strength_says_less(self) -> None:
        """The more freely strength may lie, the nearer to a half the answer for a load that would break the sound face.

        Here the load is exactly 1.2 times the sound face's middle capacity. If it broke at all, a wider strength
        leaves more room for it to have lain between the two.
        """
        load = LoadCase("it", Range(6000, 6000), 0.0)
        narrow, wide = (assess(face(), load, Range.around(25, sd)).whole_too for sd in (0.05, 0.4))
        assert narrow is not None
        assert wide is not None
        assert wide < narrow

    def test_service_makes_the_part_stronger_in_hindsight(self) -> None:
        """Having stood much, the part was strong: the same load is less likely to exceed what it carries.

        Proof: the chance of standing rises and that of breaking falls with the capacity, so they are negatively
        correlated over it.
        """
        usual = LoadCase("usual", Range(1500, 2200), 0.0)
        load = LoadCase("it", Range(1500, 6000), 0.0)
        fresh, once, often = (
            assess(face(), load, Range(15, 40), service_survived=ServiceSurvived(usual, times)).cases[0].broke or 0
            for times in (0, 1, 50)
        )
        assert often < once < fresh
        # Without a load of its own, what it stood is the load that broke it in the end.
        alike = [
            assess(face(), load, Range(15, 40), service_survived=ServiceSurvived(None, times)).cases[0].broke or 0
            for times in (1, 10)
        ]
        assert alike[1] < alike[0] < fresh

    def test_rivals_share_the_explanation(self) -> None:
        """Shares sum to 1, the load that can't have done it has none, and what was held more probable gains."""
        weak = LoadCase("touch", Range(0.1, 0.2), 0.0)
        got = assess(face(), [PULL, weak, LEAN], WELD)
        assert sum(one.explains or 0 for one in got.cases) == pytest.approx(1)
        assert got.cases[1].explains == pytest.approx(0, abs=1e-9)
        favoured = assess(face(), [PULL, LEAN], WELD, priors=[1, 99]).cases[1].explains or 0
        assert favoured > (assess(face(), [PULL, LEAN], WELD).cases[1].explains or 0)

    def test_none_can_have_done_it(self) -> None:
        """Only loads that can't break the face: said in words, no evidence."""
        got = assess(face(), LoadCase("touch", Range(0.001, 0.001), 0.0), Range(25, 25))
        assert got.whole_too is None
        assert any("another load" in line for line in got.sentences)
        told, why = bearing(got)
        assert told is None
        assert "another load" in why

    def test_as_evidence(self) -> None:
        """The number, its counterpart, the bounds over the rivals; an improbable break weighs less."""
        got = assess(face(), [PULL, LEAN], WELD)
        told, _ = bearing(got)
        assert told is not None
        assert got.whole_too is not None
        assert told.overload == got.whole_too == pytest.approx(1 - told.weak_build)
        assert told.bounds[0] - 0.01 <= told.overload <= told.bounds[1] + 0.01  # the bounds leave out what is < 1 %
        assert told.trust == 1
        unlikely, _ = bearing(assess(face(), LoadCase("it", Range(300, 700), 0.0), WELD))
        assert unlikely is not None
        assert unlikely.trust < 1

    def test_seeded(self) -> None:
        """The same question gets the same answer to the last digit."""
        once, again = (assess(hidden(5), [PULL, LEAN], WELD).to_json() for _ in range(2))
        assert once == again


class TestWhatCantBeTold:
    def test_without_scale(self) -> None:
        """No strength in N, with the reason; ratios are still there, along a pull too."""
        got = assess(face(mm_per_px=None), [PULL, LEAN], WELD)
        assert got.reasons["capacity"] == NO_SCALE
        assert got.knock_down is not None
        assert got.cases[0].knock_down == pytest.approx(1 / 2.1875)
        assert got.cases[1].knock_down is None  # a lever arm in mm means nothing on a face without mm
        assert got.cases[0].as_built_n is None
        assert got.to_json()["sections"] is None
        assert NO_SCALE in got.sentences

    def test_without_strength(self) -> None:
        """No known material: ratios only."""
        got = assess(face(), [PULL, LEAN], None)
        assert got.reasons["capacity"] == NO_STRENGTH
        assert got.cases[1].knock_down is not None

    def test_without_nominal_contact(self) -> None:
        """A break across the layers: capacity as built, no fully bonded face, no evidence between the two."""
        got = assess(replace(face(), designed=None), PULL, WELD)
        assert got.reasons["knock_down"] == NO_CONTACT
        assert got.cases[0].as_built_n is not None
        assert got.cases[0].as_designed_n is None
        assert got.whole_too is None
        assert bearing(got)[0] is None

    @pytest.mark.parametrize("scale", [0.5, None])
    def test_nothing_bonded(self, scale: float | None) -> None:
        """A face without a weld carries nothing that could be worked out; it says so."""
        got = assess(face(lost=40, mm_per_px=scale), PULL, WELD)
        assert got.reasons["capacity"] == NO_WELD
        assert got.cases[0].knock_down is None

    @pytest.mark.parametrize(
        ("changes", "words"),
        [
            ({"load": []}, "at least one load"),
            ({"load": [PULL, PULL]}, "same name"),
            ({"priors": [1.0, 2.0]}, "how probable"),
            ({"priors": [-1.0]}, "how probable"),
            ({"priors": [0.0]}, "how probable"),
            ({"notch": Range(0.5, 2)}, "1 or more"),
        ],
    )
    def test_refusals(self, changes: dict[str, object], words: str) -> None:
        """Clear words for what can't be used."""
        with pytest.raises(LoadRefused, match=words):
            assess(**({"face": face(), "load": PULL, "weld_mpa": WELD} | changes))  # type: ignore[arg-type]
        with pytest.raises(LoadRefused, match="below 0"):
            ServiceSurvived(times=-1)

    def test_sentences_carry_the_caveats(self) -> None:
        """Wherever a capacity is told, so are the upper bound, the interface's strength and the published anchor."""
        got = assess(face(), PULL, WELD)
        assert {UPPER_BOUND, INTERFACE, ANCHOR} <= set(got.sentences)
        assert not any("safe" in line.lower() for line in got.sentences)

    def test_json_is_plain(self) -> None:
        """It goes through strict JSON unchanged, whatever is missing."""
        for got in _all_kinds():
            told = got.to_json()
            assert json.loads(json.dumps(told, allow_nan=False)) == told


def _all_kinds() -> list[Assessment]:
    no_design = replace(face(), designed=None)
    return [
        assess(face(), [PULL, LEAN], WELD, Range(1, 2), ServiceSurvived(None, 3)),
        assess(hidden(5), LEAN, WELD),
        assess(face(mm_per_px=None), [PULL, LEAN], WELD),
        assess(no_design, PULL, WELD),
        assess(face(lost=40), PULL, None),
        assess(face(lost=0), LoadCase("stand", Range(1, 2), 180.0), WELD, criterion="principal_tension"),
    ]


class TestFromMeasurement:
    def result(self, share: float, fraction: float | None) -> dict[str, object]:
        """The part of a measurement's result that is read."""
        entry = {"value": share, "interval": [share * 0.9, share * 1.1]}
        return {
            "bonded_share_of_face": entry,
            "bonded_area_fraction": None if fraction is None else {"value": fraction, "interval": [0, 1]},
        }

    def labels(self) -> NDArray[np.uint8]:
        """Ten rows each of bonded, bare, void, unknown and opening, with an outside rim."""
        rows = [BONDED, BARE, VOID, UNKNOWN, OPENING]
        inside = np.repeat(np.array(rows, np.uint8), 10)[:, None] * np.ones((1, 20), np.uint8)
        return np.pad(inside, 3, constant_values=OUTSIDE)

    def test_the_nominal_area_is_the_measured_one(self) -> None:
        """Bonded over designed is the measured fraction; openings and what lies outside were never designed."""
        labels = self.labels()
        one = FaceWelds.from_labels(labels, self.result(0.25, 0.5), 10.0, 2.0)
        assert one.designed is not None
        assert one.known_fraction == pytest.approx(0.5)
        assert one.mm_per_px == pytest.approx(0.02)
        assert one.designed[(labels == OPENING) | (labels == OUTSIDE)].max() == 0
        assert one.bonded[labels == UNKNOWN].max() == 0
        assert one.bonded_relative_sd == pytest.approx(0.1 / 1.6448536)
        assert 0 <= one.designed.min() <= one.designed.max() <= 1

    def test_without_fraction(self) -> None:
        """No fraction, no design; with the contact band's share there is one."""
        assert FaceWelds.from_labels(self.labels(), self.result(0.25, None), 10.0).designed is None
        one = FaceWelds.from_labels(self.labels(), self.result(0.25, None), 10.0, contact_share=0.6)
        assert one.designed is not None

    def test_refusals(self) -> None:
        """Outer surfaces, empty faces and scales of 0 have no strength."""
        with pytest.raises(SectionRefused, match="outer surface"):
            FaceWelds.from_labels(np.full((4, 4), RUBBED, np.uint8), {}, 10.0)
        with pytest.raises(SectionRefused, match="empty"):
            FaceWelds.from_labels(np.zeros((4, 4), np.uint8), {}, 10.0)
        with pytest.raises(SectionRefused, match="above 0"):
            FaceWelds.from_labels(self.labels(), {}, 0.0)

    @pytest.mark.parametrize("name", ["face_04", "face_06", "face_23", "face_25", "face_29", "face_43"])
    def test_spread_contact_stands_for_the_true_bands(self, name: str) -> None:
        """Against the practice faces' true contact bands: area exact, principal moments within 5 %.

        The label map doesn't tell a bare band from the flank between roads; contact spread evenly over both must
        still give the section that the bands give.
        """
        masks = {
            part: np.asarray(Image.open(FACES / name / "masks" / f"{part}.png").convert("L")) > 127
            for part in ("face", "bonded", "nominal", "void")
        }
        inside, bonded, nominal = masks["face"], masks["bonded"] & masks["nominal"], masks["nominal"] & masks["face"]
        given_ = json.loads((FACES / name / "input.json").read_text(encoding="utf-8"))
        road_px = given_["line_width_mm"] * 1000 / given_["um_per_px"]
        # The mesh of a sparse filling, told from flanks by its width as the label map does it.
        mesh = ndimage.uniform_filter((~nominal & ~masks["void"]).astype(float), round(0.75 * road_px) | 1) > 0.85
        rest = np.where(masks["void"], VOID, np.where(mesh & ~nominal, OPENING, BARE))
        labels = np.where(inside, np.where(bonded, BONDED, rest), OUTSIDE)
        share, fraction = bonded.sum() / inside.sum(), bonded.sum() / nominal.sum()
        one = FaceWelds.from_labels(labels.astype(np.uint8), self.result(share, fraction), 10.0)
        assert one.whole is not None
        got, true = one.whole.section, section_properties(nominal, 0.01)
        assert got.area_mm2 == pytest.approx(true.area_mm2, rel=1e-6)
        assert (got.i1_mm4, got.i2_mm4) == pytest.approx((true.i1_mm4, true.i2_mm4), rel=0.05)
        centre = centre_of(one)
        assert math.hypot(got.x_mm - true.x_mm, got.y_mm - true.y_mm) < 0.02 * centre[0]
