"""Load against weld on a face whose figures stand in textbooks: the page, the interface, the verdict, the summary."""

import re
from typing import Any

import numpy as np
import pytest
from fastapi import FastAPI
from sqlmodel import Session

from analysis.common.classes import BARE, BONDED, OUTSIDE, UNKNOWN
from analysis.evidence.load import CODE
from server.records import Face, Failure, Fragment, Measurement, Part, Revision
from server.strength.told import odds
from server.verdict.scope import read_scope
from server.verdict.verdicts import gather, weigh_scope
from tests.server.builders import make_face, make_failure, make_fragment, make_photo, make_site
from tests.server.conftest import Client
from tests.server.photo_builders import RESULT, encoded, make_measurement

# A face of 10 × 20 mm, 4 mm of whose height was never joined at its upper edge; pixels of 0.1 mm.
UM_PER_PX, EDGE_PX, STRIP_MM = 100.0, 20, 4
PULL = {"name": "pulled", "force": "700 to 900 N", "action": "pull", "entered_by": "Runa"}
BEND = {
    "name": "leaned on", "force": "60 to 200 N", "action": "bend", "azimuth": "12:00", "reach": "20 to 30",
    "entered_by": "Runa",
}  # fmt: skip
WELD = {"strength": "9 to 11 MPa", "origin": "coupon", "entered_by": "Runa"}


def labels(strip_mm: int = STRIP_MM, unknown_rows: int = 0) -> Any:
    """The label map: bonded but for the strip, which is bare."""
    made = np.full((200 + 2 * EDGE_PX, 100 + 2 * EDGE_PX), OUTSIDE, np.uint8)
    made[EDGE_PX:-EDGE_PX, EDGE_PX:-EDGE_PX] = BONDED
    made[EDGE_PX : EDGE_PX + strip_mm * 10, EDGE_PX:-EDGE_PX] = BARE
    if unknown_rows:
        made[-EDGE_PX - unknown_rows : -EDGE_PX, EDGE_PX:-EDGE_PX] = UNKNOWN
    return made


def measured(session: Session, app: FastAPI, face: Face, strip_mm: int = STRIP_MM, unknown_rows: int = 0) -> Any:
    """Keep the measurement of that face: the whole of it is nominal contact."""
    photo = make_photo(session, face, app=app, data=encoded(width=140, height=240), width_px=140, height_px=240)
    low, high = EDGE_PX, EDGE_PX + 100
    share = {"value": 1 - strip_mm / 20, "interval": [1 - strip_mm / 20] * 2, "bounds": [0.0, 1.0]}
    result = RESULT | {
        "face_area_mm2": 200.0,
        "outline_px": [[low, low], [high, low], [high, low + 200], [low, low + 200]],
        "bonded_share_of_face": share,
        "bonded_area_fraction": share,
        "unknown_share": unknown_rows / 200,
        "layer_planes": None,
        "largest_gap_mm": None,
        "walls": [],
    }
    given = {"um_per_px": UM_PER_PX, "scale_relative_sd": 0.001, "line_width_mm": 0.4, "layer_height_mm": 0.2}
    made = labels(strip_mm, unknown_rows)
    return make_measurement(session, app, photo, labels=made, result=result, given=given, px_per_pixel=1.0)


@pytest.fixture
def face(session: Session, app: FastAPI) -> Face:
    """The face of a failure with its measurement."""
    made = make_face(session, make_fragment(session))
    measured(session, app, made)
    return made


def failure_of(session: Session, face: Face) -> int:
    piece = session.get(Fragment, face.fragment_id)
    assert piece is not None
    return piece.failure_id


def enter(client: Client, key: int, face: Face, *loads: dict[str, str], weld: dict[str, str] | None = WELD) -> None:
    """Log loads and strength as a person does."""
    for load in loads:
        answer = client.post(f"/failures/{key}/loads/new", load | {"face_id": str(face.id)})
        assert answer.status_code == 303
    if weld:
        assert client.post(f"/failures/{key}/weld", weld).status_code == 303


def told(client: Client, key: int, site: str = "") -> dict[str, Any]:
    answer = client.get(f"/api/failures/{key}/strength{site}")
    assert answer.status_code == 200
    return dict(answer.json())


