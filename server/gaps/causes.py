"""What people say of gaps: entries that are only added to, and what holds at present."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from analysis.measures.gapcause import CAUSES
from server.case.current import grouped
from server.gaps.found import Gap, gaps_of
from server.records import GapCause, Measurement
from server.wording import words

SAME_MM = 0.001  # mm are stored as they stand in the result


def causes_of(session: Session, keys: Iterable[int | None]) -> dict[int, list[GapCause]]:
    """Return every entry on each measurement's gaps, the oldest first."""
    return grouped(session, GapCause, GapCause.measurement_id, keys)


def is_of(entry: GapCause, gap: Gap) -> bool:
    """Whether the entry is about this gap of its measurement."""
    return (entry.outline, entry.wall_index) == (gap.outline, gap.index) and abs(
        entry.start_mm - gap.start_mm
    ) < SAME_MM


def entries_on(entries: Sequence[GapCause], gap: Gap) -> list[GapCause]:
    """Return the entries on one gap, the one that counts last."""
    return [entry for entry in entries if is_of(entry, gap)]


def keep(
    session: Session, measurement: Measurement, gap: Gap, cause: str, answers: dict[str, str], who: str, note: str
) -> GapCause:
    """Add what is said of a gap; what was said before stays and is named by the new entry."""
    before = entries_on(causes_of(session, [measurement.id])[measurement.id or 0], gap)
    record = GapCause(
        measurement_id=measurement.id or 0,
        replaces_id=before[-1].id if before else None,
        outline=gap.outline,
        wall_index=gap.index,
        start_mm=gap.start_mm,
        end_mm=gap.end_mm,
        cause=cause,
        answers=answers,
        note=note,
        who=who,
    )
    session.add(record)
    session.commit()
    return record


def earlier_words(session: Session, measurement: Measurement, gap: Gap) -> list[str]:
    """Say what people said of a gap at this place in other measurements of the same photo."""
    query = (
        select(GapCause)
        .join(Measurement)
        .where(
            Measurement.photo_id == measurement.photo_id,
            Measurement.id != measurement.id,
            GapCause.outline == gap.outline,
            GapCause.wall_index == gap.index,
            col(GapCause.start_mm) < gap.end_mm,
            col(GapCause.end_mm) > gap.start_mm,
        )
        .order_by(col(GapCause.id).desc())
    )
    return [
        f"In another measurement of this photo {entry.who or 'somebody'} said: {words(entry.cause, 'gap_cause')}."
        for entry in session.exec(query).all()[:2]
    ]


@dataclass(frozen=True)
class Told:
    """The gaps of a measurement by cause; "" stands for those that nobody was asked about yet."""

    count: Counter[str]
    longest_mm: dict[str, float]

    def in_order(self) -> list[tuple[str, int, float]]:
        """Return cause, number of gaps, length of the longest; those not asked about last."""
        return [(c, self.count[c], self.longest_mm[c]) for c in (*CAUSES, "") if self.count[c]]


def told_of(measurement: Measurement, entries: Sequence[GapCause]) -> Told:
    """Return how many gaps have which cause at present, and the longest of each."""
    count: Counter[str] = Counter()
    longest: dict[str, float] = {}
    for gap in gaps_of(measurement)[0]:
        said = entries_on(entries, gap)
        cause = said[-1].cause if said else ""
        count[cause] += 1
        longest[cause] = max(longest.get(cause, 0.0), gap.length_mm)
    return Told(count, longest)


def case_words(told: Told) -> str:
    """Say it in a line for the case; "" where there is no gap."""
    parts = [
        f"{number} {words(cause, 'gap_cause').partition(':')[0] if cause else 'cause not asked yet'}"
        for cause, number, _ in told.in_order()
    ]
    total = sum(told.count.values())
    return f"{total} gap{'s' if total != 1 else ''}: {', '.join(parts)}" if parts else ""
