"""Under-extrusion by printer over time: of the failures whose cause is known, how many are put down to it."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from analysis.life.rate import share_limits
from server.life.rows import Broke

UNDER, NOT_KNOWN = "under_extrusion", {"", "undetermined"}
MONTHS_WIDE, MONTHS_NARROW = 24, 10
BAR, GAP, BASE, ROOM = 20, 8, 92, 66


@dataclass(frozen=True)
class Month:
    """The failures of what was printed in one month."""

    on: date
    under: int = 0
    other: int = 0
    not_known: int = 0

    @property
    def judged(self) -> int:
        """Failures with one of the four causes."""
        return self.under + self.other

    @property
    def words(self) -> str:
        """The month, as Mar 2026."""
        return f"{self.on:%b %Y}"


@dataclass(frozen=True)
class Bar:
    """A month on the drawing: heights in px, from the ground up."""

    x: int
    under: float
    other: float
    not_known: float
    month: Month


@dataclass(frozen=True)
class Trend:
    """A printer's months, the oldest first; `limits` (95 %) hold for all of them together."""

    name: str
    months: list[Month]
    under: int
    judged: int
    limits: tuple[float, float] | None

    def bars(self, most: int) -> list[Bar]:
        """Return the last months for a drawing; months without a failure are left as a gap."""
        shown = _last(self.months, most)
        highest = max(month.judged + month.not_known for month in self.months)
        unit = min(14.0, ROOM / highest)
        start = shown[0].on
        return [
            Bar(
                6 + (BAR + GAP) * _months_between(start, month.on),
                unit * month.under,
                unit * month.other,
                unit * month.not_known,
                month,
            )
            for month in shown
        ]

    def width(self, most: int) -> int:
        """The drawing's width, px."""
        shown = _last(self.months, most)
        return 12 + (BAR + GAP) * (_months_between(shown[0].on, shown[-1].on) + 1)


@dataclass(frozen=True)
class Trends:
    """Each printer's trend, and the failures of a printer that can't be placed in time."""

    printers: list[Trend]
    undated: int


def trends_of(listed: list[Broke], printers: dict[int, str]) -> Trends:
    """Return the trends, by the month a part was printed in, not that in which it broke."""
    cells: dict[int, dict[date, list[int]]] = defaultdict(lambda: defaultdict(lambda: [0, 0, 0]))
    undated = 0
    for broke in listed:
        printer, built_on = broke.made.printer_id, broke.made.built_on
        if printer is None or built_on is None:
            undated += 1
            continue
        kind = 2 if broke.mode in NOT_KNOWN else 0 if broke.mode == UNDER else 1
        cells[printer][built_on.replace(day=1)][kind] += 1
    found = [_trend(printers.get(key, "printer not known"), months) for key, months in cells.items()]
    return Trends(sorted(found, key=lambda trend: (-trend.judged, trend.name.casefold())), undated)


def _trend(name: str, cells: dict[date, list[int]]) -> Trend:
    months = [Month(on, *counted) for on, counted in sorted(cells.items())]
    under, judged = sum(month.under for month in months), sum(month.judged for month in months)
    return Trend(name, months, under, judged, share_limits(under, judged) if judged else None)


def _months_between(one: date, other: date) -> int:
    return 12 * (other.year - one.year) + other.month - one.month


def _last(months: list[Month], most: int) -> list[Month]:
    return [month for month in months if _months_between(month.on, months[-1].on) < most]
