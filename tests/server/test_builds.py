"""Builds, service and inspections: the letters of the orientation, and days in the order in which things can happen."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import Session, select

from server.forms.builds import ORIENTATIONS
from server.records import Build, Inspection, Service
from tests.server.builders import make_build, make_failure, make_inspection, make_revision, make_service, make_spool
from tests.server.conftest import Client

TOMORROW = str(date.today() + timedelta(days=1))


class TestOrientation:
    def test_has_fifteen_notations(self) -> None:
        """Six full orders of three axes and their shortenings to two letters or one.

        ISO/ASTM 52921: an orthogonal orientation lists the axes parallel to the longest, second and shortest side of
        the part's box, such as ZXY; it may be shortened where symmetry leaves no doubt, such as Z.
        """
        assert {"XYZ", "XZY", "YXZ", "YZX", "ZXY", "ZYX", "XZ", "Z"} <= ORIENTATIONS
        assert len(ORIENTATIONS) == 6 + 6 + 3

    @given(st.text("XYZ", min_size=1, max_size=4))
    def test_names_no_axis_twice(self, letters: str) -> None:
        """A notation is accepted exactly where no letter comes twice."""
        assert (letters in ORIENTATIONS) == (len(set(letters)) == len(letters))

    @pytest.mark.parametrize(("typed", "kept"), [("zxy", "ZXY"), (" x z ", "XZ"), ("Z", "Z"), ("", "")])
    def test_is_kept_in_capitals(self, client: Client, session: Session, typed: str, kept: str) -> None:
        """Small letters and blanks are what people type; the notation is kept."""
        revision = make_revision(session)

        client.post(f"/revisions/{revision.id}/builds/new", {"orientation": typed})

        assert session.exec(select(Build)).one().orientation == kept

    @pytest.mark.parametrize("typed", ["XX", "XYZX", "ABC", "45", "XY+Z"])
    def test_refuses_what_is_no_order_of_axes(self, client: Client, session: Session, typed: str) -> None:
        """Anything else is refused beside its field, and stays there to be mended."""
        revision = make_revision(session)

        answer = client.post(f"/revisions/{revision.id}/builds/new", {"orientation": typed, "note": "kept"})

        assert answer.status_code == 422
        assert 'id="orientation-error"' in answer.text
        assert f'value="{typed}"' in answer.text
        assert "kept</textarea>" in answer.text
        assert session.exec(select(Build)).all() == []


class TestBuild:
    def test_keeps_its_settings_in_their_units(self, client: Client, session: Session) -> None:
        """Decimal commas, units and degrees Fahrenheit are read; degrees Celsius are kept."""
        revision, spool = make_revision(session), make_spool(session)
        sent = {
            "line_width_mm": "0,45",
            "layer_height_mm": "0.2 mm",
            "nozzle_c": "437 F",
            "wall_count": "3",
            "spool_id": str(spool.id),
        }

        client.post(f"/revisions/{revision.id}/builds/new", sent)

        build = session.exec(select(Build)).one()
        assert (build.line_width_mm, build.layer_height_mm, build.nozzle_c) == (
            0.45,
            0.2,
            225.0,
        )  # 437 F = 225 C exactly
        assert (build.wall_count, build.spool_id, build.built_on) == (3, spool.id, None)

    def test_starts_from_the_last_build_of_the_part(self, client: Client, session: Session) -> None:
        """A new build is filled in from the one before, for few settings change; its note and day are its own."""
        build = make_build(session, line_width_mm=0.61, note="came loose once")

        page = client.get(f"/revisions/{build.revision_id}/builds/new").text

        assert 'value="0.61"' in page
        assert "came loose once" not in page
        assert f'value="{date.today()}"' in page

    @pytest.mark.parametrize(
        ("field", "typed"),
        [
            ("line_width_mm", "0"),
            ("line_width_mm", "-0.4"),
            ("wall_count", "2.5"),
            ("infill_percent", "101"),
            ("nozzle_c", "230"),
            ("layer_height_mm", "0.2 in"),
            ("fan_percent", "nan"),
            ("fan_percent", "1e2"),
        ],
    )
    def test_refuses_numbers_that_can_not_be(self, client: Client, session: Session, field: str, typed: str) -> None:
        """0, negative, broken counts, other units and a temperature without its letter are refused by name."""
        revision = make_revision(session)

        answer = client.post(f"/revisions/{revision.id}/builds/new", {field: typed})

        assert answer.status_code == 422
        assert f'id="{field}-error"' in answer.text
        assert f'value="{typed}"' in answer.text
        assert session.exec(select(Build)).all() == []


class TestOrderOfDays:
    """What can't have happened before something else is refused in words that name the other day."""

    def refused(self, client: Client, path: str, sent: dict[str, str], field: str, words: str) -> None:
        answer = client.post(path, sent)

        assert answer.status_code == 422
        assert words in answer.text.partition(f'id="{field}-error"')[2].partition("</p>")[0]
        assert all(f'value="{value}"' in answer.text for name, value in sent.items() if name.endswith("_on"))

    def test_built_not_before_drawn(self, client: Client, session: Session) -> None:
        """A build can't be older than its revision's drawing."""
        revision = make_revision(session, drawn_on=date(2026, 1, 5))
        path = f"/revisions/{revision.id}/builds/new"

        self.refused(client, path, {"built_on": "2026-01-04"}, "built_on", "drawn later, on 2026-01-05")
        assert client.post(path, {"built_on": "2026-01-05"}).status_code == 303

    def test_built_not_after_fitted(self, client: Client, session: Session) -> None:
        """Editing a build can't move it behind its fitting."""
        stay = make_service(session, fitted_on=date(2026, 1, 15))

        self.refused(client, f"/builds/{stay.build_id}/edit", {"built_on": "2026-01-16"}, "built_on", "on 2026-01-15")

    def test_fitted_not_before_built(self, client: Client, session: Session) -> None:
        """A build is fitted on the day it was built at the earliest."""
        build = make_build(session, built_on=date(2026, 1, 10))
        path = f"/builds/{build.id}/services/new"

        self.refused(client, path, {"fitted_on": "2026-01-09"}, "fitted_on", "before it was built, on 2026-01-10")
        assert session.exec(select(Service)).all() == []
        assert client.post(path, {"fitted_on": "2026-01-10"}).status_code == 303

    def test_removed_not_before_fitted(self, client: Client, session: Session) -> None:
        """A removal follows its fitting; the same day will do."""
        build = make_build(session)
        path = f"/builds/{build.id}/services/new"
        sent = {"fitted_on": "2026-01-20", "removed_on": "2026-01-19"}

        self.refused(client, path, sent, "removed_on", "before it was fitted")
        assert client.post(path, {**sent, "removed_on": "2026-01-20"}).status_code == 303

    def test_fitted_not_after_what_followed(self, client: Client, session: Session) -> None:
        """Editing a fitting can't move it behind its own inspections and failures."""
        stay = make_service(session, fitted_on=date(2026, 1, 15))
        make_failure(session, service=stay, found_on=date(2026, 2, 1))
        path = f"/services/{stay.id}/edit"

        self.refused(client, path, {"fitted_on": "2026-02-02"}, "fitted_on", "2026-02-01")
        make_inspection(session, stay, due_on=date(2026, 1, 20))
        self.refused(client, path, {"fitted_on": "2026-01-21"}, "fitted_on", "2026-01-20")

    def test_inspected_not_before_fitted(self, client: Client, session: Session) -> None:
        """An inspection is neither due nor done before the fitting."""
        stay = make_service(session, fitted_on=date(2026, 1, 15))
        path = f"/services/{stay.id}/inspections/new"

        self.refused(client, path, {"due_on": "2026-01-14"}, "due_on", "fitted later, on 2026-01-15")
        done = {"due_on": "2026-02-01", "done_on": "2026-01-14", "result": "sound"}
        self.refused(client, path, done, "done_on", "fitted later, on 2026-01-15")
        assert session.exec(select(Inspection)).all() == []

    def test_done_and_result_go_together(self, client: Client, session: Session) -> None:
        """A result needs its day and a day its result; an inspection ahead has neither."""
        path = f"/services/{make_service(session).id}/inspections/new"

        self.refused(client, path, {"due_on": "2026-02-01", "result": "worn"}, "done_on", "on which day")
        self.refused(client, path, {"due_on": "2026-02-01", "done_on": "2026-02-01"}, "result", "choose what was seen")
        assert client.post(path, {"due_on": TOMORROW}).status_code == 303

    @pytest.mark.parametrize("field", ["fitted_on", "removed_on"])
    def test_nothing_has_happened_tomorrow(self, client: Client, session: Session, field: str) -> None:
        """What is logged as having happened can't lie ahead."""
        path = f"/builds/{make_build(session).id}/services/new"

        self.refused(client, path, {"fitted_on": "2026-02-01", field: TOMORROW}, field, "in the future")
