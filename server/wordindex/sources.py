"""Every text of the record that a search finds: one row a kind, the numbers of which are never used again."""

from dataclasses import dataclass

SHIFT = 32  # a row of the index is numbered record × SHIFT + kind: SQLite reaches it without looking


@dataclass(frozen=True)
class Source:
    """One kind of text. `base` b is the record it belongs to, one row of the index each.

    `owner` names in one word whose it is (p part, c customer, s spool, r printer) and `failure` the failure, if any.
    `renewed_by` lists table, own column, and column of b: an entry there renews the rows of b that it names.
    """

    code: int
    name: str
    base: str
    texts: tuple[str, ...]
    owner: str
    joins: str = ""
    failure: str = "NULL"
    only: str = ""
    renewed_by: tuple[tuple[str, str, str], ...] = ()
    internal: bool = False

    def select(self) -> str:
        """Return the SQL that makes this kind's rows of the index, ending in a WHERE that more may be added to."""
        words = "||char(10)||".join(f"coalesce({text},'')" for text in self.texts)
        some = "||".join(f"coalesce({text},'')" for text in self.texts)
        return (
            f"SELECT b.id*{SHIFT}+{self.code}, {words}, {self.owner}, {self.failure}"
            f" FROM {self.base} b {self.joins} WHERE trim({some})<>'' {self.only}"
        )


def _newest(table: str, column: str) -> str:
    return f"LEFT JOIN {table} e ON e.id=(SELECT max(n.id) FROM {table} n WHERE n.{column}=b.id)"


def _standing(table: str) -> str:
    return f"AND NOT EXISTS (SELECT 1 FROM {table} l WHERE l.replaces_id=b.id)"


def _e(*names: str) -> tuple[str, ...]:
    return tuple(f"e.{name}" for name in names)


PART = "'p'||b.part_id"
OF_REVISION = "JOIN revision v ON v.id=b.revision_id"
OF_BUILD = "JOIN build d ON d.id=b.build_id JOIN revision v ON v.id=d.revision_id"
OF_FAILURE = "JOIN failure f ON f.id=b.failure_id JOIN revision v ON v.id=f.revision_id"
OF_PIECE = (
    "JOIN fragment g ON g.id=b.fragment_id JOIN failure f ON f.id=g.failure_id JOIN revision v ON v.id=f.revision_id"
)
OF_FACE = (
    "JOIN face a ON a.id=b.face_id JOIN fragment g ON g.id=a.fragment_id "
    "JOIN failure f ON f.id=g.failure_id JOIN revision v ON v.id=f.revision_id"
)
OF_MEASUREMENT = (
    "JOIN measurement m ON m.id=b.measurement_id JOIN photo h ON h.id=m.photo_id JOIN face a ON a.id=h.face_id "
    "JOIN fragment g ON g.id=a.fragment_id JOIN failure f ON f.id=g.failure_id JOIN revision v ON v.id=f.revision_id"
)
V_PART = "'p'||v.part_id"

