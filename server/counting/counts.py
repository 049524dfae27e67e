"""The count by hand between the page and the record: laying the grid, keeping each judgement, finishing."""

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import func, update
from sqlmodel import Session, col, select

from analysis.common.polygons import inside
from analysis.measures.countgrid import Layout, lay_grid
from analysis.measures.facecount import CODES, FaceCount, face_count, result_of, tally
from server import __version__
from server.measuring.surroundings import measurements_of
from server.photos.keeping import current_outline, current_scale
from server.records import Photo, PointCount, PointCountDraft
from server.records.base import now

PAIRS_AT_ONCE = 40  # SQLite bounds the arguments of one function
COPIED = (
    "photo_id", "outline_id", "scale_id", "replaces_id", "seed", "field_count", "points_per_field", "layout",
    "spacing_px", "outline", "places_px", "field_of", "codes",
)  # fmt: skip


class CountRefused(ValueError):
    """What was sent can't be kept; the message says what to do."""


@dataclass(frozen=True)
class Ground:
    """What a grid is laid in: the outline that counts, or the one that the newest measurement found."""

    outline_id: int | None
    shapes: dict[str, Any]
    words: str


def ground_of(session: Session, photo: Photo) -> Ground | None:
    """Return the outline to count in; None where the photo has none yet."""
    kept = current_outline(session, photo.id)
    if kept:
        shapes = {"outer_px": kept.outer_px, "holes_px": kept.holes_px, "unknown_px": kept.unknown_px}
        return Ground(kept.id, shapes, "the outline kept with this photo")
    for measured in measurements_of(session, photo):
        outer = measured.result.get("outline_px")
        if outer:
            holes = measured.result.get("holes_px") or []
            shapes = {"outer_px": outer, "holes_px": holes, "unknown_px": [], "measurement_id": measured.id}
            return Ground(None, shapes, "the outline that the program found when it measured")
    return None


def open_draft(session: Session, photo: Photo) -> PointCountDraft | None:
    """Return the count of this photo that is under way, the newest one."""
    begun = select(PointCountDraft).where(PointCountDraft.photo_id == photo.id)
    return session.exec(begun.order_by(col(PointCountDraft.id).desc())).first()


def counts_of(session: Session, photo: Photo) -> list[PointCount]:
    """Return the finished counts of this photo, newest first, replaced ones too."""
    made = select(PointCount).where(PointCount.photo_id == photo.id)
    return list(session.exec(made.order_by(col(PointCount.id).desc())).all())


def start(
    session: Session,
    photo: Photo,
    ground: Ground,
    points_per_field: int,
    field_count: int,
    layout: Layout = "throws",
) -> PointCountDraft:
    """Lay a grid of a new seed and keep it as a draft. Raises `PointCountRefused`."""
    shapes, seed = ground.shapes, secrets.randbits(31)
    grid = lay_grid(shapes["outer_px"], shapes["holes_px"], points_per_field, field_count, seed, layout)
    scale = current_scale(session, photo.id)
    draft = PointCountDraft(
        photo_id=photo.id or 0,
        outline_id=ground.outline_id,
        scale_id=scale.id if scale else None,
        seed=grid.seed,
        field_count=field_count,
        points_per_field=points_per_field,
        layout=layout,
        spacing_px=grid.spacing_px,
        outline=shapes,
        places_px=np.round(grid.points_px, 2).tolist(),
        field_of=grid.field_of.tolist(),
        codes=_first_codes(grid.points_px, shapes["unknown_px"]),
    )
    session.add(draft)
    session.commit()
    return draft


def _first_codes(places: NDArray[np.float64], zones: Sequence[Any]) -> list[str]:
    """No code yet, but "can't tell" in the zones that a person has marked as beyond judging."""
    hidden = np.zeros(len(places), dtype=bool)
    for zone in zones:
        hidden |= inside(np.asarray(zone, dtype=np.float64), places)
    return ["u" if one else "" for one in hidden]


def sent_marks(sent: Mapping[str, Any], points: int) -> dict[int, str]:
    """Return the codes by the number of their point, from fields such as p12=b; "" takes a code back."""
    marks: dict[int, str] = {}
    for name, value in sent.items():
        if not name.startswith("p") or not name[1:].isdecimal():
            continue
        number, code = int(name[1:]), str(value)
        if number >= points or (code and code not in CODES):
            raise CountRefused("This does not belong to the count as it is kept. Load the page again.")
        marks[number] = code
    return marks


def keep_marks(session: Session, draft: PointCountDraft, marks: Mapping[int, str]) -> None:
    """Keep the codes. Each is set by the database itself, so that two open windows don't undo one another."""
    pairs = sorted(marks.items())
    for first in range(0, len(pairs), PAIRS_AT_ONCE):
        changes = [part for number, code in pairs[first : first + PAIRS_AT_ONCE] for part in (f"$[{number}]", code)]
        codes = func.json_set(col(PointCountDraft.codes), *changes)
        here = col(PointCountDraft.id) == draft.id
        session.exec(update(PointCountDraft).where(here).values(codes=codes, changed_at=now()))
    session.commit()
    session.refresh(draft)


def counted(record: PointCountDraft | PointCount) -> FaceCount:
    """Return the statistics of what is kept so far."""
    return face_count(tally(record.codes, record.field_of))


def finish(session: Session, draft: PointCountDraft, who: str, note: str) -> PointCount:
    """Make the draft a count that is never altered again. Raises `CountRefused` where no field is complete."""
    count = counted(draft)
    if not any(one.left == 0 for one in count.fields):
        raise CountRefused("No field is complete yet. Judge at least all points of one field.")
    kept = {name: getattr(draft, name) for name in COPIED}
    record = PointCount(**kept, who=who, note=note, result=result_of(count), program_version=__version__)
    session.add(record)
    session.delete(draft)
    session.commit()
    return record


def give_up(session: Session, draft: PointCountDraft) -> None:
    """Forget a draft; nothing was entered into the record yet."""
    session.delete(draft)
    session.commit()


def correct(session: Session, count: PointCount) -> PointCountDraft:
    """Open a draft with the points and codes of `count`, which it will replace."""
    kept = {name: getattr(count, name) for name in COPIED} | {"replaces_id": count.id}
    draft = PointCountDraft(**kept, who=count.who, note=count.note)
    session.add(draft)
    session.commit()
    return draft


def add_fields(session: Session, count: PointCount, more: int) -> PointCountDraft:
    """Open a draft with all of `count` and further throws of its grid; E562 pools added fields as one set of data.

    Raises `CountRefused` for a count in patches: the face is used up by them.
    """
    if count.layout != "throws":
        raise CountRefused(
            "The face was cut into patches, so there is no further field. Count again with other points."
        )
    shapes, fields = count.outline, count.field_count + more
    grid = lay_grid(shapes["outer_px"], shapes["holes_px"], count.points_per_field, fields, count.seed)
    draft = correct(session, count)
    first = len(count.codes)
    draft.field_count = fields
    draft.places_px = [*count.places_px, *np.round(grid.points_px[first:], 2).tolist()]
    draft.field_of = grid.field_of.tolist()
    draft.codes = [*count.codes, *_first_codes(grid.points_px[first:], shapes.get("unknown_px") or [])]
    session.add(draft)
    session.commit()
    return draft
