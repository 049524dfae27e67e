"""The demo: what it promises to hold, and that nothing in it was concluded beforehand."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from sqlmodel import Session, col, select

from server.database import open_engine
from server.demo import load
from server.demo.desk import Desk
from server.demo.load import DemoRefused, load_demo
from server.life.asked import Asked
from server.life.page import count
from server.life.wording import few
from server.nextbuild.outcome import outcomes
from server.records import (
    Failure,
    FailureEntry,
    FragmentEntry,
    Inspection,
    Job,
    Measurement,
    Part,
    PersonVerdict,
    Photo,
    Revision,
    Summary,
    VerdictRecord,
)
from server.settings import Settings
from server.store import Store

TODAY = date(2026, 5, 20)
MODES = {"layer_delamination", "under_extrusion", "overload", "interference_rub"}


@pytest.fixture(scope="module")
def settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    """Return the settings of a folder with the demo in it."""
    made = Settings(data=tmp_path_factory.mktemp("demo"), worker=False)
    load_demo(made, today=TODAY)
    return made


@pytest.fixture
def session(settings: Settings) -> Iterator[Session]:
    """Read in the demo's record."""
    engine = open_engine(settings.database_url)
    with Session(engine) as reading:
        yield reading
    engine.dispose()


def test_builds_have_ages_and_their_failures_are_few(session: Session) -> None:
    """The page on how long parts last has a curve to show, and says how little eight failures tell."""
    found = count(session, Asked(), TODAY)

    assert not found.lives.left_out
    assert 0 < found.grouped.groups[0].failures < len(found.lives.units)
    assert few(found.grouped)
    assert found.grouped.groups[0].fit is not None


def test_at_least_six_parts_all_marked_as_invented(session: Session) -> None:
    """Every part carries the demo's mark."""
    parts = session.exec(select(Part)).all()

    assert len(parts) >= 6
    assert all(part.is_demo for part in parts)


def test_every_photo_is_marked_as_rendered_and_kept(session: Session, settings: Settings) -> None:
    """Each is called rendered, and its original is in the store."""
    store = Store(settings.blob_folder)
    photos = session.exec(select(Photo)).all()

    assert photos
    assert all(photo.is_rendered and store.read(photo.sha256) for photo in photos)


def test_one_part_has_three_revisions_and_two_failures(session: Session) -> None:
    """Besides the original part that the first revision replaced."""
    own = session.exec(select(Revision).where(col(Revision.is_original).is_(False), Revision.part_id == 1)).all()
    failures = session.exec(select(FailureEntry)).all()

    assert len(own) == 3
    assert len(failures) >= 8


def test_the_program_itself_finds_all_four_modes_and_leaves_one_open(session: Session) -> None:
    """The verdicts come out of the weighing at loading; should a mode go missing, the demo's stories need others."""
    found = {verdict.primary for verdict in session.exec(select(VerdictRecord))}

    assert found == MODES | {"undetermined"}


def test_measurements_come_from_jobs_that_ran(session: Session) -> None:
    """No measurement without its job, none that failed, and each names the program that made it."""
    jobs = session.exec(select(Job)).all()
    measurements = session.exec(select(Measurement)).all()

    assert {job.state for job in jobs} == {"done"}, [job.error for job in jobs]
    assert {job.measurement_id for job in jobs} == {measurement.id for measurement in measurements}
    assert all(measurement.result and measurement.program_version for measurement in measurements)


def test_a_person_disagrees_once_with_a_reason(session: Session) -> None:
    """Both verdicts are kept, and the reason with the person's."""
    pairs = session.exec(select(PersonVerdict, VerdictRecord).join(VerdictRecord)).all()
    differing = [said for said, found in pairs if said.mode != found.primary]

    assert len(differing) == 1
    assert differing[0].reason


def test_danger_missing_pieces_and_inspections_are_there(session: Session) -> None:
    """One failed part can hurt someone, one missing piece can do harm, inspections are overdue and ahead."""
    assert session.exec(select(Part).where(col(Part.can_hurt).is_(True))).first()
    assert session.exec(select(FragmentEntry).where(col(FragmentEntry.can_harm).is_(True))).first()
    due = [look.due_on for look in session.exec(select(Inspection).where(col(Inspection.done_on).is_(None)))]
    assert min(due) < TODAY < max(due)


def test_one_summary_is_worded(session: Session) -> None:
    """There is a summary to look at."""
    assert session.exec(select(Summary)).first()


def test_the_demo_goes_into_an_empty_record_only(settings: Settings) -> None:
    """A second loading is refused and changes nothing."""
    place = settings.data / "record.sqlite3"
    engine = open_engine(settings.database_url)
    with Session(engine) as before:
        count = len(before.exec(select(Part)).all())

    with pytest.raises(DemoRefused, match="empty"):
        load_demo(settings)

    with Session(engine) as after:
        assert len(after.exec(select(Part)).all()) == count
    engine.dispose()
    assert place.exists()


def test_a_broken_off_loading_leaves_the_record_empty(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A story that fails half-way leaves no row behind; the next loading may try again."""

    class Broken:
        @staticmethod
        def tell(desk: Desk) -> None:
            desk.part(1, name="half told")
            raise KeyboardInterrupt

    monkeypatch.setattr(load, "STORIES", (Broken,))
    settings = Settings(data=tmp_path, worker=False)
    with pytest.raises(KeyboardInterrupt):
        load_demo(settings)

    monkeypatch.setattr(load, "STORIES", ())
    load_demo(settings)  # would be refused if anything were there


def test_the_part_that_failed_twice_shows_promise_against_outcome(session: Session) -> None:
    """The first chosen plan's build broke again, the second's holds; no promise was written beforehand."""
    found = {
        failure.case_label: outcomes(session, failure.id or 0)
        for failure in session.exec(select(Failure).where(col(Failure.case_label).in_(["Q-014", "Q-031"]))).all()
    }

    assert [one.state for one in found["Q-014"]] == ["failed"]
    assert [one.state for one in found["Q-031"]] == ["holds"]
    assert all(one.promised for told in found.values() for one in told)
    assert "131 days after fitting" in found["Q-014"][0].happened
