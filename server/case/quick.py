"""Quick entry: a failure logged in under a minute, on a part of the record or a new one, to be finished later."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from sqlmodel import Session, col, exists, func, or_, select

from server.case.breakable import breakables, set_broken
from server.forms.quick import QuickForm
from server.history.search_rules import teach_folding
from server.records import Failure, FailureEntry, Part, Revision, Service
from server.records.base import now

OFFERED, NAMESAKES = 40, 5
NUMBERED = re.compile(r"(.+) · (\d{1,15})")
SAME_WITHIN = timedelta(hours=1)
NOT_KNOWN_YET = "Not known yet: logged in a hurry when it broke."


@dataclass(frozen=True)
class Match:
    """What a typed name means: one part of the record, a new one, or several of which one has to be said."""

    part: Part | None = None
    namesakes: Sequence[Part] = ()

    @property
    def words(self) -> str:
        """Say it to the person who typed it."""
        if self.namesakes:
            return "Several parts bear this name. Choose one: " + ", ".join(f"“{label(p)}”" for p in self.namesakes)
        if self.part:
            where = f", {self.part.fitted_where}" if self.part.fitted_where else ""
            return f"In the record: {self.part.name}{where}. The failure is logged on it."
        return "Not in the record: it becomes a new part."


def label(part: Part) -> str:
    """Return a part's name with its number, which tells it from others of that name."""
    return f"{part.name} · {part.id}"


def offered(session: Session) -> list[str]:
    """Return names of the newest parts to choose from; those that share a name carry their number."""
    parts = session.exec(select(Part).order_by(col(Part.id).desc()).limit(OFFERED)).all()
    names = [part.name for part in parts]
    return [label(part) if names.count(part.name) > 1 else part.name for part in parts]


def match(session: Session, typed: str) -> Match:
    """Return which part `typed` names; capital letters don't matter where no part is written exactly so."""
    numbered = NUMBERED.fullmatch(typed)
    part = session.get(Part, int(numbered[2])) if numbered else None
    if part and numbered and part.name == numbered[1]:
        return Match(part)
    found = _named(session, col(Part.name) == typed) or _folded(session, typed)
    if len(found) > 1:
        return Match(namesakes=found)
    return Match(found[0] if found else None)


def _folded(session: Session, typed: str) -> list[Part]:
    teach_folding(session)
    return _named(session, func.fold(col(Part.name)) == typed.casefold())


def _named(session: Session, rule: object) -> list[Part]:
    newest_first = select(Part).where(rule).order_by(col(Part.id).desc())  # type: ignore[arg-type]
    return list(session.exec(newest_first.limit(NAMESAKES)).all())


def log_quickly(session: Session, form: QuickForm, part: Part | None) -> Failure:
    """Keep the failure, with its part where that is new, and return it; sent twice within the hour, it is one."""
    if part and (same := _logged_before(session, form, part)):
        return same
    part = part or _new_part(session, form)
    if form.can_hurt.data and not part.can_hurt:
        part.can_hurt = True
        session.add(part)
    failure = Failure()
    _set_broken(session, part, failure, form)
    session.add(failure)
    session.flush()
    said = {"found_on": form.found_on.data, "found_place": form.where.data, "happened_before": form.happened.data}
    session.add(FailureEntry(failure_id=failure.id or 0, **said))
    session.commit()
    return failure


def _logged_before(session: Session, form: QuickForm, part: Part) -> Failure | None:
    """A phone that didn't hear the answer sends once more: the same words on the same part are the same failure."""
    query = (
        select(Failure)
        .join(FailureEntry, col(FailureEntry.failure_id) == col(Failure.id))
        .join(Revision, col(Failure.revision_id) == col(Revision.id))
        .where(
            FailureEntry.entered_at >= now() - SAME_WITHIN,
            Revision.part_id == part.id,
            FailureEntry.found_on == form.found_on.data,
            FailureEntry.found_place == form.where.data,
            FailureEntry.happened_before == form.happened.data,
        )
    )
    return session.exec(query).first()


def _new_part(session: Session, form: QuickForm) -> Part:
    part = Part(name=form.part.data)
    session.add(part)
    session.flush()
    return part


def _set_broken(session: Session, part: Part, failure: Failure, form: QuickForm) -> None:
    """Let it be the newest fitting that was in service on that day; else the newest revision, with no build claimed."""
    options = breakables(session, part)
    whole = _in_service(session, [one.service_id for one in options if one.service_id], form.found_on.data)
    in_use = [one for one in options if one.service_id in whole]
    bare = [one for one in options if one.revision_id and not one.build_id]
    chosen = next(iter([*in_use, *bare]), None)
    if chosen:
        set_broken(session, part, failure, chosen)
        return
    revision = Revision(part_id=part.id or 0, number=1, what_changed=NOT_KNOWN_YET)
    session.add(revision)
    session.flush()
    failure.revision_id = revision.id or 0


def _in_service(session: Session, keys: Sequence[int], on: date) -> set[int]:
    """Return those fittings that were in service on that day and that no other failure ended."""
    fitted = select(Service.id).where(
        col(Service.id).in_(keys),
        Service.fitted_on <= on,
        or_(col(Service.removed_on).is_(None), col(Service.removed_on) >= on),
        ~exists(select(Failure.id).where(Failure.service_id == Service.id)),
    )
    return {key for key in session.exec(fitted) if key}
