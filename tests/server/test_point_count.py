"""The count by hand: grid in the record, judgements kept one by one, finished counts, and what stands beside them."""

from typing import Any

import numpy as np
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from fastapi import FastAPI
from sqlmodel import Session, SQLModel, select

from analysis.common.caveats import WARNINGS
from analysis.common.polygons import inside
from analysis.measures.countgrid import lay_grid
from server.counting import counts as counting
from server.counting.result import compare, hint
from server.records import Measurement, Photo, PointCount, PointCountDraft
from tests.server.builders import make_face, make_photo
from tests.server.conftest import Client
from tests.server.count_builders import judged_all, make_count, make_face_to_count, make_outline
from tests.server.photo_builders import RESULT, make_measurement

SMALL = {"points_per_field": "6", "field_count": "3", "layout": "throws"}
FIELDS = [0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2]


@pytest.fixture
def photo(session: Session, app: FastAPI) -> Photo:
    """A photo with an outline that has a hole."""
    photo = make_photo(session, app=app)
    make_outline(session, photo)
    return photo


def begin(client: Client, session: Session, photo: Photo, **sent: str) -> PointCountDraft:
    """Begin a count and return its draft."""
    assert client.post(f"/photos/{photo.id}/count", {**SMALL, **sent}).status_code == 303
    session.expire_all()
    return session.exec(select(PointCountDraft)).one()


def finished(client: Client, session: Session, photo: Photo, code: str = "b", **others: str) -> PointCount:
    """Count the photo from beginning to end and return the newest count."""
    draft = begin(client, session, photo)
    client.post(f"/counts/drafts/{draft.id}/marks", judged_all(draft, code, **others))
    assert client.post(f"/counts/drafts/{draft.id}/finish", {"who": "R."}).status_code == 303
    session.expire_all()
    return session.exec(select(PointCount).order_by(PointCount.id.desc())).first()  # type: ignore[union-attr, return-value]


class TestSchema:
    def test_the_migrations_make_the_tables_that_the_program_uses(self, app: FastAPI) -> None:
        """Nothing would be left to migrate."""
        with app.state.engine.connect() as connection:
            left = compare_metadata(MigrationContext.configure(connection), SQLModel.metadata)
        assert not [one for one in left if "pointcount" in str(one)]


class TestBegin:
    def test_the_kept_grid_is_that_of_its_seed_and_lies_on_the_face(
        self, client: Client, session: Session, photo: Photo
    ) -> None:
        """Points can be laid again from outline and seed; none is off the face."""
        draft = begin(client, session, photo)
        again = lay_grid(draft.outline["outer_px"], draft.outline["holes_px"], 6, 3, draft.seed)
        places = np.asarray(draft.places_px)
        np.testing.assert_allclose(places, again.points_px, atol=0.006)
        assert inside(np.asarray(draft.outline["outer_px"]), places).all()
        assert not inside(np.asarray(draft.outline["holes_px"][0]), places).any()
        assert draft.outline_id is not None

    def test_without_an_outline_one_is_asked_for(self, client: Client, session: Session, app: FastAPI) -> None:
        """The page leads to where the outline is set; nothing is begun."""
        bare = make_photo(session, app=app)
        page = client.get(f"/photos/{bare.id}/count")
        assert f"/photos/{bare.id}/prepare#outline" in page.text
        assert client.post(f"/photos/{bare.id}/count", SMALL).status_code == 422

    def test_the_outline_that_a_measuring_found_will_do(self, client: Client, session: Session, app: FastAPI) -> None:
        """A measured photo without a kept outline is counted inside the found one."""
        measured = make_photo(session, app=app, width_px=90, height_px=60)
        found = make_measurement(session, app, measured)
        draft = begin(client, session, measured)
        assert draft.outline_id is None
        assert draft.outline["measurement_id"] == found.id

    def test_zones_beyond_judging_begin_as_cant_tell(self, client: Client, session: Session, app: FastAPI) -> None:
        """Points in a zone that a person marked are not asked for again."""
        photo = make_photo(session, app=app)
        zone = [[0, 0], [32, 0], [32, 48], [0, 48]]
        make_outline(session, photo, unknown_px=[zone])
        draft = begin(client, session, photo)
        for (x, _), code in zip(draft.places_px, draft.codes, strict=True):
            assert code == ("u" if x < 32 else "")

    def test_an_outer_surface_is_not_counted(self, client: Client, session: Session, app: FastAPI) -> None:
        """On an outer surface there is nothing bonded to count, and the page says so."""
        outer = make_photo(session, make_face(session, surface="outer"), app)
        assert "outer surface" in client.get(f"/photos/{outer.id}/count").text

    @pytest.mark.parametrize("sent", [{"points_per_field": "3"}, {"field_count": "0"}, {"points_per_field": "many"}])
    def test_a_wrong_number_is_said_beside_its_field(
        self, client: Client, session: Session, photo: Photo, sent: dict[str, str]
    ) -> None:
        """The form comes back filled in; nothing is begun."""
        answer = client.post(f"/photos/{photo.id}/count", {**SMALL, **sent})
        assert answer.status_code == 422
        assert 'class="error"' in answer.text
        assert session.exec(select(PointCountDraft)).first() is None

    def test_the_measurement_stays_out_of_sight(
        self, client: Client, session: Session, app: FastAPI, photo: Photo
    ) -> None:
        """While counting, neither number nor layers of the program are shown."""
        found = make_measurement(session, app, photo)
        begin(client, session, photo)
        text = client.get(f"/photos/{photo.id}/count").text
        assert f"/measurements/{found.id}" not in text


