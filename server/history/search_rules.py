"""The conditions that narrow down the list of parts, each an SQL expression on the part in the row at hand."""

from typing import Any

from sqlalchemy import and_, exists, or_, true
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from server.history.state import part_state
from server.history.wanted import NO_VERDICT as NO_VERDICT  # also for those who group by verdict
from server.history.wanted import Wanted
from server.records import Build, Failure, FailureEntry, Part, PersonVerdict, Revision, Spool, VerdictRecord
from server.wordindex.asking import asked_words
from server.wordindex.hits import holds


def rules_for(wanted: Wanted) -> list[Any]:
    """Return the conditions that a part has to meet; what isn't asked for adds none."""
    rules: list[Any] = [holds(word, number) for number, word in enumerate(asked_words(wanted.text))]
    making = _making(wanted)
    if wanted.of_failures:
        rules.append(_of_part(Failure, col(Failure.revision_id), and_(*_failing(wanted), _of_build(making))))
    elif making:
        rules.append(_of_part(Build, col(Build.revision_id), and_(*making)))
    if wanted.customer:
        rules.append(col(Part.customer_id) == wanted.customer)
    if wanted.state:
        rules.append(part_state() == wanted.state)
    return rules


def teach_folding(session: Session) -> None:
    """Let SQL `fold` a name's case: SQLite itself compares without regard to case in ASCII only."""
    connection: Any = session.connection().connection.driver_connection
    connection.create_function("fold", 1, lambda value: str(value or "").casefold(), deterministic=True)


def _making(wanted: Wanted) -> list[Any]:
    """Return what is asked of a build."""
    rules: list[Any] = []
    if wanted.material:
        named = select(col(Spool.id)).where(
            col(Spool.id) == col(Build.spool_id), col(Spool.material) == wanted.material
        )
        rules.append(exists(named.correlate(Build)))
    if wanted.printer:
        rules.append(col(Build.printer_id) == wanted.printer)
    if wanted.spool:
        rules.append(col(Build.spool_id) == wanted.spool)
    return rules


def _of_build(making: list[Any]) -> Any:
    """Whether the failure is one of a build that meets `making`; where its build isn't known, that isn't known."""
    if not making:
        return true()
    return exists(select(col(Build.id)).where(col(Build.id) == col(Failure.build_id), *making).correlate(Failure))


def _failing(wanted: Wanted) -> list[Any]:
    """Return what is asked of a failure."""
    rules: list[Any] = [_judged(wanted.verdict)] if wanted.verdict else []
    said: Any = aliased(FailureEntry)
    later: Any = aliased(FailureEntry)
    newest = ~exists(select(later.id).where(later.failure_id == said.failure_id, later.id > said.id).correlate(said))
    within = [said.found_on >= wanted.since] if wanted.since else []
    within += [said.found_on <= wanted.until] if wanted.until else []
    if within:
        rules.append(exists(select(said.id).where(said.failure_id == Failure.id, newest, *within).correlate(Failure)))
    return rules


def _of_part(kind: Any, revision_column: Any, rule: Any) -> Any:
    """Whether the part has a record of `kind` under one of its revisions that meets `rule`."""
    joined = select(kind.id).join(Revision, revision_column == col(Revision.id))
    return exists(joined.where(col(Revision.part_id) == col(Part.id), rule).correlate(Part))


def _judged(code: str) -> Any:
    """Whether the failure in the row at hand, or a site of it, has this verdict: the person’s counts first."""
    said: Any = aliased(PersonVerdict)
    later_said: Any = aliased(PersonVerdict)
    weighed: Any = aliased(VerdictRecord)
    later_weighed: Any = aliased(VerdictRecord)
    if code == NO_VERDICT:
        any_verdict = or_(
            exists(select(said.id).where(said.failure_id == Failure.id).correlate(Failure)),
            exists(select(weighed.id).where(weighed.failure_id == Failure.id).correlate(Failure)),
        )
        return ~any_verdict
    said_now = ~exists(select(later_said.id).where(_same(later_said, said), later_said.id > said.id).correlate(said))
    weighed_now = ~exists(
        select(later_weighed.id).where(_same(later_weighed, weighed), later_weighed.id > weighed.id).correlate(weighed)
    )
    overruled = exists(select(later_said.id).where(_same(later_said, weighed)).correlate(weighed))
    by_person = select(said.id).where(said.failure_id == Failure.id, said.mode == code, said_now).correlate(Failure)
    by_program = (
        select(weighed.id)
        .where(weighed.failure_id == Failure.id, weighed.primary == code, weighed_now, ~overruled)
        .correlate(Failure)
    )
    return or_(exists(by_person), exists(by_program))


def _same(one: Any, other: Any) -> Any:
    return and_(one.failure_id == other.failure_id, one.site_id.is_not_distinct_from(other.site_id))
