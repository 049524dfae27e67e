"""Weights, grades, values of looking and scores against published worked examples; what an interval may do to a weight.

The examples of the verdict's own reckoning are in test_verdict.py, those of the scores in test_verdict_scores.py.
"""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.evidence import bayes
from analysis.evidence.catalogue import MODES, Observation, load_catalogue
from analysis.evidence.load import seen_from_load
from analysis.evidence.observations import LIMITS, Seen, from_measures, range_shares
from analysis.evidence.scores import brier_sum, cohen_kappa, murphy_parts
from analysis.evidence.weights import weigh_each
from analysis.evidence.words import grade, second_grade
from analysis.measures.pointcount import wilson_interval

BOOK = load_catalogue()
MEASURES = [entry for entry in BOOK.observations.values() if entry.kind == "measure"]


class TestDecibans:
    def test_weights_add_as_factors_multiply(self) -> None:
        """General Report on Tunny sec. 21(g): a deciban is 10 log10 of a factor, and weights add."""
        assert bayes.deciban(10) == pytest.approx(10)
        assert bayes.deciban(2 * 5) == pytest.approx(bayes.deciban(2) + bayes.deciban(5))

    def test_a_ban_in_bits_and_nats(self) -> None:
        """Encyclopaedia entry "Deciban": 1 ban = 3.321928 bit = 2.302585 nat; 1 dB moves odds by 1.258925."""
        odds = bayes.probability(1) / (1 - bayes.probability(1))
        assert odds == pytest.approx(1.258925, abs=5e-7)
        ban = bayes.probability(10) / (1 - bayes.probability(10))
        assert (math.log2(ban), math.log(ban)) == pytest.approx((3.321928, 2.302585), abs=5e-7)

    def test_shown_finer_than_a_person_notices(self) -> None:
        """Good: about 1 dB is the smallest change of belief a person notices; a tenth of it is shown."""
        told = weigh_each([Seen("heat_marks", "yes")], BOOK)[0].weights_db["interference_rub"]
        assert abs(round(told, 1) - told) <= 0.05

    def test_rounded_example_of_the_report(self) -> None:
        """The report's own rounded figures: 20 heads at 3 dB are 60 dB; from -40 dB to 20 dB, 100 to 1."""
        assert 20 * round(bayes.deciban(2)) - 40 == 20
        assert bayes.probability(20) / (1 - bayes.probability(20)) == pytest.approx(100)


class TestGrades:
    @pytest.mark.parametrize(
        ("factor", "words"),
        [(1, "barely worth mentioning"), (3.1623, "substantial"), (10, "strong"), (31.623, "very strong"),
         (100, "decisive")],
    )  # fmt: skip
    def test_jeffreys_by_the_factor(self, factor: float, words: str) -> None:
        """Jeffreys' grades begin at B = 1, 3.162, 10, 31.62, 100 (statlect.com): 10 to 100 is two grades, not one."""
        assert grade(bayes.deciban(factor)) == words

    @pytest.mark.parametrize(
        ("factor", "words"),
        [(1, "not worth more than a bare mention"), (2.99, "not worth more than a bare mention"), (3, "positive"),
         (19.9, "positive"), (20, "strong"), (149, "strong"), (150, "very strong")],
    )  # fmt: skip
    def test_kass_and_raftery(self, factor: float, words: str) -> None:
        """Kass and Raftery 1995 sec. 3.2: edges at B = 3, 20, 150; 2 ln B is 2.197, 5.991, 10.021."""
        assert second_grade(bayes.deciban(factor)) == second_grade(-bayes.deciban(factor)) == words
        edges = [2 * math.log(edge) for edge in (3, 20, 150)]
        assert edges == pytest.approx([2.197, 5.991, 10.021], abs=5e-4)