class TestMarks:
    def test_each_judgement_is_kept_as_it_comes_and_can_be_taken_back(
        self, client: Client, session: Session, photo: Photo
    ) -> None:
        """One key, one request; the others stay; the page shows it after a reload."""
        draft = begin(client, session, photo)
        for sent in ({"p0": "b"}, {"p2": "e"}, {"p0": ""}, {"p1": "x"}):
            assert client.post(f"/counts/drafts/{draft.id}/marks", sent).status_code == 303
        session.refresh(draft)
        assert draft.codes[:4] == ["", "x", "e", ""]
        assert 'value="x" checked' in client.get(f"/photos/{photo.id}/count?field=1").text

    def test_the_running_result_comes_back(self, client: Client, session: Session, photo: Photo) -> None:
        """Share of the points told so far; interval and accuracy once two fields are complete."""
        draft = begin(client, session, photo)
        address, asked = f"/counts/drafts/{draft.id}/marks", {"accept": "application/json"}
        first = client.post(address, {"p0": "b", "p1": "e", "p2": "x", "p3": "u"}, headers=asked).json()
        assert first["share"] == "50 % bonded"
        assert "independent" in first["interval"]
        whole = client.post(address, judged_all(draft, "b", p0="e", p1="e"), headers=asked).json()
        assert whole["judged"] == len(draft.codes)
        assert "spread of 3 fields" in whole["interval"]
        assert whole["accuracy"].startswith("±")

    def test_two_windows_do_not_undo_one_another(
        self, app: FastAPI, session: Session, photo: Photo, client: Client
    ) -> None:
        """A judgement made on an old copy of the draft leaves newer ones as they are."""
        draft = begin(client, session, photo)
        with Session(app.state.engine) as other:
            old = other.get(PointCountDraft, draft.id)
            counting.keep_marks(session, draft, {0: "b"})
            assert old is not None
            counting.keep_marks(other, old, {1: "e"})
        session.refresh(draft)
        assert draft.codes[:2] == ["b", "e"]

    def test_another_count_under_way_is_left_alone(
        self, client: Client, session: Session, app: FastAPI, photo: Photo
    ) -> None:
        """Judgements of one photo's points don't reach the draft of another photo."""
        draft, other = begin(client, session, photo), make_photo(session, app=app)
        make_outline(session, other)
        ground = counting.ground_of(session, other)
        assert ground is not None
        beside = counting.start(session, other, ground, 6, 2)
        client.post(f"/counts/drafts/{draft.id}/marks", {"p0": "b"})
        session.refresh(beside)
        assert not any(beside.codes)

    @pytest.mark.parametrize("sent", [{"p0": "q"}, {"p9999": "b"}, {"p0": "bb"}])
    def test_what_does_not_belong_is_refused_whole(
        self, client: Client, session: Session, photo: Photo, sent: dict[str, str]
    ) -> None:
        """A strange code or point changes nothing."""
        draft = begin(client, session, photo)
        assert client.post(f"/counts/drafts/{draft.id}/marks", {"p1": "b", **sent}).status_code == 422
        session.refresh(draft)
        assert not any(draft.codes)

    def test_a_hundred_points_at_once(self, client: Client, session: Session, photo: Photo) -> None:
        """A full field of the largest size is kept in one go."""
        draft = begin(client, session, photo, points_per_field="100", field_count="2")
        client.post(f"/counts/drafts/{draft.id}/marks", judged_all(draft, "v"))
        session.refresh(draft)
        assert set(draft.codes) == {"v"}

    def test_a_count_that_is_gone_is_said_in_words(self, client: Client) -> None:
        """404, not a failure."""
        for path in ("/counts/drafts/7/marks", "/counts/drafts/7/finish", "/counts/7/correct"):
            assert client.post(path, {}).status_code == 404


