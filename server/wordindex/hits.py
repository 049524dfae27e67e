"""Where the words that were asked for stand: in which text of which record, with a link and an excerpt."""

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from sqlalchemy import Integer, column, text
from sqlmodel import Session, col, select

from server.links import address
from server.naming import upper_first
from server.records import Build, Part, Revision
from server.wordindex.asking import asked_words, match_any, match_of
from server.wordindex.sources import SHIFT, SOURCES

LINES = re.compile(r"\s*\n\s*")
SHOWN = 3  # texts named under one part; more are counted
KINDS = {source.code: source for source in SOURCES}
OWN_PAGES = {3: "#locked", 4: "#revision-{}", 5: "#build-{}", 14: "#service-{}", 15: "#inspection-{}"}
OF_FAILURE = {
    7: ("failure", "#pieces"),
    8: ("failure", "#sites"),
    10: ("failure", "#pieces"),
    11: ("failure", "#change"),
    12: ("observations", ""),
    13: ("verdict", "#person"),
    17: ("overview", ""),
    25: ("strength", ""),
    26: ("opinion_links", ""),
    28: ("plan", "#chosen"),
}
ON_SHELF = {
    19: ("customer_edit", "customer_id"),
    20: ("customer_edit", "customer_id"),
    21: ("spool", "spool_id"),
    22: ("spool", "spool_id"),
    23: ("printer_edit", "printer_id"),
    24: ("printer_edit", "printer_id"),
}
PARTS_THAT_HOLD = f"""
SELECT CAST(substr(owner, 2) AS INTEGER) FROM wordindex WHERE wordindex MATCH :{{0}} AND owner LIKE 'p%'
UNION SELECT id FROM part WHERE customer_id IN
 (SELECT rowid / {SHIFT} FROM wordindex WHERE wordindex MATCH :{{0}} AND rowid % {SHIFT} IN (19, 20))
UNION SELECT v.part_id FROM build d JOIN revision v ON v.id = d.revision_id WHERE d.spool_id IN
 (SELECT rowid / {SHIFT} FROM wordindex WHERE wordindex MATCH :{{0}} AND rowid % {SHIFT} IN (21, 22))
UNION SELECT v.part_id FROM build d JOIN revision v ON v.id = d.revision_id WHERE d.printer_id IN
 (SELECT rowid / {SHIFT} FROM wordindex WHERE wordindex MATCH :{{0}} AND rowid % {SHIFT} IN (23, 24))
"""
BEST_OF_EACH = text(f"""
WITH found AS MATERIALIZED (
 SELECT rowid AS place, owner, failure_id, rank AS far, snippet(wordindex, 0, char(2), char(3), '…', 14) AS excerpt
 FROM wordindex WHERE wordindex MATCH :match
), ranked AS (
 SELECT *, row_number() OVER (PARTITION BY owner ORDER BY far, place) AS nth,
  count(*) OVER (PARTITION BY owner) AS all_of
 FROM found
) SELECT place, owner, failure_id, excerpt, all_of FROM ranked WHERE nth <= {SHOWN} ORDER BY far, place
""")


@dataclass(frozen=True)
class Hit:
    """One text that holds a word: whose it is, where to read it, an excerpt cut at the words."""

    where: str
    address: str
    excerpt: list[tuple[str, bool]]
    internal: bool


@dataclass(frozen=True)
class Hits:
    """The texts of one part that tell most, and how many more hold one of the words."""

    shown: list[Hit]
    more: int


def holds(word: str, number: int) -> Any:
    """Return the condition that any text of the part in the row at hand holds `word`, asked for as number `number`."""
    name = f"word{number}"
    query = text(PARTS_THAT_HOLD.format(name)).bindparams(**{name: match_of(word)}).columns(column("id", Integer))
    return col(Part.id).in_(query)


def hits_of(request: Request, session: Session, asked: str, parts: Iterable[Part]) -> dict[int | None, Hits]:
    """Return where each of `parts` holds a word of `asked`, in two queries however many there are."""
    words, owners = asked_words(asked), _owners(session, list(parts))
    if not words or not owners:
        return {}
    found = session.connection().execute(BEST_OF_EACH, {"match": match_any(words, sorted(owners))})
    shown: dict[int | None, list[Hit]] = defaultdict(list)
    total: dict[int | None, dict[str, int]] = defaultdict(dict)
    for place, owner, failure_id, excerpt, all_of in found:
        for part_id in owners[owner]:
            shown[part_id].append(_hit(request, divmod(place, SHIFT), part_id, failure_id, excerpt))
            total[part_id][owner] = all_of
    return {
        part_id: Hits(hits[:SHOWN], sum(total[part_id].values()) - len(hits[:SHOWN])) for part_id, hits in shown.items()
    }


def _owners(session: Session, parts: list[Part]) -> dict[str, list[int]]:
    """Return the parts by the word that stands for them in the index, and for what they share with others."""
    owners: dict[str, list[int]] = defaultdict(list)
    keys = [part.id for part in parts if part.id is not None]
    made = (
        select(Revision.part_id, Build.spool_id, Build.printer_id)
        .join(Build, col(Build.revision_id) == col(Revision.id))
        .where(col(Revision.part_id).in_(keys))
        .distinct()
    )
    for part in parts:
        owners[f"p{part.id}"].append(part.id or 0)
        if part.customer_id:
            owners[f"c{part.customer_id}"].append(part.id or 0)
    for part_id, spool_id, printer_id in session.exec(made).all() if keys else ():
        for owner in (spool_id and f"s{spool_id}", printer_id and f"r{printer_id}"):
            if owner and part_id not in owners[owner]:
                owners[owner].append(part_id)
    return owners


def _hit(request: Request, place: tuple[int, int], part_id: int, failure_id: int | None, excerpt: str) -> Hit:
    record, code = place
    source = KINDS[code]
    where = upper_first(source.name) + (
        f" {failure_id}" if code == 6 else f", failure {failure_id}" if failure_id else ""
    )
    return Hit(where, _address(request, code, record, part_id, failure_id), _cut(excerpt), source.internal)


def _address(request: Request, code: int, record: int, part_id: int, failure_id: int | None) -> str:
    if code in ON_SHELF:
        name, key = ON_SHELF[code]
        return address(request, name, **{key: record})
    if code == 9:
        return address(request, "face", face_id=record)
    if code == 16:
        return address(request, "prepare", photo_id=record)
    if failure_id is not None:
        name, anchor = OF_FAILURE.get(code, ("failure", ""))
        return address(request, name, failure_id=failure_id) + anchor
    return address(request, "part", part_id=part_id) + OWN_PAGES.get(code, "").format(record)


def _cut(excerpt: str) -> list[tuple[str, bool]]:
    """Return the excerpt in pieces, those that were asked for marked; lines and fields stand parted by a point."""
    first, *rest = LINES.sub(" · ", excerpt.strip()).split("\x02")
    pieces = [(first, False)]
    for piece in rest:
        marked, _, after = piece.partition("\x03")
        pieces += [(marked, True), (after.replace("\x03", ""), False)]
    return [piece for piece in pieces if piece[0]]