class TestValueOfLooking:
    def test_drilling(self) -> None:
        """Samuelson and Marks, Managerial Economics ch. 13: the test is worth 20 k of the perfect 120 k."""
        prior = {"wet": 0.4, "dry": 0.6}
        p_good = 0.4 * 0.75 + 0.6 / 3
        good = bayes.posterior(prior, [{"wet": bayes.deciban(0.75), "dry": bayes.deciban(1 / 3)}])
        bad = bayes.posterior(prior, [{"wet": bayes.deciban(0.25), "dry": bayes.deciban(2 / 3)}])
        drill = [600 * after["wet"] - 200 * after["dry"] for after in (good, bad)]
        assert p_good == pytest.approx(0.5)
        assert (good["wet"], bad["wet"]) == pytest.approx((0.6, 0.2))
        assert drill == pytest.approx([280, -40])
        without = max(0.0, 600 * 0.4 - 200 * 0.6)
        assert p_good * max(0, drill[0]) + (1 - p_good) * max(0, drill[1]) - without == pytest.approx(20)
        assert 0.4 * 600 - without == pytest.approx(120)

    def test_oil_wildcatter(self) -> None:
        """Raiffa's table in the SAS/OR manual: posteriors, and 12.5 k with payoffs from memory."""
        prior = {"dry": 0.5, "wet": 0.3, "soaking": 0.2}
        rows = {"dry": (0.6, 0.3, 0.1), "wet": (0.3, 0.4, 0.3), "soaking": (0.1, 0.4, 0.5)}
        pays = {"dry": -70, "wet": 50, "soaking": 200}
        found, worth = [], 0.0
        for outcome in range(3):
            after = bayes.posterior(prior, [{s: bayes.deciban(row[outcome]) for s, row in rows.items()}])
            chance = sum(prior[s] * row[outcome] for s, row in rows.items())
            found.append([chance, *after.values()])
            worth += chance * max(0.0, sum(pays[s] * p for s, p in after.items()))
        assert found[0] == pytest.approx([0.41, 0.7317, 0.2195, 0.0488], abs=5e-5)
        assert found[1] == pytest.approx([0.35, 0.4286, 0.3429, 0.2286], abs=5e-5)
        assert found[2] == pytest.approx([0.24, 0.2083, 0.3750, 0.4167], abs=5e-5)
        assert worth - sum(pays[s] * p for s, p in prior.items()) == pytest.approx(12.5)


class TestScores:
    STATED = (0.9, 0.8, 0.7, 0.6, 0.4, 0.3, 0.2, 0.1, 0.9, 0.6)
    TRUE = (True, True, True, False, True, False, False, False, True, False)

    def test_skill(self) -> None:
        """Ten forecasts by hand: Brier 0.137 against 0.25 for always one half, skill 0.452."""
        score = brier_sum([(1 - f, f) for f in self.STATED], [int(o) for o in self.TRUE]) / 2
        assert 1 - score / 0.25 == pytest.approx(0.452)

    def test_binning_breaks_murphys_identity(self) -> None:
        """Stephenson et al. 2008: put into bins, the parts no longer add up without two more terms."""
        binned = [math.ceil(round(f * 5, 9)) / 5 - 0.1 for f in self.STATED]
        score = sum((f - o) ** 2 for f, o in zip(self.STATED, self.TRUE, strict=True)) / 10
        exact, coarse = murphy_parts(self.STATED, self.TRUE), murphy_parts(binned, self.TRUE)
        assert exact[0] - exact[1] + exact[2] == pytest.approx(score)
        assert coarse[0] - coarse[1] + coarse[2] != pytest.approx(score, abs=1e-3)

    def test_kappa(self) -> None:
        """Textbook table [[20, 5], [10, 15]]: 0.70 agree, 0.50 by chance, kappa 0.40 (from memory, recomputed)."""
        assert cohen_kappa([[20, 5], [10, 15]]) == pytest.approx(0.40)

    @given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=1, max_size=40))
    def test_kappa_by_disagreement(self, pairs: list[tuple[int, int]]) -> None:
        """Cohen's second form, pair by pair: 1 - seen over expected disagreement; none where chance always agrees."""
        table = [[pairs.count((i, j)) for j in range(4)] for i in range(4)]
        found = cohen_kappa(table)
        seen = sum(one != two for one, two in pairs) / len(pairs)
        expected = sum(one != two for one, _ in pairs for _, two in pairs) / len(pairs) ** 2
        if expected == 0:
            assert found is None
        else:
            assert found == pytest.approx(1 - seen / expected)

    def test_no_case_has_no_kappa(self) -> None:
        """Without a case there is no agreement to speak of."""
        assert cohen_kappa([[0, 0], [0, 0]]) is None