class TestFinish:
    def test_the_result_is_worked_out_and_the_draft_ends(self, client: Client, session: Session, photo: Photo) -> None:
        """Share with its half for the boundary, can't tell left out; who counted is kept."""
        count = finished(client, session, photo, "e", p0="b", p1="x", p2="u")
        points = len(count.codes)
        assert count.result["bonded_share"]["value"] == pytest.approx(1.5 / (points - 1))
        assert count.result["totals"]["cant_tell"] == 1
        assert count.who == "R."
        assert session.exec(select(PointCountDraft)).first() is None

    def test_no_complete_field_no_count(self, client: Client, session: Session, photo: Photo) -> None:
        """Half a field is no result; what was judged stays."""
        draft = begin(client, session, photo)
        client.post(f"/counts/drafts/{draft.id}/marks", {"p0": "b"})
        answer = client.post(f"/counts/drafts/{draft.id}/finish", {})
        assert answer.status_code == 422
        assert "No field is complete" in answer.text
        session.refresh(draft)
        assert draft.codes[0] == "b"

    def test_ended_early_only_complete_fields_count(self, client: Client, session: Session, photo: Photo) -> None:
        """The field that was begun is kept but not used."""
        draft = begin(client, session, photo)
        first = {f"p{k}": "b" for k, field in enumerate(draft.field_of) if field == 0}
        begun = draft.field_of.index(1)
        client.post(f"/counts/drafts/{draft.id}/marks", {**first, f"p{begun}": "e"})
        client.post(f"/counts/drafts/{draft.id}/finish", {})
        count = session.exec(select(PointCount)).one()
        assert count.result["bonded_share"]["value"] == 1.0
        assert count.result["bonded_share"]["by"] == "points"
        assert count.codes[begun] == "e"

    def test_a_correction_is_a_new_count_that_names_the_old_one(
        self, client: Client, session: Session, photo: Photo
    ) -> None:
        """The old count stays as it was; the new one begins with its points and codes."""
        old = finished(client, session, photo, "e", p0="b")
        before = old.model_dump()
        assert client.post(f"/counts/{old.id}/correct").status_code == 303
        draft = session.exec(select(PointCountDraft)).one()
        assert draft.codes == old.codes
        client.post(f"/counts/drafts/{draft.id}/marks", {"p0": "e"})
        client.post(f"/counts/drafts/{draft.id}/finish", {})
        session.expire_all()
        new = session.exec(select(PointCount).where(PointCount.replaces_id == old.id)).one()
        assert new.result["totals"]["bonded"] == 0
        assert old.model_dump() == before
        assert f"/counts/{new.id}" in client.get(f"/counts/{old.id}").text

    def test_added_fields_are_pooled_with_those_counted(self, client: Client, session: Session, photo: Photo) -> None:
        """E562 section 11: one set of data. The old fields keep points and codes; the new ones are open, and other."""
        old = finished(client, session, photo, "e", p0="b")
        assert client.post(f"/counts/{old.id}/more", {"more": "2"}).status_code == 303
        draft = session.exec(select(PointCountDraft)).one()
        first = len(old.codes)
        assert draft.places_px[:first] == old.places_px
        assert draft.codes[:first] == old.codes
        assert set(draft.codes[first:]) == {""}
        assert set(draft.field_of) == set(range(5))
        client.post(f"/counts/drafts/{draft.id}/marks", {f"p{k}": "b" for k in range(first, len(draft.codes))})
        client.post(f"/counts/drafts/{draft.id}/finish", {})
        session.expire_all()
        new = session.exec(select(PointCount).where(PointCount.replaces_id == old.id)).one()
        assert new.result["bonded_share"]["value"] == pytest.approx((len(new.codes) - first + 1) / len(new.codes))

    def test_patches_and_nonsense_can_not_be_added_to(self, client: Client, session: Session, photo: Photo) -> None:
        """A face cut into patches has no further field; a number out of range is said beside its field."""
        cut = make_count(session, photo, list("beeebbeebbee"), FIELDS, layout="patches")
        thrown = make_count(session, photo, list("beeebbeebbee"), FIELDS)
        assert client.post(f"/counts/{cut.id}/more", {"more": "2"}).status_code == 422
        assert client.post(f"/counts/{thrown.id}/more", {"more": "99"}).status_code == 422
        assert session.exec(select(PointCountDraft)).first() is None

    def test_giving_up_forgets_the_draft_only(self, client: Client, session: Session, photo: Photo) -> None:
        """A finished count stays when a later draft is given up."""
        count = finished(client, session, photo)
        draft = begin(client, session, photo)
        client.post(f"/counts/drafts/{draft.id}/drop")
        session.expire_all()
        assert session.exec(select(PointCountDraft)).first() is None
        assert session.get(PointCount, count.id) is not None

    def test_text_is_shown_as_text(self, client: Client, session: Session, photo: Photo) -> None:
        """A note with signs of HTML is printed, not obeyed."""
        draft = begin(client, session, photo)
        client.post(f"/counts/drafts/{draft.id}/marks", judged_all(draft))
        client.post(f"/counts/drafts/{draft.id}/finish", {"who": "<b>R", "note": "<script>alert(1)</script>"})
        count = session.exec(select(PointCount)).one()
        text = client.get(f"/counts/{count.id}").text
        assert "<script>alert" not in text
        assert "&lt;script&gt;alert" in text


