"""The conditions that narrow down the list of parts, each an SQL expression on the part in the row at hand."""

from typing import Any

from sqlalchemy import and_, exists, func, literal, or_
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from server.history.state import part_state
from server.records import Build, Customer, Failure, FailureEntry, Part, PersonVerdict, Revision, Spool, VerdictRecord

NO_VERDICT = "none"


def rules_for(text: str, verdict: str, material: str, state: str) -> list[Any]:
    """Return the conditions that a part has to meet; an empty argument asks for nothing."""
    rules: list[Any] = [_mentions(word) for word in text.split()[:12]]
    if verdict:
        rules.append(_judged(verdict))
    if material:
        rules.append(_of_part(Build, col(Build.revision_id), _made_of(material)))
    if state:
        rules.append(part_state() == state)
    return rules


def _made_of(material: str) -> Any:
    return exists(
        select(col(Spool.id))
        .where(col(Spool.id) == col(Build.spool_id), col(Spool.material) == material)
        .correlate(Build)
    )


def _of_part(kind: Any, revision_column: Any, rule: Any) -> Any:
    """Whether the part has a record of `kind` under one of its revisions that meets `rule`."""
    joined = select(kind.id).join(Revision, revision_column == col(Revision.id))
    return exists(joined.where(col(Revision.part_id) == col(Part.id), rule).correlate(Part))


def teach_folding(session: Session) -> None:
    # SQLite compares without regard to case in ASCII only; names have umlauts and accents.
    connection: Any = session.connection().connection.driver_connection
    connection.create_function("fold", 1, lambda value: str(value or "").casefold(), deterministic=True)


def _mentions(word: str) -> Any:
    """Whether any of the part's texts holds `word`: its own, its customer's name, its revisions', its failures'."""
    customer = (
        select(col(Customer.id))
        .where(col(Customer.id) == col(Part.customer_id), _holds(word, Customer.name))
        .correlate(Part)
    )
    changed = (
        select(col(Revision.id))
        .where(col(Revision.part_id) == col(Part.id), _holds(word, Revision.what_changed, Revision.why))
        .correlate(Part)
    )
    later: Any = aliased(FailureEntry)
    newest = ~exists(
        select(later.id)
        .where(later.failure_id == FailureEntry.failure_id, col(FailureEntry.id) < later.id)
        .correlate(FailureEntry)
    )
    account = exists(
        select(col(FailureEntry.id))
        .where(
            col(FailureEntry.failure_id) == col(Failure.id),
            newest,
            _holds(
                word,
                FailureEntry.found_place,
                FailureEntry.finder,
                FailureEntry.noticed_how,
                FailureEntry.happened_before,
                FailureEntry.load_words,
                FailureEntry.load_direction,
                FailureEntry.as_found,
                FailureEntry.also_lost,
                FailureEntry.found_sound,
            ),
        )
        .correlate(Failure)
    )
    return or_(
        _holds(word, Part.name, Part.function, Part.fitted_where, Part.note),
        exists(customer),
        exists(changed),
        _of_part(Failure, col(Failure.revision_id), or_(account, _holds(word, Failure.case_label))),
    )


def _holds(word: str, *columns: Any) -> Any:
    # One text of all columns, parted by a sign that no word holds, so that a word isn't found across two of them.
    text: Any = literal("")
    for column in columns:
        text = text + "\n" + func.coalesce(column, "")
    return func.fold(text).contains(word.casefold(), autoescape=True)


def _judged(code: str) -> Any:
    """Whether a failure of the part, or a site of one, has this verdict: the person's counts before the program's."""
    said: Any = aliased(PersonVerdict)
    later_said: Any = aliased(PersonVerdict)
    weighed: Any = aliased(VerdictRecord)
    later_weighed: Any = aliased(VerdictRecord)
    if code == NO_VERDICT:
        any_verdict = or_(
            exists(select(said.id).where(said.failure_id == Failure.id).correlate(Failure)),
            exists(select(weighed.id).where(weighed.failure_id == Failure.id).correlate(Failure)),
        )
        return _of_part(Failure, col(Failure.revision_id), ~any_verdict)
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
    return _of_part(Failure, col(Failure.revision_id), or_(exists(by_person), exists(by_program)))


def _same(one: Any, other: Any) -> Any:
    return and_(one.failure_id == other.failure_id, one.site_id.is_not_distinct_from(other.site_id))
