"""From stays and failures to ages: how long each build lasted, or has lasted so far."""

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from server.history.search_rules import NO_VERDICT
from server.life.asked import Asked
from server.life.rows import Broke, Made, Rows, Stay

LEAST_DAYS = 0.5  # what broke on the day it was fitted stood there for a part of that day

REASONS = {
    "no_build": "failure{s} of which neither the build nor the stay in use is logged",
    "several": "failure{s} whose build isn’t said where several may be meant",
    "no_stay": "failure{s} of a build whose fitting isn’t logged",
    "before": "build{s} whose failure is dated before its fitting",
    "again": "later failure{s} of a build that had failed before",
    "seen_failed": "build{s} that an inspection found failed, with no failure logged",
}


class Unit(NamedTuple):
    """A build that was in use: its days there, and the failure that ended them or None."""

    made: Made
    days: float
    in_use: bool
    broke: Broke | None = None


@dataclass(frozen=True)
class Lives:
    """What can be counted, and how often what could not be, by code of `REASONS`.

    `listed` holds all failures that are asked for, each with its days in use where they are known.
    """

    units: list[Unit]
    left_out: dict[str, int]
    listed: list[tuple[Broke, float | None]]


def lives_of(rows: Rows, asked: Asked, today: date) -> Lives:
    """Return the ages of all builds that were in use, as they are known today.

    A build's days are those of its stays together. The first failure ends them; the day that counts is that on which
    it was found. Everything else in use, or taken out without a failure, is known to have lasted until then.
    """
    left_out: Counter[str] = Counter()
    first, named = _first_failures(rows, asked, left_out)
    units, days_of = [], {}
    for build_id, made in rows.made.items():
        if not wanted(made, asked):
            continue
        broke = first.get(build_id)
        days = days_in_use(rows.stays[build_id], broke.found_on if broke else today)
        if broke is None and build_id in rows.seen_failed:
            left_out["seen_failed"] += 1
        elif days is None:
            left_out["before"] += broke is not None
        else:
            open_end = any(stay.removed_on is None for stay in rows.stays[build_id])
            units.append(Unit(made, days, broke is None and open_end, broke))
            if broke:
                days_of[broke.id] = days
    listed = [(one, days_of.get(one.id)) for one in named if wanted(one.made, asked) and counts(one, asked)]
    return Lives(units, {code: n for code, n in left_out.items() if n}, listed)


def wanted(made: Made, asked: Asked) -> bool:
    """Whether a build is of the material, printer and spool that are asked for."""
    return (
        (not asked.material or made.material == asked.material)
        and (not asked.printer or made.printer_id == asked.printer)
        and (not asked.spool or made.spool_id == asked.spool)
    )


def days_in_use(stays: list[Stay], until: date) -> float | None:
    """Return the days of all stays together up to a day; None where none had begun by then."""
    begun = [stay for stay in stays if stay.fitted_on <= until]
    if not begun:
        return None
    days = sum((min(stay.removed_on or until, until) - stay.fitted_on).days for stay in begun)
    return max(LEAST_DAYS, float(days))


def counts(broke: Broke, asked: Asked) -> bool:
    """Whether a failure is of the kind that is asked for; all others only end a build's days under observation."""
    mode = broke.mode
    if asked.feature:
        places = {name.casefold(): said for name, said in broke.places.items()}
        if asked.feature.casefold() not in places:
            return False
        mode = places[asked.feature.casefold()]
    return not asked.mode or (mode or NO_VERDICT) == asked.mode


def _first_failures(rows: Rows, asked: Asked, left_out: Counter[str]) -> tuple[dict[int, Broke], list[Broke]]:
    """Return the first failure of each build, and all failures with their builds as far as those can be told."""
    of_revision = defaultdict(list)
    for build_id, made in rows.made.items():
        of_revision[made.revision_id].append(build_id)
    first: dict[int, Broke] = {}
    named = []
    taken = {broke.made.build_id for broke in rows.broke}
    for one in rows.broke:  # by the day they were found
        broke = one
        if broke.made.build_id is None:
            meant = _meant(rows, broke, [key for key in of_revision[broke.made.revision_id] if key not in taken])
            if len(meant) != 1:
                left_out["several" if meant else "no_build"] += 1
                named.append(broke)
                continue
            broke = broke._replace(made=rows.made[meant[0]])
            taken.add(meant[0])
        named.append(broke)
        key = broke.made.build_id or 0
        if key in rows.made and key not in first:
            first[key] = broke
        elif wanted(broke.made, asked):
            left_out["again" if key in first else "no_stay"] += 1
    return first, named


def _meant(rows: Rows, broke: Broke, builds: list[int]) -> list[int]:
    """The builds that were in use on the day a failure was found whose build isn't said."""
    return [
        key
        for key in builds
        if any(
            stay.fitted_on <= broke.found_on and (stay.removed_on is None or broke.found_on <= stay.removed_on)
            for stay in rows.stays[key]
        )
    ]