class TestBeside:
    def measured(
        self, session: Session, app: FastAPI, photo: Photo, low: float, high: float, **more: Any
    ) -> Measurement:
        """A measurement with this interval."""
        share = {"value": (low + high) / 2, "interval": [low, high], "bounds": None}
        return make_measurement(session, app, photo, result=RESULT | {"bonded_share_of_face": share} | more)

    @pytest.mark.parametrize(("low", "high", "state"), [(0.3, 0.5, "agree"), (0.92, 0.99, "apart")])
    def test_agreement_is_overlap_of_the_intervals(
        self, session: Session, app: FastAPI, photo: Photo, low: float, high: float, state: str
    ) -> None:
        """Three fields of 25, 50 and 50 % against a measurement near and one far; what that means is said."""
        self.measured(session, app, photo, low, high)
        count = make_count(session, photo, list("beeebbeebbee"), FIELDS)
        found = compare(session, app.state.store, photo, count)
        assert found.state == state
        assert found.means

    def test_without_a_measurement_nothing_is_claimed(self, session: Session, app: FastAPI, photo: Photo) -> None:
        """Neither agreement nor its opposite."""
        count = make_count(session, photo, list("beeebbeebbee"), FIELDS)
        assert compare(session, app.state.store, photo, count).state == "open"

    def test_on_white_filament_the_count_is_the_measure(
        self, client: Client, session: Session, app: FastAPI, photo: Photo
    ) -> None:
        """Where the measurement warns that whitening is hidden, the page says which of the two counts."""
        self.measured(session, app, photo, 0.3, 0.5, warnings=[WARNINGS["white"]])
        count = make_count(session, photo, list("beeebbeebbee"), FIELDS)
        assert "the count is the measure here" in client.get(f"/counts/{count.id}").text

    def test_points_are_set_beside_the_labels_under_them(self, session: Session, app: FastAPI, photo: Photo) -> None:
        """On a label map that is bonded throughout, every bare point differs and can't tell is left out."""
        labels = np.full((6, 9), 2, np.uint8)
        make_measurement(session, app, photo, labels)
        count = make_count(session, photo, list("bbeubbbbbbbb"), FIELDS)
        found = compare(session, app.state.store, photo, count)
        assert found.differing == (2,)
        assert "of 11 that both could tell, 10 are judged alike" in found.points

    def test_over_one_half_the_scarcer_class_is_named(self) -> None:
        """At 80 %, half width 5 %: the rest is 20 %, known to 25 % of itself. Below one half nothing is said."""
        result = {"bonded_share": {"value": 0.8}, "half_width": 0.05}
        assert "20 %, ± 25 % of itself" in hint(result)
        assert hint({"bonded_share": {"value": 0.4}, "half_width": 0.05}) == ""


