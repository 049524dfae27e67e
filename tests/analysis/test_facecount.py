"""The bonded share from judged points: ASTM E562's figures where fields are equal, the ratio's where they are not."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from skimage import measure

from analysis.measures.countgrid import lay_grid
from analysis.measures.facecount import FaceCount, face_count, needed, result_of, tally
from analysis.measures.pointcount import PointCountRefused, point_count, wilson_interval

HITS = (7, 5, 8, 6.5, 9, 4, 7.5, 6, 8, 5)


def field(bonded: int, on_boundary: int = 0, cant_tell: int = 0, points: int = 25, left: int = 0) -> list[str]:
    """The codes of one field; what isn't said is bare."""
    rest = points - bonded - on_boundary - cant_tell - left
    return ["b"] * bonded + ["x"] * on_boundary + ["u"] * cant_tell + [""] * left + ["e"] * rest


def counted(*fields: list[str]) -> FaceCount:
    """The count over these fields."""
    codes = [code for one in fields for code in one]
    return face_count(tally(codes, [number for number, one in enumerate(fields) for _ in one]))


class TestFaceCount:
    def test_worked_example(self) -> None:
        """Ten fields of 25: mean 26.40 %, s 6.3805 %, 95 % +/- 4.5644 %, RA 17.289 %.

        Worked from the formulas of E562 section 10 (from memory) with numpy and scipy's t, outside this program.
        """
        whole = [field(int(hit), on_boundary=round(hit % 1 * 2)) for hit in HITS]
        result = result_of(counted(*whole))
        assert result["bonded_share"]["value"] == pytest.approx(0.2640, abs=5e-5)
        assert result["sd"] == pytest.approx(0.063805, abs=5e-7)
        assert result["half_width"] == pytest.approx(0.045644, abs=5e-7)
        assert result["relative_accuracy"] == pytest.approx(0.17289, abs=5e-6)

    @given(st.lists(st.integers(0, 16), min_size=2, max_size=12).filter(lambda hits: len(set(hits)) > 1))
    def test_fields_of_one_size_give_the_standards_figures(self, hits: list[int]) -> None:
        """With nothing untold the ratio's estimator and E562's are one."""
        count, plain = counted(*(field(hit, points=16) for hit in hits)), point_count(hits, 16)
        assert count.share == pytest.approx(plain.mean)
        assert count.interval == pytest.approx(plain.interval)

    @given(st.lists(st.tuples(st.integers(0, 8), st.integers(0, 4)), min_size=2, max_size=10))
    def test_untold_points_leave_both_sums(self, fields: list[tuple[int, int]]) -> None:
        """Bonded over all less can't tell; the bounds take in the share."""
        count = counted(*(field(hit, cant_tell=untold, points=12) for hit, untold in fields))
        assert count.share == pytest.approx(sum(h for h, _ in fields) / sum(12 - u for _, u in fields))
        assert count.bounds is not None
        assert count.bounds[0] - 1e-12 <= count.share <= count.bounds[1] + 1e-12

    def test_unequal_fields_agree_with_the_bootstrap(self) -> None:
        """The ratio's half width lies within 15 % of a bootstrap over fields (30 fields, seeded)."""
        chance = np.random.default_rng(5)
        fields = [(int(chance.binomial(25 - u, 0.3)), u) for u in chance.integers(0, 12, 30).tolist()]
        count = counted(*(field(hit, cant_tell=untold) for hit, untold in fields))
        hits, told = np.array([(hit, 25 - untold) for hit, untold in fields]).T
        drawn = chance.integers(0, 30, (4000, 30))
        again = hits[drawn].sum(axis=1) / told[drawn].sum(axis=1)
        assert count.spread is not None
        assert count.spread.half_width == pytest.approx(2.045 * again.std(), rel=0.15)

    def test_the_interval_holds_the_truth_on_mixed_fields(self) -> None:
        """Coverage over 600 seeded counts of fields that differ: 95 % within three standard errors."""
        chance = np.random.default_rng(11)
        held = 0
        for _ in range(600):
            shares = chance.beta(4, 6, 8)  # mean 0.4
            hits = chance.binomial(20, shares)
            count = counted(*(field(int(hit), points=20) for hit in hits))
            assert count.interval is not None
            held += count.interval[0] <= 0.4 <= count.interval[1]
        assert held / 600 == pytest.approx(0.95, abs=0.03)

    def test_one_field_has_the_interval_of_its_points(self) -> None:
        """Without a second field Wilson's interval stands in, and the reason is said; no relative accuracy."""
        count = counted(field(5, points=10))
        assert count.interval == pytest.approx(wilson_interval(5, 10))
        assert count.by == "points"
        assert "one field" in str(count.reason)
        assert result_of(count)["relative_accuracy"] is None

    def test_fields_all_alike_do_not_claim_certainty(self) -> None:
        """Every point bonded: the interval is still of some width."""
        count = counted(field(25), field(25), field(25))
        assert count.interval is not None
        assert count.interval[0] == pytest.approx(wilson_interval(75, 75)[0])
        assert count.interval[0] < 0.96
        assert needed(count)[0]["still"] is None

    def test_half_a_field_is_not_used(self) -> None:
        """A field with a point left is kept in the list but not in the share."""
        count = counted(field(5), field(10), field(0, left=1))
        assert count.share == pytest.approx(15 / 50)
        assert [row["used"] for row in result_of(count)["fields"]] == [True, True, False]

    def test_nothing_told_is_null_with_its_reason(self) -> None:
        """All can't tell: no share, never nought."""
        count = counted(field(0, cant_tell=25), field(0, cant_tell=25))
        assert count.share is None
        assert count.reason

    def test_a_strange_code_is_refused(self) -> None:
        """A code that is not in the list is refused by name."""
        with pytest.raises(PointCountRefused, match="q"):
            tally(["b", "q"], [0, 0])


