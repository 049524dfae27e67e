"""What the record holds for the plan of a next build, gathered into the planner's `Situation`."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlmodel import Session, col, select

from analysis.evidence.catalogue import MODES
from analysis.evidence.verdict import UNDETERMINED
from analysis.nextbuild.envelope import Region
from analysis.nextbuild.situation import PresentBuild, PrinterLimits, Situation
from server.nextbuild.baseline import Standing, standing_of
from server.nextbuild.materials import Present, present_of
from server.records import Build, LockedFeature, PlanTerms, Printer
from server.verdict.scope import Scope
from server.verdict.verdicts import latest_measurements, person_verdicts, weigh_scope

IN_QUESTION = 0.2  # a mode at least this probable is planned for while the verdict is undetermined; judgement
CAUSE_DB = 5.0  # "substantial" on Jeffreys' grades: from here on a cause is planned for


@dataclass(frozen=True)
class Known:
    """The planner's situation with the records that it was made from."""

    situation: Situation
    terms: PlanTerms
    build: Build | None
    regions: tuple[LockedFeature, ...]
    present: Present
    standing: Standing
    verdict_words: str
    verdict_by: str


def current_terms(session: Session, failure_id: int) -> PlanTerms | None:
    """The newest terms stated for the failure, None where nobody has stated any."""
    query = select(PlanTerms).where(PlanTerms.failure_id == failure_id).order_by(col(PlanTerms.id).desc())
    return session.exec(query).first()


def regions_of(session: Session, part_id: int | None) -> tuple[LockedFeature, ...]:
    """The part's regions, the locked ones first."""
    rows = session.exec(select(LockedFeature).where(LockedFeature.part_id == part_id).order_by(col(LockedFeature.id)))
    return tuple(sorted(rows.all(), key=lambda row: row.is_free))


def gather(session: Session, scope: Scope) -> Known:
    """Read everything that bears on the next build of the scope's part."""
    terms = current_terms(session, scope.failure_id) or PlanTerms(failure_id=scope.failure_id, regions_at_break=[])
    build = session.get(Build, scope.failure.build_id) if scope.failure.build_id else None
    printer = session.get(Printer, build.printer_id) if build and build.printer_id else None
    regions = regions_of(session, scope.part.id)
    weighing = weigh_scope(session, scope)
    people = person_verdicts(session, scope)
    # A person has seen the part; where one concluded, the plan follows that conclusion.
    primary = people[0].mode if people else weighing.result["primary"]
    present = present_of(session, scope.part, build)
    standing = standing_of(session, scope)
    causes = tuple(cause["code"] for cause in weighing.result["causes"] if cause["weight_db"] >= CAUSE_DB)
    beside = _beside(primary, weighing.result)
    situation = Situation(
        primary=primary,
        contributing=tuple(mode for mode in beside if mode != "interference_rub"),
        causes=causes,
        rubs="interference_rub" in beside,
        baseline=standing.baseline,
        no_baseline=standing.why_not,
        regions=[_region(row, terms) for row in regions],
        materials=present.options,
        printer=_limits(printer),
        build=_present_build(session, scope, build, terms, present),
        wanted=terms.wanted,
        days_left=_days_left(terms.needed_on),
    )
    by = f"concluded by {people[0].said_by}" if people else "by the program"
    return Known(situation, terms, build, regions, present, standing, weighing.result["words"], by)


def _beside(primary: str, result: dict[str, Any]) -> list[str]:
    """The modes to treat beside the primary one; where that is undetermined, all that are still in question."""
    if primary == UNDETERMINED:
        return [mode for mode in MODES if result["probabilities"][mode] >= IN_QUESTION]
    return [mode for mode in result["contributing"] if mode in MODES and mode != primary]


def _region(row: LockedFeature, terms: PlanTerms) -> Region:
    return Region(
        name=row.what,
        kind=row.kind,
        at_break=row.id in terms.regions_at_break,
        locked=not row.is_free,
        room_mm=row.room_mm if row.is_free else None,
        reason=row.reason,
    )


def _limits(printer: Printer | None) -> PrinterLimits:
    if printer is None:
        return PrinterLimits()
    return PrinterLimits(printer.nozzle_max_c, None if printer.chamber_max_c is None else printer.chamber_max_c > 30)


def _present_build(
    session: Session, scope: Scope, build: Build | None, terms: PlanTerms, present: Present
) -> PresentBuild:
    shares = [
        found["interval"]
        for record in latest_measurements(session, scope)
        if (found := record.result.get("bonded_area_fraction")) and found.get("interval")
    ]
    bonded = shares[-1] if shares else None
    return PresentBuild(
        line_width_mm=build.line_width_mm if build else None,
        layer_height_mm=build.layer_height_mm if build else None,
        nozzle_mm=build.nozzle_mm if build else None,
        nozzle_c=build.nozzle_c if build else None,
        infill_percent=build.infill_percent if build else None,
        thickness_mm=terms.thickness_mm,
        bends=terms.bends,
        bonded_share=(float(bonded[0]), float(bonded[1])) if bonded else None,
        in_plane_ratio=present.in_plane_ratio,
    )


def _days_left(needed_on: date | None) -> float | None:
    # A day that has passed since it was stated is no reason to refuse the page; the page says that it has.
    return None if needed_on is None else float(max(0, (needed_on - date.today()).days))
