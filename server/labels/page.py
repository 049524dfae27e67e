"""What a sheet of labels shows: one for each recovered piece, one for the bag with all of them."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from fastapi import Request
from sqlmodel import Session

from server.case.current import failure_entries, fragment_entries, grouped
from server.links import address
from server.naming import failure_name
from server.pages import day
from server.records import Failure, Fragment, FragmentEntry, Part

ALL_PIECES = "all"


@dataclass(frozen=True)
class Size:
    """A label that can be bought; on a sheet there are `across` times `down` of them."""

    words: str
    across: int = 1
    down: int = 1

    @property
    def on_a_page(self) -> int:
        """How many labels fill a page."""
        return self.across * self.down


SIZES = {
    "62x29": Size("62 × 29 mm, from the roll"),
    "89x36": Size("89 × 36 mm, from the roll"),
    "50x25": Size("50 × 25 mm, from the roll"),
    "a4": Size("A4 sheet of 24, each 70 × 37 mm", 3, 8),
}


@dataclass(frozen=True)
class Label:
    """One label: which piece, what stands on it, the case's address to be typed, and the one its code holds."""

    item: str  # the piece's key, or "all"
    heading: str
    part: str
    lines: Sequence[str]
    case: str
    target: str

    @property
    def words(self) -> str:
        """Say which bag it is for."""
        return "the bag with all pieces" if self.item == ALL_PIECES else f"piece {self.heading}"


def labels_of(request: Request, session: Session, failure: Failure, part: Part, base: str) -> list[Label]:
    """Return every label that the case can have, the bag with all pieces first."""
    case = base + address(request, "failure", failure_id=failure.id)
    key = failure.id or 0
    found = f"found {day(failure_entries(session, [key])[key][-1].found_on)}"
    pieces = grouped(session, Fragment, Fragment.failure_id, [key])[key]
    said = fragment_entries(session, [piece.id for piece in pieces])
    here = [piece for piece in pieces if said[piece.id or 0][-1].status == "recovered"]
    bag = Label(ALL_PIECES, "All pieces", part.name, (failure_name(failure), found), case, case)
    return [
        bag,
        *(
            Label(
                str(piece.id),
                piece.item_label,
                part.name,
                (failure_name(failure), _collected(said[piece.id or 0][-1]) or found),
                case,
                f"{case}#piece-{piece.id}",
            )
            for piece in here
        ),
    ]


def _collected(said: FragmentEntry) -> str:
    """Say who took the piece up and when, as ASTM E1459 wants it on the bag."""
    told = [said.collector, day(said.collected_on) if said.collected_on else ""]
    return "collected " + ", ".join(text for text in told if text) if any(told) else ""


def pages_of(labels: Sequence[Label], size: Size, used: int) -> list[list[Label | None]]:
    """Return the labels page by page; None stands for a place of the first sheet that is used up already."""
    places: list[Label | None] = [*[None] * (used % size.on_a_page), *labels]
    return [places[start : start + size.on_a_page] for start in range(0, len(places), size.on_a_page)]


def chosen(labels: Sequence[Label], items: Collection[str]) -> list[Label]:
    """Return those of `labels` that were asked for."""
    return [label for label in labels if label.item in items]
