"""The verdict of a site or a failure: gather the evidence, weigh it, keep it with all that it was made from."""

import json
from collections.abc import Collection
from dataclasses import asdict, dataclass, replace
from typing import Any

from sqlmodel import Session, col, select

from analysis.evidence.both_halves import of_both_halves
from analysis.evidence.catalogue import load_catalogue
from analysis.evidence.next_look import worth_showing
from analysis.evidence.observations import Seen, from_measures
from analysis.evidence.verdict import weigh
from server import __version__
from server.records import BreakSite, Face, Measurement, PersonVerdict, SiteEntry, VerdictRecord
from server.strength.evidence import load_seen
from server.verdict.answers import current_answers
from server.verdict.priors import Prior, read_prior
from server.verdict.scope import Scope, faces_of, latest_records, sequences
from server.verdict.weightsets import weights_in_force
from server.verdict.whole import SiteVerdict, whole_verdict


@dataclass(frozen=True)
class Weighing:
    """A verdict with what went into it; `parts` are the sites' own where the failure has several."""

    scope: Scope
    given: dict[str, Any]
    result: dict[str, Any]
    parts: tuple["Weighing", ...] = ()


def weigh_scope(session: Session, scope: Scope, off: Collection[str] = ()) -> Weighing:
    """Weigh what is known at present; observations whose code is in `off` are left out, as if never made.

    A failure with several sites has a verdict for each, and the whole is reckoned from those.
    """
    prior = read_prior(session)
    if scope.site is None and len(scope.sites) > 1:
        return _weigh_whole(session, scope, prior, off)
    seen = [entry for entry in gather(session, scope) if entry.code not in off]
    weights = weights_in_force(session)
    book = weights.book
    result = weigh(seen, prior.shares, book).to_json()
    result["next_looks"] = [look.to_json() for look in worth_showing(seen, prior.shares, book)]
    result["weights"] = weights.name
    given = {
        "seen": [asdict(entry) for entry in seen],
        "weights": weights.told,
        "prior": prior.shares,
        "prior_name": prior.name,
        "off": sorted(off),
    }
    return Weighing(scope, _plain(given), result)


def _weigh_whole(session: Session, scope: Scope, prior: Prior, off: Collection[str]) -> Weighing:
    parts = tuple(weigh_scope(session, scope.at(site), off) for site in scope.sites)
    held = sequences(session, scope)
    sites = [_site_verdict(session, part, held) for part in parts]
    result = whole_verdict(sites, load_catalogue().settings["bar"])
    result["weights"] = weights_in_force(session).name
    given = {
        "sites": {str(part.scope.site_id): part.given for part in parts},
        "sequence": {str(site.id): site.sequence for site in sites},
        "prior": prior.shares,
        "prior_name": prior.name,
        "off": sorted(off),
    }
    return Weighing(scope, _plain(given), result, parts)


def _plain(given: dict[str, Any]) -> dict[str, Any]:
    # As it comes back from the database, so that a kept verdict can be compared with a new one.
    plain: dict[str, Any] = json.loads(json.dumps(given))
    return plain


def _site_verdict(session: Session, part: Weighing, held: dict[int, SiteEntry]) -> SiteVerdict:
    site = part.scope.site
    assert isinstance(site, BreakSite)
    entry = held.get(int(site.id or 0))
    return SiteVerdict(
        int(site.id or 0),
        site.name,
        entry.sequence if entry else "unknown",
        entry.how_known if entry else "",
        part.result,
        entry.load_words if entry else "",
        entry.why_followed if entry else "",
        tuple(face.name for face in faces_of(session, part.scope)),
    )