class TestPages:
    def test_links_lead_to_the_count(self, client: Client, session: Session, app: FastAPI, photo: Photo) -> None:
        """The face's page and the measurement's page offer it."""
        found = make_measurement(session, app, photo)
        for path in (f"/faces/{photo.face_id}", f"/measurements/{found.id}"):
            assert f"/photos/{photo.id}/count" in client.get(path).text

    def test_without_a_script_each_field_is_a_form(self, client: Client, session: Session, photo: Photo) -> None:
        """One field's points as radios, the other fields by links; after saving the next open one."""
        draft = begin(client, session, photo)
        text = client.get(f"/photos/{photo.id}/count").text
        assert text.count('type="radio"') == 5 * draft.field_of.count(0)
        first = {f"p{k}": "b" for k, field in enumerate(draft.field_of) if field == 0}
        client.post(f"/counts/drafts/{draft.id}/marks", first)
        assert "Field 2 of 3" in client.get(f"/photos/{photo.id}/count").text

    def test_published_interface(self, client: Client, session: Session, photo: Photo) -> None:
        """Finished counts, newest first, with every point and its code in words."""
        finished(client, session, photo, "e", p0="b")
        begin(client, session, photo)
        found = client.get(f"/api/photos/{photo.id}/counts").json()
        assert len(found) == 1
        assert found[0]["points"][0]["code"] == "bonded"
        assert found[0]["points"][-1]["field"] == 3
        assert found[0]["result"]["bonded_share"]["confidence"] == 0.95
        assert client.get("/api/photos/999/counts").status_code == 404

    def test_a_practice_face_counted_by_its_truth_gives_its_share(
        self, client: Client, session: Session, app: FastAPI, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Points judged by the face's own masks: the interval holds the masks' bonded share (256 points, 16 fields)."""
        from PIL import Image

        from tests.server.photo_builders import FACES

        monkeypatch.setattr(counting.secrets, "randbits", lambda _bits: 7)  # one seed: 5 % of all miss the truth
        photo = make_face_to_count(session, app)
        masks = {
            n: np.asarray(Image.open(FACES / "face_32" / "masks" / f"{n}.png").convert("L")) > 0
            for n in ("face", "bonded")
        }
        truth = float((masks["bonded"] & masks["face"]).sum() / masks["face"].sum())
        draft = begin(client, session, photo, points_per_field="16", field_count="16")
        sent = {
            f"p{k}": "b" if masks["bonded"][round(y), round(x)] else "e" for k, (x, y) in enumerate(draft.places_px)
        }
        client.post(f"/counts/drafts/{draft.id}/marks", sent)
        client.post(f"/counts/drafts/{draft.id}/finish", {})
        low, high = session.exec(select(PointCount)).one().result["bonded_share"]["interval"]
        assert low <= truth <= high
