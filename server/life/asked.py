"""What the page on how long parts last is asked for; stands in its address, so that it can be shared as a link."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any
from urllib.parse import urlencode

from server.history.search_rules import NO_VERDICT
from server.wording import CODES

GROUPS = {
    "": "nothing: all together",
    "material": "material",
    "printer": "printer",
    "spool": "spool",
    "revision": "revision",
    "mode": "verdict",
    "feature": "break site",
}
BY_FAILURE = {"mode", "feature"}  # groups of failures rather than of builds


@dataclass(frozen=True)
class Asked:
    """How builds are grouped, and which builds and which failures count; "" and 0 ask for nothing."""

    group: str = ""
    material: str = ""
    printer: int = 0
    spool: int = 0
    part: int = 0
    revision: str = ""  # a number, for 0 is one
    mode: str = ""
    feature: str = ""
    page: int = 1

    @classmethod
    def from_query(cls, query: Mapping[str, str]) -> "Asked":
        """Read an address; what it can't mean is left out rather than refused, for a link may be old."""
        group, mode, revision = query.get("group", ""), query.get("mode", ""), query.get("revision", "")
        return cls(
            group if group in GROUPS else "",
            _text(query, "material"),
            _key(query, "printer"),
            _key(query, "spool"),
            _key(query, "part"),
            str(int(revision)) if revision.isascii() and revision.isdigit() and len(revision) < 7 else "",
            mode if mode in {*CODES["mode"], NO_VERDICT} else "",
            _text(query, "feature"),
            _key(query, "page") or 1,
        )

    def query(self, **changed: Any) -> str:
        """Return the query string of this page with some of it changed."""
        asked = {"page": 1, **changed}
        kept = {
            name: value
            for name, value in asdict(replace(self, **asked)).items()
            if value and (name, value) != ("page", 1)
        }
        return urlencode(kept)

    @property
    def narrowed(self) -> bool:
        """Whether anything narrows down what counts."""
        return bool(
            self.material or self.printer or self.spool or self.part or self.revision or self.mode or self.feature
        )


def _text(query: Mapping[str, str], name: str) -> str:
    return query.get(name, "").replace("\x00", "").strip()[:200]


def _key(query: Mapping[str, str], name: str) -> int:
    text = query.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0
