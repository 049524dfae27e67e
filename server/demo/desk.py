"""What the stories of the demo are told with: short calls that add records the way the pages do."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any, TypeVar

from sqlalchemy import Engine
from sqlmodel import Session, SQLModel

from analysis.nextbuild.plans import plan_for
from server import __version__
from server.demo.shelf import Shelf
from server.measuring import examinations, jobs
from server.measuring import surroundings as measuring
from server.nextbuild.choosing import plan_json
from server.nextbuild.gathering import gather
from server.photos.keeping import Belongs, current_outline, current_scale, keep_photo
from server.records import (
    BreakSite,
    Build,
    Change,
    ChosenPlan,
    Face,
    Failure,
    FailureEntry,
    Fragment,
    FragmentEntry,
    Inspection,
    LoadCase,
    LockedFeature,
    Observation,
    OutlineRecord,
    Part,
    Photo,
    Revision,
    ScaleRecord,
    Service,
    SiteEntry,
    Treatment,
    UsePlace,
    VerdictRecord,
    WeldStrength,
)
from server.settings import Settings
from server.store import Store
from server.strength.entries import own_site
from server.strength.known import offered
from server.summary import summaries
from server.verdict import verdicts
from server.verdict.scope import read_scope

PHOTOS = Path(__file__).resolve().parent / "photos"
NOTE = "Rendered picture, invented part: no camera and no real piece stand behind it."
Answers = Mapping[str, str | tuple[str, str]]  # question code -> answer, or answer and note
Ring = list[list[float]]
Record = TypeVar("Record", bound=SQLModel)


@dataclass
class Desk:
    """The record being filled, and the day from which the stories count back."""

    session: Session
    engine: Engine
    store: Store
    settings: Settings
    today: date
    shelf: Shelf

    def day(self, days_ago: int) -> date:
        """Return the date that many days ago; a negative number lies ahead."""
        return self.today - timedelta(days=days_ago)

    def add(self, record: Record, days_ago: int | None = None) -> Record:
        """Keep `record`, entered in the afternoon of that day."""
        if days_ago is not None:
            entered = datetime.combine(self.day(days_ago), time(15, 30), UTC)
            record.entered_at = entered
        self.session.add(record)
        self.session.flush()
        return record

    def part(self, days_ago: int, **values: Any) -> Part:
        """Add a part, marked as belonging to the demo."""
        return self.add(Part(is_demo=True, **values), days_ago)

    def revision(self, part: Part, number: int, days_ago: int | None, **values: Any) -> Revision:
        """Add a state of the design, drawn that many days ago."""
        drawn = None if days_ago is None else self.day(days_ago)
        return self.add(Revision(part_id=_key(part), number=number, drawn_on=drawn, **values), days_ago)

    def build(self, revision: Revision, days_ago: int, **values: Any) -> Build:
        """Add a printing of the revision."""
        return self.add(Build(revision_id=_key(revision), built_on=self.day(days_ago), **values), days_ago)

    def service(self, build: Build, days_ago: int, until: int | None = None, **values: Any) -> Service:
        """Add a stay at its place, from `days_ago` until `until` days ago, or to this day."""
        removed = None if until is None else self.day(until)
        service = Service(build_id=_key(build), fitted_on=self.day(days_ago), removed_on=removed, **values)
        return self.add(service, days_ago)

    def locked(self, part: Part, what: str, reason: str) -> None:
        """Add a dimension or face that has to stay."""
        self.add(LockedFeature(part_id=_key(part), what=what, reason=reason))

    def place(self, part: Part, days_ago: int, **said: Any) -> None:
        """Add what the part has to stand at its place."""
        self.add(UsePlace(part_id=_key(part), **said), days_ago)

    def inspection(self, service: Service, due: int, done: int | None = None, result: str = "", note: str = "") -> None:
        """Add a look at the fitted part, due and done so many days ago."""
        done_on = None if done is None else self.day(done)
        look = Inspection(service_id=_key(service), due_on=self.day(due), done_on=done_on, result=result, note=note)
        self.add(look, (self.today - service.fitted_on).days)

    def failure(self, service: Service, label: str, days_ago: int, **said: Any) -> Failure:
        """Add a failure with its account."""
        build = self.session.get_one(Build, service.build_id)
        failure = Failure(revision_id=build.revision_id, build_id=build.id, service_id=service.id, case_label=label)
        self.add(failure, days_ago)
        self.add(FailureEntry(failure_id=_key(failure), found_on=self.day(days_ago), **said), days_ago)
        return failure

    def piece(self, failure: Failure, label: str, days_ago: int, status: str = "recovered", **said: Any) -> Fragment:
        """Add a piece and what is known of it."""
        piece = self.add(Fragment(failure_id=_key(failure), item_label=label), days_ago)
        collected = self.day(days_ago) if status == "recovered" else None
        entry = FragmentEntry(fragment_id=_key(piece), status=status, collected_on=collected, **said)
        self.add(entry, days_ago)
        return piece

    def brushed(self, piece: Fragment, days_ago: int, by: str) -> None:
        """Log that a piece was brushed dry."""
        done = Treatment(fragment_id=_key(piece), method="dry_brush", done_on=self.day(days_ago), done_by=by)
        self.add(done, days_ago)

    def site(self, failure: Failure, name: str, days_ago: int, **said: Any) -> BreakSite:
        """Add a break site and what is known of its place in the order."""
        site = self.add(BreakSite(failure_id=_key(failure), name=name), days_ago)
        self.add(SiteEntry(site_id=_key(site), **said), days_ago)
        return site

    def face(self, piece: Fragment, name: str, days_ago: int, site: BreakSite | None = None, **more: Any) -> Face:
        """Add a face of a piece; `mate=` names the face it was torn from, and that face then names this one."""
        mate: Face | None = more.pop("mate", None)
        face = Face(fragment_id=_key(piece), name=name, site_id=site.id if site else None, **more)
        self.add(face, days_ago)
        if mate:
            face.mate_face_id, mate.mate_face_id = mate.id, face.id
        return face

    def photo(self, face: Face, name: str, days_ago: int) -> Photo:
        """Add a rendered photo, with its scale where the desk knows it."""
        data = (PHOTOS / f"{name}.jpg").read_bytes()
        belongs = Belongs(face_id=face.id, is_rendered=True, note=NOTE)
        photo, _ = keep_photo(self.session, self.store, self.settings, data, f"{name}.jpg", belongs)
        self.add(photo, days_ago)
        if um_per_px := photo_facts(name).get("um_per_px"):
            given = {"um_per_px": um_per_px}
            scale = ScaleRecord(
                photo_id=_key(photo), method="um_per_px", um_per_px=um_per_px, relative_sd=0.01, given=given
            )
            self.add(scale, days_ago)
        return photo

    def draw(self, photo: Photo, outer_px: Ring, unknown_px: list[Ring], days_ago: int) -> None:
        """Add an outline drawn by hand, with the zones that can't be judged."""
        outline = OutlineRecord(photo_id=_key(photo), method="drawn", outer_px=outer_px, unknown_px=unknown_px)
        self.add(outline, days_ago)

    def answer(self, failure: Failure, answers: Answers, by: str, days_ago: int) -> None:
        """Add what a person saw: question code to answer, or to answer and note."""
        for code, said in answers.items():
            answer, note = (said, "") if isinstance(said, str) else said
            seen = Observation(failure_id=_key(failure), code=code, answer=answer, note=note, seen_by=by)
            self.add(seen, days_ago)

    def load(self, failure: Failure, face: Face, name: str, days_ago: int, **said: Any) -> None:
        """Add a load that may have broken the face; `force_n=` and its lever arm `reach_mm=` are ranges."""
        force_n, (low, high) = said.pop("force_n"), said.pop("reach_mm", (0.0, 0.0))
        scope = read_scope(self.session, _key(failure))
        keys: dict[str, Any] = {"failure_id": _key(failure), "site_id": own_site(scope), "face_id": face.id}
        ends = {"force_low_n": force_n[0], "force_high_n": force_n[1], "reach_low_mm": low, "reach_high_mm": high}
        self.add(LoadCase(name=name, **keys, **ends, **said), days_ago)

    def weld(self, failure: Failure, by: str, days_ago: int, **said: Any) -> None:
        """Add what the weld bears: as the page offers it by the spool and the heat of its place, or as `said`."""
        scope = read_scope(self.session, _key(failure))
        held = offered(self.session, scope) | said
        low, high = held.pop("strength")
        keys: dict[str, Any] = {"failure_id": _key(failure), "site_id": own_site(scope)}
        self.add(WeldStrength(**keys, **held, low_mpa=low, high_mpa=high, entered_by=by), days_ago)

    def change(self, failure: Failure, what: str, why: str, days_ago: int, done_in: Revision | None = None) -> Change:
        """Add what is to be different in the next build."""
        change = Change(
            failure_id=_key(failure), what=what, why=why, done_in_revision_id=done_in.id if done_in else None
        )
        return self.add(change, days_ago)

    def chose(self, failure: Failure, codes: Sequence[str], build: Build, days_ago: int, **said: Any) -> None:
        """Keep that the build came from a plan of these changes, with what the program promises of it.

        The promise is reckoned at loading from what is known of the failure; the demo writes none down.
        """
        known = gather(self.session, read_scope(self.session, _key(failure)))
        plan = plan_for(known.situation, codes)
        if plan is None:
            raise ValueError(f"not every one of {', '.join(codes)} is possible for {failure.case_label}")
        told = plan_json(plan) | {"wanted": known.situation.wanted, "load": known.standing.load_name}
        chosen = ChosenPlan(
            failure_id=_key(failure),
            build_id=_key(build),
            plan_key=plan.key,
            said=told,
            first_look_on=self.day(said.pop("first_look")),
            program_version=__version__,
            **said,
        )
        self.add(chosen, days_ago)

    def measure(self, photo: Photo, mate: Photo | None = None) -> None:
        """Measure the photo as the worker does, with what the build says of line width, layer height and walls.

        A refusal is no mistake of the demo: the job then holds its reason, and the case stands without a measurement.
        """
        job = measuring.place_order(self.session, self._order(photo, mate))
        claimed = jobs.claim(self.engine, self.settings.job_lease_seconds)
        if claimed is None or claimed.id != job.id:
            raise RuntimeError("the demo's record has a job that the demo did not ask for")
        examinations.run_job(self.engine, self.store, self.settings, claimed)
        self.session.expire_all()

    def _order(self, photo: Photo, mate: Photo | None) -> measuring.Order:
        around = measuring.surroundings(self.session, photo)
        if around.face is None or around.build is None:
            raise ValueError("a demo photo belongs to a face of a part whose build is known")
        parameters: dict[str, Any] = {"surface": around.face.surface, "colour": photo_facts(photo.file_name)["colour"]}
        for name in ("line_width_mm", "layer_height_mm", "wall_count"):
            parameters[name] = getattr(around.build, name)
        return measuring.Order(
            photo,
            self._scale(photo),
            current_outline(self.session, photo.id),
            parameters,
            mate,
            self._scale(mate) if mate else None,
        )

    def _scale(self, photo: Photo) -> ScaleRecord:
        scale = current_scale(self.session, photo.id)
        if scale is None:
            raise ValueError("a demo photo has a scale")
        return scale

    def conclude(self, failure: Failure, days_ago: int) -> VerdictRecord:
        """Weigh what is known and keep the verdict, whatever it is."""
        scope = read_scope(self.session, _key(failure))
        return self.add(verdicts.keep(self.session, verdicts.weigh_scope(self.session, scope)), days_ago)

    def person_says(self, failure: Failure, mode: str, reason: str, by: str, days_ago: int) -> None:
        """Add what a person concludes beside it."""
        scope = read_scope(self.session, _key(failure))
        self.add(verdicts.keep_person_verdict(self.session, scope, mode, reason, by), days_ago)

    def summarise(self, failure: Failure, days_ago: int) -> None:
        """Keep the customer's summary as drafted from the record, signed by the desk."""
        wording = summaries.draft_wording(self.session, read_scope(self.session, _key(failure)))
        wording["prepared_by"] = "The repair desk"
        self.add(summaries.keep(self.session, _key(failure), wording), days_ago)


def photo_facts(name: str) -> dict[str, Any]:
    """Return what is known of a rendered photo."""
    facts: dict[str, Any] = tomllib.loads((PHOTOS / "photos.toml").read_text(encoding="utf-8"))[Path(name).stem]
    return facts


def _key(record: Any) -> int:
    key: int | None = record.id
    if key is None:
        raise ValueError(f"{type(record).__name__} was not kept before it was referred to")
    return key