SOURCES = (
    Source(1, "part", "part", ("b.name", "b.function", "b.fitted_where", "b.hurt_how"), "'p'||b.id"),
    Source(2, "note on the part", "part", ("b.note",), "'p'||b.id", internal=True),
    Source(3, "locked and free", "lockedfeature", ("b.what", "b.reason"), PART),
    Source(4, "revision", "revision", ("b.what_changed", "b.why"), PART),
    Source(5, "build", "build", ("b.orientation", "b.after_treatment", "b.note"), V_PART, OF_REVISION),
    Source(
        6,
        "account of the failure",
        "failure",
        (
            "b.case_label",
            *_e("found_place", "finder", "noticed_how", "happened_before", "load_words", "load_direction"),
            *_e("as_found", "also_lost", "found_sound"),
        ),
        V_PART,
        OF_REVISION + " " + _newest("failureentry", "failure_id"),
        failure="b.id",
        renewed_by=(("failureentry", "failure_id", "id"),),
    ),
    Source(
        7,
        "piece",
        "fragment",
        ("b.item_label", *_e("description", "condition", "where_found", "where_may_be", "harm_how", "collector")),
        V_PART,
        OF_FAILURE + " " + _newest("fragmententry", "fragment_id"),
        failure="b.failure_id",
        renewed_by=(("fragmententry", "fragment_id", "id"),),
    ),
    Source(
        8,
        "break site",
        "breaksite",
        ("b.name", *_e("how_known", "why_followed", "load_words")),
        V_PART,
        OF_FAILURE + " " + _newest("siteentry", "site_id"),
        failure="b.failure_id",
        renewed_by=(("siteentry", "site_id", "id"),),
    ),
    Source(9, "face", "face", ("b.name",), V_PART, OF_PIECE, failure="g.failure_id"),
    Source(
        10,
        "cleaning",
        "treatment",
        ("b.detail", "b.done_by"),
        V_PART,
        OF_PIECE,
        failure="g.failure_id",
        only=_standing("treatment"),
        renewed_by=(("treatment", "replaces_id", "id"),),
    ),
    Source(
        11,
        "change for the next build",
        "change",
        ("b.what", "b.why"),
        V_PART,
        OF_FAILURE,
        failure="b.failure_id",
        only=_standing("change"),
        renewed_by=(("change", "replaces_id", "id"),),
    ),
    Source(
        12,
        "observation",
        "observation",
        ("b.note", "b.seen_by"),
        V_PART,
        OF_FAILURE,
        failure="b.failure_id",
        only=_standing("observation"),
        renewed_by=(("observation", "replaces_id", "id"),),
        internal=True,
    ),
    Source(
        13,
        "reason of a person’s verdict",
        "personverdict",
        ("b.reason", "b.said_by"),
        V_PART,
        OF_FAILURE,
        failure="b.failure_id",
        only="AND NOT EXISTS (SELECT 1 FROM personverdict l WHERE l.failure_id=b.failure_id "
        "AND l.site_id IS b.site_id AND l.id>b.id)",
        renewed_by=(("personverdict", "failure_id", "failure_id"),),
    ),
    Source(14, "service", "service", ("b.fit_note", "b.chemicals", "b.loads"), V_PART, OF_BUILD),
    Source(
        15,
        "inspection",
        "inspection",
        ("b.note",),
        V_PART,
        "JOIN service s ON s.id=b.service_id JOIN build d ON d.id=s.build_id JOIN revision v ON v.id=d.revision_id",
    ),
    Source(16, "photo of a face", "photo", ("b.file_name", "b.note"), V_PART, OF_FACE, failure="g.failure_id"),
    Source(17, "photo as found", "photo", ("b.file_name", "b.note"), V_PART, OF_FAILURE, failure="b.failure_id"),
    Source(18, "attached file", "attachment", ("b.file_name",), V_PART, OF_REVISION),
    Source(19, "customer", "customer", ("b.name",), "'c'||b.id"),
    Source(20, "note on the customer", "customer", ("b.contact", "b.note"), "'c'||b.id", internal=True),
    Source(21, "spool", "spool", ("b.material", "b.colour", "b.lot", "b.dried_how"), "'s'||b.id"),
    Source(22, "note on the spool", "spool", ("b.note",), "'s'||b.id", internal=True),
    Source(23, "printer", "printer", ("b.name",), "'r'||b.id"),
    Source(24, "note on the printer", "printer", ("b.note",), "'r'||b.id", internal=True),
    Source(
        25,
        "load",
        "loadcase",
        ("b.name", "b.how_known", "b.source"),
        V_PART,
        OF_FAILURE,
        failure="b.failure_id",
        only=_standing("loadcase"),
        renewed_by=(("loadcase", "replaces_id", "id"),),
    ),
    Source(
        26,
        "a colleague’s opinion",
        "opinion",
        ("b.who", "b.proposal", "b.comment", "b.plan_words"),
        V_PART,
        OF_FAILURE,
        failure="b.failure_id",
        internal=True,
    ),
    Source(
        27,
        "cause of a gap",
        "gapcause",
        ("b.note", "b.who"),
        V_PART,
        OF_MEASUREMENT,
        failure="g.failure_id",
        only=_standing("gapcause"),
        renewed_by=(("gapcause", "replaces_id", "id"),),
        internal=True,
    ),
    Source(28, "chosen plan", "chosenplan", ("b.reason", "b.chosen_by"), V_PART, OF_FAILURE, failure="b.failure_id"),
)
