"""Where a part is used, what service has shown there, and the judgement of every material for it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from analysis.materials.environments import Environment
from analysis.materials.fitness import Judgement, Stood, judge_all
from analysis.materials.library import Material
from server.history.story import Story, read_story
from server.materials.known import Known, read_known, spool_code
from server.records import Observation, Part, Service, UsePlace

DAYS_A_MONTH = 30.44
SOFTENED = "heat_marks"  # the question whose yes says that a broken part had sagged or waved by heat


@dataclass(frozen=True)
class PlaceKnown:
    """The place of a part: the entry that counts, the environment it gives, and where its temperature is from."""

    entry: UsePlace | None
    environment: Environment
    heat_from: str


@dataclass(frozen=True)
class Judged:
    """Everything that the judgement for a part rests on, and the judgement."""

    place: PlaceKnown
    stood: list[Stood]
    judgements: list[Judgement]
    known: Known


def judge_part(session: Session, part: Part, today: date, revision_id: int | None = None) -> Judged:
    """Return the judgement of every material for the place of `part` (of its newest revision, unless one is named)."""
    story, known = read_story(session, part), read_known(session)
    if revision_id is None and story.revisions:
        revision_id = max(story.revisions, key=lambda one: one.number).id
    place = current_place(session, part, story, revision_id)
    stood = what_stood(session, story, known.materials, today)
    return Judged(place, stood, judge_all(known.materials.values(), place.environment, stood), known)


def places_of(session: Session, part: Part) -> list[UsePlace]:
    """Return all entries on the part's place, newest first."""
    rows = select(UsePlace).where(UsePlace.part_id == part.id).order_by(col(UsePlace.id).desc())
    return list(session.exec(rows).all())


def current_place(session: Session, part: Part, story: Story, revision_id: int | None) -> PlaceKnown:
    """Return the newest entry for the revision, else for the part; its temperature, else the highest of its service."""
    rows = places_of(session, part)
    mine = [row for row in rows if row.revision_id == revision_id and revision_id is not None]
    entry = next(iter(mine + [row for row in rows if row.revision_id is None]), None)
    agents, water = (tuple(entry.agents), entry.water) if entry else ((), "")
    if entry and entry.highest_c is not None:
        return PlaceKnown(entry, Environment(entry.highest_c, agents, water), "as entered for this place")
    highest = _highest_in_service(list(story.services))
    if highest is not None:
        return PlaceKnown(entry, Environment(highest, agents, water), "highest that was logged in service")
    return PlaceKnown(entry, Environment(None, agents, water), "")


def _highest_in_service(services: list[Service]) -> float | None:
    return max((service.highest_c for service in services if service.highest_c is not None), default=None)


def what_stood(session: Session, story: Story, materials: Mapping[str, Material], today: date) -> list[Stood]:
    """Return for each material that was at the place how long it stood there, and whether it softened."""
    softened = _softened(session, story)
    ended = {failure.service_id: story.found_on(failure) for failure in story.failures if failure.service_id}
    builds = {build.id: build for build in story.builds}
    longest: dict[tuple[str, bool], float] = {}
    for service in story.services:
        spool = story.spools.get(builds[service.build_id].spool_id)
        code = spool_code(spool, materials)[0] if spool else None
        if code is None:
            continue
        end = min(day for day in (service.removed_on, ended.get(service.id or 0), today) if day)
        months = max((end - service.fitted_on).days, 0) / DAYS_A_MONTH
        key = (code, service.id in softened)
        longest[key] = max(longest.get(key, 0.0), months)
    return [Stood(materials[code], months, soft) for (code, soft), months in longest.items()]


def _softened(session: Session, story: Story) -> set[int | None]:
    """Return the stays in service that ended in a failure on which heat marks were seen."""
    keys = [failure.id for failure in story.failures]
    rows = session.exec(
        select(Observation)
        .where(col(Observation.failure_id).in_(keys), Observation.code == SOFTENED)
        .order_by(col(Observation.id))
    )
    newest = {(row.failure_id, row.site_id): row.answer for row in rows}
    seen = {failure_id for (failure_id, _), answer in newest.items() if answer == "yes"}
    return {failure.service_id for failure in story.failures if failure.id in seen and failure.service_id}