@pytest.mark.parametrize(
    ("hits", "cases", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_intervals_of_counted_cases(hits: int, cases: int, low: float, high: float) -> None:
    """Newcombe 1998 table I (from memory, recomputed): the Wilson interval that stands beside the log's counts."""
    assert wilson_interval(hits, cases) == pytest.approx((low, high), abs=6e-5)


def shares_of(entry: Observation, value: float, sd: float) -> tuple[float, ...]:
    return range_shares(value, sd, entry.edges, *LIMITS[entry.code])


def weights_of(entry: Observation, shares: tuple[float, ...]) -> dict[str, float]:
    return dict(weigh_each([Seen(entry.code, "yes", shares=shares)], BOOK)[0].own_db)


FACE = {"surface": "fracture", "face_area_mm2": 40.0}


def measured(value: float, half: float) -> Seen:
    """A bonded share with an interval of that half width, cut off at what can be."""
    told = {"value": value, "interval": [max(0.0, value - half), min(1.0, value + half)], "bounds": None}
    return next(s for s in from_measures({**FACE, "bonded_area_fraction": told}) if s.code == "bonded_contact")


def pull(seen: Seen) -> float:
    """How far apart a reading pulls the modes, dB."""
    weights = weigh_each([seen], BOOK)[0].own_db
    return max(weights.values()) - min(weights.values())


def span(entry: Observation) -> float:
    return entry.edges[-1] - entry.edges[0]


class TestIntervals:
    """An uncertain measure gives a weaker weight. One reading between two ranges may fall either way."""

    @given(st.sampled_from(MEASURES), st.floats(-0.5, 1.5), st.floats(0, 3))
    def test_never_surer_than_the_surest_range_it_touches(self, entry: Observation, place: float, wide: float) -> None:
        """A mixture of likelihoods parts two modes no farther than its most telling member (mediant inequality)."""
        value, sd = entry.edges[0] + place * span(entry), wide * span(entry)
        shares = shares_of(entry, value, sd)
        weights = weights_of(entry, shares)
        sharp = [
            weights_of(entry, tuple(float(i == n) for i in range(len(shares)))) for n, p in enumerate(shares) if p > 0
        ]
        for one in MODES:
            for other in MODES:
                most = max(abs(w[one] - w[other]) for w in sharp)
                assert abs(weights[one] - weights[other]) <= most + 1e-9

    @given(st.one_of(st.floats(0.0, 0.15), st.floats(0.95, 1.0)), st.floats(0.0, 0.5), st.floats(0.0, 0.5))
    def test_widening_the_interval_never_adds_weight(self, value: float, half: float, more: float) -> None:
        """Where the bonded share speaks clearest, at either end, a wider interval never pulls farther."""
        narrow, wider = (pull(measured(value, reach)) for reach in (half, half + more))
        assert wider <= narrow + 1e-9

    @given(st.floats(0.0, 0.009), st.floats(0.0, 0.9), st.floats(0.0, 0.9))
    def test_an_unread_face_never_adds_weight(self, missing: float, unread: float, more: float) -> None:
        """The more of a face can't be read, the less its whole walls speak against under-extrusion."""
        told = []
        for share in (unread, min(1.0, unread + more)):
            walls = {"walls": [{"length_mm": 60.0, "continuity": 1 - missing}], "unknown_share": share}
            (seen,) = [s for s in from_measures({**FACE, **walls}) if s.code == "wall_gap_share"]
            told.append(-weigh_each([seen], BOOK)[0].own_db["under_extrusion"])
        assert told[1] <= told[0] + 1e-9

    @pytest.mark.parametrize(
        "seen", [lambda: measured(0.5, 0.5), lambda: seen_from_load(0.5, (0.0, 1.0))], ids=["bonded share", "load"]
    )
    def test_a_reading_known_not_at_all_hardly_weighs(self, seen: Callable[[], Seen]) -> None:
        """An interval over all that can be stays well below "substantial" (5 dB, Jeffreys)."""
        assert max(map(abs, weigh_each([seen()], BOOK)[0].own_db.values())) < 2.5

    @given(st.sampled_from(MEASURES), st.floats(0, 1), st.floats(0, 1))
    def test_a_blurred_look_is_expected_to_tell_less(self, entry: Observation, blur: float, more: float) -> None:
        """Confusing ranges with one another never adds expected information (data processing inequality)."""
        count = len(entry.bins)

        def blurred(share: float) -> dict[str, list[float]]:
            return {m: [(1 - share) * p + share / count for p in entry.likelihood[m]] for m in MODES}

        less, lesser = sorted((blur, 1 - (1 - blur) * (1 - more)))
        gains = [bayes.expected_gain_bits(BOOK.prior, blurred(share)) for share in (0.0, less, lesser)]
        assert gains[0] >= gains[1] - 1e-12
        assert gains[1] >= gains[2] - 1e-12