@pytest.mark.parametrize("name", ["face_06", "face_12", "face_39", "face_47"])
def test_on_practice_faces_the_interval_of_throws_keeps_its_promise(name: str) -> None:
    """Points judged by the face's own masks, 80 counts of six throws of 25: no bias, 95 % cover the true share.

    Four standard errors of either; the faces are rendered, their share is that of their masks.
    """
    masks = Path(__file__).parents[1] / "faces" / name / "masks"
    face, bonded = (np.asarray(Image.open(masks / f"{one}.png").convert("L")) > 0 for one in ("face", "bonded"))
    truth = float((face & bonded).sum() / face.sum())
    rings = sorted(measure.find_contours(np.pad(face, 1).astype(float), 0.5), key=len)[::-1]
    outer, *holes = [measure.approximate_polygon(ring, 1.0)[:-1, ::-1] - 1 for ring in rings if len(ring) > 60]
    held, shares = 0, []
    for seed in range(80):
        grid = lay_grid(outer, holes, 25, 6, seed)
        x, y = np.clip(np.round(grid.points_px).astype(int), 0, np.array(face.shape[::-1]) - 1).T
        count = face_count(tally(["b" if hit else "e" for hit in bonded[y, x]], grid.field_of.tolist()))
        assert count.interval is not None
        held += count.interval[0] <= truth <= count.interval[1]
        shares.append(count.share)
    assert np.mean(shares) == pytest.approx(truth, abs=4 * np.std(shares) / 80**0.5)
    assert held / 80 > 0.95 - 4 * (0.95 * 0.05 / 80) ** 0.5


class TestNeeded:
    def test_half_the_relative_accuracy_takes_four_times_the_fields(self) -> None:
        """E562 section 11: 10 fields at 17.289 % come to 10 (17.289 / 10)^2 = 29.9, so 20 more for 10 %."""
        count = counted(*(field(int(hit), on_boundary=round(hit % 1 * 2)) for hit in HITS))
        assert [row["still"] for row in needed(count)] == [20, 0, 0]

    def test_planning_table(self) -> None:
        """n = 4 / (E^2 V P): at V = 0.2, P = 25 the table's 80, 20 and (from memory 10) 8 by the formula."""
        count = counted(field(5), field(4), field(6))
        assert [row["planned"] for row in needed(count)] == [80, 20, 8]
