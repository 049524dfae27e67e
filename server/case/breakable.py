"""What of a part can have broken: each fitting, build and revision of it, and the original it replaces."""

from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from server.naming import build_name, revision_name, service_name, upper_first
from server.records import Build, Failure, Part, Revision, Service

ORIGINAL = "original"


@dataclass(frozen=True)
class Breakable:
    """One thing that can have broken, its code in the form, and since when it existed."""

    code: str
    words: str
    since: date | None = None
    since_words: str = ""
    revision_id: int | None = None
    build_id: int | None = None
    service_id: int | None = None


def breakables(session: Session, part: Part) -> list[Breakable]:
    """Return what of `part` can have broken: the newest fitting first, then builds, then revisions."""
    revisions = session.exec(
        select(Revision).where(Revision.part_id == part.id).order_by(col(Revision.number).desc())
    ).all()
    keys = {revision.id: revision for revision in revisions}
    builds = session.exec(select(Build).where(col(Build.revision_id).in_(keys)).order_by(col(Build.id).desc())).all()
    made = {build.id: build for build in builds}
    stays = session.exec(
        select(Service)
        .where(col(Service.build_id).in_(made))
        .order_by(col(Service.fitted_on).desc(), col(Service.id).desc())
    ).all()
    found = [_stay(stay, made[stay.build_id], keys[made[stay.build_id].revision_id]) for stay in stays]
    found += [_build(build, keys[build.revision_id]) for build in builds]
    found += [_revision(revision) for revision in revisions]
    if not any(revision.is_original or revision.number == 0 for revision in revisions):
        found.append(Breakable(ORIGINAL, "The original part that is replaced (it becomes revision 0)"))
    return found


def _stay(stay: Service, build: Build, revision: Revision) -> Breakable:
    words = f"{upper_first(service_name(stay))} · {build_name(build)} · {revision_name(revision)}"
    return Breakable(f"service-{stay.id}", words, stay.fitted_on, "fitted", revision.id, build.id, stay.id)


def _build(build: Build, revision: Revision) -> Breakable:
    words = f"{upper_first(build_name(build))} · {revision_name(revision)}, fitting not known"
    return Breakable(f"build-{build.id}", words, build.built_on, "built", revision.id, build.id)


def _revision(revision: Revision) -> Breakable:
    words = upper_first(revision_name(revision)) + ("" if revision.is_original else ", build not known")
    # An original was in use before anybody drew it, so only a drawing of ours sets an earliest day.
    return Breakable(
        f"revision-{revision.id}", words, None if revision.is_original else revision.drawn_on, "drawn", revision.id
    )


def code_of(failure: Failure) -> str:
    """Return the code of what a recorded failure broke."""
    if failure.service_id:
        return f"service-{failure.service_id}"
    return f"build-{failure.build_id}" if failure.build_id else f"revision-{failure.revision_id}"


def set_broken(session: Session, part: Part, failure: Failure, chosen: Breakable) -> None:
    """Let `failure` name what broke; the original becomes revision 0 if it has none yet."""
    if chosen.code == ORIGINAL:
        original = Revision(part_id=part.id or 0, number=0, is_original=True, what_changed="")
        session.add(original)
        session.flush()
        failure.revision_id, failure.build_id, failure.service_id = original.id or 0, None, None
        return
    failure.revision_id = chosen.revision_id or 0
    failure.build_id, failure.service_id = chosen.build_id, chosen.service_id
