"""What a list of parts is narrowed down to, as it stands in the list's address."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from server.wording import CODES

NO_VERDICT = "none"


@dataclass(frozen=True)
class Wanted:
    """What a list is narrowed down to; the list can be shared as a link. Empty asks for nothing."""

    text: str = ""
    verdict: str = ""
    material: str = ""
    printer: int | None = None
    spool: int | None = None
    customer: int | None = None
    state: str = ""
    since: date | None = None  # the first and the last day on which a failure was found
    until: date | None = None
    page: int = 1

    @classmethod
    def from_query(cls, query: Mapping[str, str]) -> "Wanted":
        """Read an address; what it can't mean is left out rather than refused, for a link may be old."""
        verdict, state = query.get("verdict", ""), query.get("state", "")
        return cls(
            query.get("text", "").replace("\x00", "").strip()[:200],
            verdict if verdict in {*CODES["mode"], NO_VERDICT} else "",
            query.get("material", "").replace("\x00", "")[:200],
            _key(query.get("printer", "")),
            _key(query.get("spool", "")),
            _key(query.get("customer", "")),
            state if state in CODES["part_state"] else "",
            _day(query.get("since", "")),
            _day(query.get("until", "")),
            _key(query.get("page", ""), 6) or 1,
        )

    def query(self, page: int = 1) -> str:
        """Return the query string of the same list at `page`."""
        return urlencode({**self._asked(), "page": page} if page > 1 else self._asked())

    def _asked(self) -> dict[str, Any]:
        return {name: value for name, value in asdict(self).items() if value and name != "page"}

    @property
    def narrowed(self) -> bool:
        """Whether anything is asked for at all."""
        return bool(self._asked())

    @property
    def narrowed_more(self) -> bool:
        """Whether anything is asked for that the first line of the form doesn't hold."""
        return bool(set(self._asked()) - {"text", "verdict", "material", "state"})

    @property
    def of_failures(self) -> bool:
        """Whether failures are asked for, so that what they were printed with has to be that of the broken build."""
        return bool(self.verdict or self.since or self.until)


def _key(text: str, digits: int = 15) -> int | None:
    return int(text) or None if text.isascii() and text.isdigit() and len(text) <= digits else None


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