def gather(session: Session, scope: Scope) -> list[Seen]:
    """What speaks at present: the latest measurement of each face, and the answers that hold."""
    answers = current_answers(session, scope)
    asked = load_catalogue().observations
    seen = [
        Seen(code, entry.answer, origin=f"answer:{entry.id}", note=entry.note)  # type: ignore[arg-type]
        for code, entry in answers.items()
        if code in asked  # a question that a later list no longer has can't be weighed; its answer stays in the record
    ]
    said = {entry.code for entry in seen if entry.answer != "cant_tell"}
    for entry in measured(latest_records(session, faces_of(session, scope))):
        # A bare fact such as "it came apart" is told once, however many faces show it.
        if entry.shares or entry.code not in said:
            seen.append(entry)
            said.add(entry.code)
    load = load_seen(session, scope)
    return [*seen, load] if load else seen


def measured(records: list[tuple[Face, Measurement]]) -> list[Seen]:
    """What the measurements say; two mating faces are two looks at one break and speak once."""
    told = {
        face.id: [replace(entry, origin=f"measurement:{record.id}") for entry in from_measures(record.result)]
        for face, record in records
    }
    seen: list[Seen] = []
    for face, _ in records:
        mate = face.mate_face_id
        if mate in told and (face.id or 0) > (mate or 0):
            continue  # was read together with its mate
        seen += of_both_halves(told[face.id], told.get(mate, []))
    return seen


def latest_measurements(session: Session, scope: Scope) -> list[Measurement]:
    """The newest measurement of each face of the scope, in the order of the faces."""
    return [measurement for _, measurement in latest_records(session, faces_of(session, scope))]


def kept_verdict(session: Session, scope: Scope) -> VerdictRecord | None:
    """The newest verdict kept for the scope."""
    query = select(VerdictRecord).where(
        VerdictRecord.failure_id == scope.failure_id, VerdictRecord.site_id == scope.site_id
    )
    return session.exec(query.order_by(col(VerdictRecord.id).desc())).first()


def kept_verdicts(session: Session, scope: Scope) -> list[VerdictRecord]:
    """Every verdict kept for the scope, the newest first."""
    query = select(VerdictRecord).where(
        VerdictRecord.failure_id == scope.failure_id, VerdictRecord.site_id == scope.site_id
    )
    return list(session.exec(query.order_by(col(VerdictRecord.id).desc())).all())


def is_current(kept: VerdictRecord | None, weighing: Weighing) -> bool:
    """Whether the kept verdict was made from the same evidence, prior and program as the weighing."""
    return kept is not None and kept.given == weighing.given and kept.program_version == __version__


def keep(session: Session, weighing: Weighing) -> VerdictRecord:
    """Add the verdict to the record, and those of its sites that have none from this evidence yet."""
    for part in weighing.parts:
        if not is_current(kept_verdict(session, part.scope), part):
            keep(session, part)
    before = kept_verdict(session, weighing.scope)
    record = VerdictRecord(
        failure_id=weighing.scope.failure_id,
        site_id=weighing.scope.site_id,
        replaces_id=before.id if before else None,
        primary=weighing.result["primary"],
        given=weighing.given,
        result=weighing.result,
        program_version=__version__,
    )
    session.add(record)
    session.commit()
    return record


def person_verdicts(session: Session, scope: Scope) -> list[PersonVerdict]:
    """What people concluded for the scope, the newest first."""
    query = select(PersonVerdict).where(
        PersonVerdict.failure_id == scope.failure_id, PersonVerdict.site_id == scope.site_id
    )
    return list(session.exec(query.order_by(col(PersonVerdict.id).desc())).all())


def keep_person_verdict(session: Session, scope: Scope, mode: str, reason: str, said_by: str) -> PersonVerdict:
    """Add the person's conclusion beside the program's; the program's is kept first, so that both can be compared."""
    weighing = weigh_scope(session, scope)
    kept = kept_verdict(session, scope)
    if kept is None or not is_current(kept, weighing):
        kept = keep(session, weighing)
    before = person_verdicts(session, scope)
    record = PersonVerdict(
        failure_id=scope.failure_id,
        site_id=scope.site_id,
        verdict_id=kept.id,
        replaces_id=before[0].id if before else None,
        mode=mode,
        reason=reason,
        said_by=said_by,
    )
    session.add(record)
    session.commit()
    return record
