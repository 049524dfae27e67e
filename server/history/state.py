"""In which state a part is, as one SQL expression, so that the list can filter by it and every page says the same."""

from typing import Any

from sqlalchemy import ColumnElement, and_, case, exists, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import col

from server.records import Build, Failure, FailureEntry, Part, Revision, Service


def part_state() -> ColumnElement[str]:
    """Return the state of the part in the row at hand; codes as "part_state" in wording.py.

    A build in use and not known to have failed counts before anything else: a spare on the shelf doesn't hide it.
    Otherwise the newest build tells.
    """
    return case(
        (_in_use(), "in_service"),
        (and_(~_any_build(), _any_failure()), "failed"),
        (~_any_build(), "no_build"),
        (_newest_build_broke(), "failed"),
        (_newest_build_was_fitted(), "removed"),
        else_="built",
    )


def _newest_build() -> Any:
    of_part = select(func.max(Build.id)).join(Revision, col(Build.revision_id) == col(Revision.id))
    return of_part.where(col(Revision.part_id) == col(Part.id)).correlate(Part).scalar_subquery()


def _any_build() -> Any:
    joined = select(col(Build.id)).join(Revision, col(Build.revision_id) == col(Revision.id))
    return exists(joined.where(col(Revision.part_id) == col(Part.id)).correlate(Part))


def _any_failure() -> Any:
    joined = select(col(Failure.id)).join(Revision, col(Failure.revision_id) == col(Revision.id))
    return exists(joined.where(col(Revision.part_id) == col(Part.id)).correlate(Part))


def _found_on(failure: Any) -> Any:
    newest: Any = aliased(FailureEntry)
    said = select(newest.found_on).where(newest.failure_id == failure.id).order_by(newest.id.desc()).limit(1)
    return said.correlate(failure).scalar_subquery()


def _broke(failure: Any, build: Any) -> Any:
    """Whether `failure` is one of `build`; where its build isn't known, of a build of that revision made before it."""
    unnamed = and_(failure.build_id.is_(None), failure.revision_id == build.revision_id)
    made_before = or_(build.built_on.is_(None), _found_on(failure) >= build.built_on)
    return or_(failure.build_id == build.id, and_(unnamed, made_before))


def _in_use() -> Any:
    stay: Any = aliased(Service)
    build: Any = aliased(Build)
    failure: Any = aliased(Failure)
    revision: Any = aliased(Revision)
    unnamed = and_(failure.service_id.is_(None), _broke(failure, build), _found_on(failure) >= stay.fitted_on)
    ended = exists(select(failure.id).where(or_(failure.service_id == stay.id, unnamed)).correlate(stay, build))
    running = select(stay.id).join(build, stay.build_id == build.id).join(revision, build.revision_id == revision.id)
    return exists(running.where(revision.part_id == Part.id, stay.removed_on.is_(None), ~ended).correlate(Part))


def _newest_build_broke() -> Any:
    build: Any = aliased(Build)
    failure: Any = aliased(Failure)
    joined = select(failure.id).join(build, _broke(failure, build)).where(build.id == _newest_build())
    return exists(joined.correlate(Part))


def _newest_build_was_fitted() -> Any:
    return exists(select(col(Service.id)).where(col(Service.build_id) == _newest_build()).correlate(Part))