def plain(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


class TestFigures:
    def test_the_section_is_that_of_the_handbook(self, client: Client, session: Session, face: Face) -> None:
        """10 × 16 mm of 10 × 20: A = 160, I = bh³/12, Z = bh²/6, J = Ix + Iy, and 2 mm of eccentricity (statics)."""
        (one,) = told(client, failure_of(session, face))["faces"]
        built = one["sections"]["as_built"]
        assert built["area_mm2"] == pytest.approx(160)
        assert built["i1_mm4"] == pytest.approx(10 * 16**3 / 12, rel=1e-4)
        assert built["i2_mm4"] == pytest.approx(16 * 10**3 / 12, rel=1e-4)
        assert built["z_top_mm3"] == pytest.approx(10 * 16**2 / 6, rel=1e-4)
        assert built["polar_mm4"] == pytest.approx(10 * 16**3 / 12 + 16 * 10**3 / 12, rel=1e-4)
        assert one["sections"]["eccentricity_mm"] == pytest.approx([0, 2], abs=1e-3)
        page = plain(client.get(f"/failures/{failure_of(session, face)}/strength").text)
        assert "Area that carries 160.0 mm²" in page
        assert "2.00 mm off the middle of the face" in page
        assert "2.00 mm below" in page

    def test_a_strip_at_the_edge_costs_a_pull_its_eccentricity(
        self, client: Client, session: Session, face: Face
    ) -> None:
        """σmax/σgross = [1/(1-f)]·[1 + 3f/(1-f)] is 2.1875 at f = 0.2 (statics): 46 % is left."""
        key = failure_of(session, face)
        fall = told(client, key)["faces"][0]["knock_down"]
        assert fall["tension"]["value"] == pytest.approx(1 / 2.1875, abs=1e-3)
        assert fall["bending_least"]["value"] == pytest.approx(0.64, abs=1e-3)  # (1-f)² about the strip's own axis
        page = plain(client.get(f"/failures/{key}/strength").text)
        assert "Pulled through the middle of the face 46 %" in page
        assert "No load is logged yet" in page

    def test_capacity_in_newton(self, client: Client, session: Session, face: Face) -> None:
        """10 MPa on 200 mm² bear 2000 N in the whole face and 914 N with the strip; the drawing shows both middles."""
        key = failure_of(session, face)
        enter(client, key, face, PULL)
        (case,) = told(client, key)["faces"][0]["cases"]
        middle = {name: np.sqrt(np.prod(case[name])) for name in ("as_built_n", "as_designed_n")}
        strength = np.sqrt(9 * 11)
        assert middle["as_designed_n"] == pytest.approx(200 * strength, rel=0.02)
        assert middle["as_built_n"] == pytest.approx(200 * strength / 2.1875, rel=0.02)
        assert case["exceeds_designed"] < 0.01 < case["exceeds_built"] < 0.5
        page = client.get(f"/failures/{key}/strength").text
        for words in ("weld-drawing", "off-ring", "Borne as built", "Borne with every contact joined", "the pull"):
            assert words in page

    def test_bending_opens_the_side_that_the_load_comes_from(
        self, client: Client, session: Session, face: Face
    ) -> None:
        """Pushed towards 12 at a height, the lower edge opens: M/Z = F·r/(bh²/6), highest at the bottom (statics)."""
        key = failure_of(session, face)
        enter(client, key, face, BEND | {"force": "100 N", "reach": "25"})
        (case,) = told(client, key)["faces"][0]["cases"]
        assert case["limited_by"] == "bending"
        assert case["peak"]["bending_mpa"] == pytest.approx(100 * 25 / (10 * 16**2 / 6), rel=0.01)
        assert case["peak"]["y_mm"] == pytest.approx((EDGE_PX + 200 - 0.5) / 10, abs=0.11)

    def test_each_load_has_its_own_row_and_its_share(self, client: Client, session: Session, face: Face) -> None:
        """Rival loads stand side by side; their shares of the explanation come to one."""
        key = failure_of(session, face)
        enter(client, key, face, PULL, BEND, PULL | {"force": "1 to 2 N"})
        cases = told(client, key)["faces"][0]["cases"]
        assert [case["name"] for case in cases] == ["pulled", "leaned on", "pulled (load 3)"]
        assert sum(case["explains"] for case in cases) == pytest.approx(1, abs=0.01)
        page = client.get(f"/failures/{key}/strength").text
        assert page.count("case-result") == 3

    def test_without_strength_only_shares(self, client: Client, session: Session, face: Face) -> None:
        """A load alone gives no newton; the page says what is missing, the ratios stay."""
        key = failure_of(session, face)
        enter(client, key, face, PULL, weld=None)
        body = told(client, key)
        assert body["reasons"]["weld"]
        assert body["faces"][0]["cases"][0]["as_built_n"] is None
        page = plain(client.get(f"/failures/{key}/strength").text)
        assert "46 %" in page
        assert "no force in N" in page

    def test_a_notch_factor_takes_its_share(self, client: Client, session: Session, face: Face) -> None:
        """Twice the stress at the notch leaves half the capacity."""
        key = failure_of(session, face)
        enter(client, key, face, PULL)
        before = told(client, key)["faces"][0]["cases"][0]["as_built_n"]
        changed = WELD | {"notch": "2", "correction_reason": "sharp corner"}
        assert client.post(f"/failures/{key}/weld", changed).status_code == 303
        after = told(client, key)["faces"][0]["cases"][0]["as_built_n"]
        assert after == pytest.approx([value / 2 for value in before], rel=0.01)


class TestCautions:
    def test_never_safe_and_an_upper_bound(self, client: Client, session: Session, face: Face) -> None:
        """The page and the interface say that nothing is called safe, and that without notch it is an upper bound."""
        key = failure_of(session, face)
        page, body = plain(client.get(f"/failures/{key}/strength").text), told(client, key)
        for words in ("never says that a part is safe", "upper bound", "licensed professional"):
            assert words in page
        assert any("safe" in line for line in body["cautions"])
        assert any("upper bound" in line for line in body["cautions"])

    def test_a_part_that_can_hurt_gets_the_grave_ones(self, client: Client, session: Session, face: Face) -> None:
        """They stand at the head of the page and in the interface."""
        key = failure_of(session, face)
        failure = session.get(Failure, key)
        assert failure is not None
        revision = session.get(Revision, failure.revision_id)
        assert revision is not None
        part = session.get(Part, revision.part_id)
        assert part is not None
        part.can_hurt = True
        session.add(part)
        session.commit()
        page = plain(client.get(f"/failures/{key}/strength").text)
        assert page.index("Someone can be hurt") < page.index("Loads that may have broken it")
        assert "out of use" in told(client, key)["cautions"][0]


class TestFaces:
    def test_of_two_halves_the_one_that_shows_most(
        self, client: Client, session: Session, app: FastAPI, face: Face
    ) -> None:
        """Two mating halves are one weld: the one with less unknown is reckoned, and the page says which and why."""
        key = failure_of(session, face)
        mate = make_face(session, session.get(Fragment, face.fragment_id), name="1b", mate_face_id=face.id)
        measured(session, app, mate, unknown_rows=60)
        enter(client, key, face, PULL)
        body = told(client, key)
        assert [one["face_id"] for one in body["faces"]] == [face.id]
        page = plain(client.get(f"/failures/{key}/strength").text)
        assert "only one is reckoned: 1a" in page
        assert "1b: 30 %" in page

    def test_a_direction_stays_with_its_photo(self, client: Client, session: Session, app: FastAPI, face: Face) -> None:
        """A load said on the other half's photo is held against that half."""
        key = failure_of(session, face)
        mate = make_face(session, session.get(Fragment, face.fragment_id), name="1b")
        measured(session, app, mate, unknown_rows=60)
        enter(client, key, mate, BEND)
        assert [one["face_id"] for one in told(client, key)["faces"]] == [mate.id]

    def test_a_direction_said_on_no_face_is_left_out(self, client: Client, session: Session, app: FastAPI) -> None:
        """Logged before any face was: it is listed, and the page says that it can't be held against one yet."""
        failure = make_failure(session)
        key = int(failure.id or 0)
        assert client.post(f"/failures/{key}/loads/new", BEND).status_code == 303
        measured(session, app, make_face(session, make_fragment(session, failure)))
        assert told(client, key)["faces"][0]["cases"] == []
        assert "Not held against a face: leaned on" in plain(client.get(f"/failures/{key}/strength").text)

    @pytest.mark.parametrize("tilt", ["0.3", "179.8"])
    def test_almost_straight_is_straight(self, client: Client, session: Session, face: Face, tilt: str) -> None:
        """Half a degree off needs no direction on the photo, and the page still reckons."""
        key = failure_of(session, face)
        enter(client, key, face, PULL | {"action": "aslant", "tilt": tilt})
        assert told(client, key)["faces"][0]["cases"][0]["tilt_deg"] in (0, 180)

    def test_as_much_to_be_told_on_both(self, client: Client, session: Session, app: FastAPI, face: Face) -> None:
        """A tie takes the first and says so."""
        measured(session, app, make_face(session, session.get(Fragment, face.fragment_id), name="1b"))
        page = plain(client.get(f"/failures/{failure_of(session, face)}/strength").text)
        assert "1a, the first, for as much can be told on the other" in page

    def test_without_scale_the_reason_and_the_share(self, client: Client, session: Session, app: FastAPI) -> None:
        """No strength without mm; where to mend it is linked, the form still takes loads, nothing is lost."""
        bare = make_face(session, make_fragment(session))
        photo = make_photo(session, bare, app=app)
        key = failure_of(session, bare)
        enter(client, key, bare, BEND)
        page = client.get(f"/failures/{key}/strength").text
        assert "This face has no scale" in page
        assert "the bonded share needs none" in plain(page)
        assert f"/photos/{photo.id}/prepare" in page
        assert "leaned on" in page
        body = told(client, key)
        assert body["faces"] == []
        assert "no scale" in body["reasons"][f"face {bare.id}"]
        assert len(body["loads"]) == 1

    def test_a_face_without_any_weld(self, client: Client, session: Session, app: FastAPI) -> None:
        """Nothing is bonded: no section carries, said in words."""
        bare = make_face(session, make_fragment(session))
        measured(session, app, bare, strip_mm=20)
        key = failure_of(session, bare)
        enter(client, key, bare, PULL)
        page = client.get(f"/failures/{key}/strength")
        assert page.status_code == 200
        assert "no section that could carry" in page.text

    def test_several_places(self, client: Client, session: Session, app: FastAPI) -> None:
        """Each place has its own; the whole sends to them, and a foreign place isn't found."""
        failure = make_failure(session)
        piece, sites = make_fragment(session, failure), [make_site(session, failure, name=n) for n in ("root", "tip")]
        for site in sites:
            measured(session, app, make_face(session, piece, name=site.name, site_id=site.id))
        assert told(client, int(failure.id or 0))["faces"] == []
        assert len(told(client, int(failure.id or 0), f"?site={sites[1].id}")["faces"]) == 1
        assert client.get(f"/api/failures/{failure.id}/strength?site=999").status_code == 404
        assert client.get("/api/failures/999/strength").status_code == 404


def scoped(session: Session, app: FastAPI, key: int) -> Any:
    session.info["store"] = app.state.store
    session.expire_all()
    return read_scope(session, key)


class TestVerdict:
    def test_a_load_that_only_the_weak_face_gives_way_to_speaks_against_overload(
        self, client: Client, session: Session, app: FastAPI, face: Face
    ) -> None:
        """It becomes one observation, in the weld's group, clickable to where it came from."""
        key = failure_of(session, face)
        enter(client, key, face, PULL)
        scope = scoped(session, app, key)
        (seen,) = [one for one in gather(session, scope) if one.code == CODE]
        assert "under 1 %" in seen.value
        line = next(one for one in weigh_scope(session, scope).result["contributions"] if one["code"] == CODE)
        assert line["weights_db"]["overload"] < line["weights_db"]["layer_delamination"]
        page = client.get(f"/failures/{key}/verdict").text
        assert f'href="/failures/{key}/strength">load and strength' in page

    def test_a_load_beyond_any_build_speaks_for_overload(
        self, client: Client, session: Session, app: FastAPI, face: Face
    ) -> None:
        """3000 N and more are beyond the whole face's 2000 N."""
        key = failure_of(session, face)
        enter(client, key, face, PULL | {"force": "3000 to 9000 N"})
        scope = scoped(session, app, key)
        line = next(one for one in weigh_scope(session, scope).result["contributions"] if one["code"] == CODE)
        assert line["weights_db"]["overload"] > line["weights_db"]["layer_delamination"]

    def test_a_load_that_explains_nothing_weighs_nothing(
        self, client: Client, session: Session, app: FastAPI, face: Face
    ) -> None:
        """A load that can't have broken it is no evidence of a weak build: another load is missing."""
        key = failure_of(session, face)
        enter(client, key, face, PULL | {"force": "200 to 260 N"})
        scope = scoped(session, app, key)
        lines = [one for one in weigh_scope(session, scope).result["contributions"] if one["code"] == CODE]
        assert all(abs(value) < 0.1 for line in lines for value in line["weights_db"].values())

    def test_none_without_a_load(self, client: Client, session: Session, app: FastAPI, face: Face) -> None:
        """A measurement alone says nothing of loads."""
        key = failure_of(session, face)
        enter(client, key, face)
        assert CODE not in {one.code for one in gather(session, scoped(session, app, key))}

    def test_a_session_that_cannot_read_the_maps_is_told(self, client: Client, session: Session, face: Face) -> None:
        """Left out without a word, the verdict would depend on who asks."""
        key = failure_of(session, face)
        enter(client, key, face, PULL)
        session.expire_all()
        with pytest.raises(RuntimeError, match="store of originals"):
            gather(session, read_scope(session, key))


class TestLinks:
    def test_case_and_verdict_lead_there(self, client: Client, session: Session, face: Face) -> None:
        """Both pages link to load and strength."""
        key = failure_of(session, face)
        for path in (f"/failures/{key}", f"/failures/{key}/verdict"):
            assert f'href="/failures/{key}/strength"' in client.get(path).text

    def test_the_page_asks_the_same_of_the_record_however_many_loads(
        self, client: Client, session: Session, face: Face, count_queries: Any
    ) -> None:
        """Queries don't grow with the loads."""
        key = failure_of(session, face)
        enter(client, key, face, PULL)
        one = count_queries(lambda: client.get(f"/failures/{key}/strength"))
        enter(client, key, face, BEND, PULL | {"name": "again"}, weld=None)
        assert count_queries(lambda: client.get(f"/failures/{key}/strength")) == one

    def test_a_measurement_of_today_takes_the_place_of_yesterdays(
        self, client: Client, session: Session, app: FastAPI, face: Face
    ) -> None:
        """The newest measurement of the face is reckoned with."""
        key = failure_of(session, face)
        newest: Measurement = measured(session, app, face, strip_mm=0)
        (one,) = told(client, key)["faces"]
        assert one["measurement_id"] == newest.id
        assert one["knock_down"]["tension"]["value"] == pytest.approx(1)


class TestSummary:
    def test_the_load_is_told_plainly_and_without_notes(
        self, client: Client, session: Session, app: FastAPI, face: Face
    ) -> None:
        """Rough newtons and odds in words; neither the load's name nor how it is known leaves the bench."""
        key = failure_of(session, face)
        enter(client, key, face, PULL | {"force": "750 to 950 N", "name": "SECRET-NAME", "how_known": "SECRET-NOTE"})
        page = plain(client.get(f"/failures/{key}/summary/print").text)
        assert "the load thought of (roughly 750 to 950 N) was probably less than it could bear as it was" in page
        assert "say nothing of whether the next part will hold" in page
        assert "SECRET" not in page

    def test_a_whole_face_is_not_held_against_itself(
        self, client: Client, session: Session, app: FastAPI, face: Face
    ) -> None:
        """Where nearly all was joined, no second range is told that could only confuse."""
        measured(session, app, face, strip_mm=0)
        key = failure_of(session, face)
        enter(client, key, face, PULL | {"force": "3000 to 4000 N"})
        page = plain(client.get(f"/failures/{key}/summary/print").text)
        assert "joining the rest would have made little difference" in page
        assert "With every layer joined" not in page

    def test_nothing_is_said_without_a_load(self, client: Client, session: Session, face: Face) -> None:
        """No load, no sentence."""
        page = client.get(f"/failures/{failure_of(session, face)}/summary/print").text
        assert "Reckoned from the broken face" not in page


@pytest.mark.parametrize(
    ("p", "words"), [(0.97, "very likely more"), (0.5, "as likely more as less"), (0.02, "very likely less")]
)
def test_odds_in_words(p: float, words: str) -> None:
    """The scale has both ends."""
    assert odds(p) == words
