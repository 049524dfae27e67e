"""What the pages of a picture made of several photos show."""

import cmath
import math
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, select

from analysis.fields.focus import FEWEST_SLICES, MOST_SLICES
from analysis.fields.stitch import MOST_CAPTURES
from server.forms.joinings import JoiningForm, WithdrawForm
from server.joining.pictures import height_range, heights
from server.joining.working import photos_of
from server.photos.face_page import cards_of, trail_of
from server.records import Face, Job, Joining, Photo
from server.store import Store

HEADINGS = {"fields": "One picture of {} fields", "focus": "One sharp picture of {} photos"}


@dataclass(frozen=True)
class Member:
    """A photo with how it lies in the picture."""

    number: int
    photo: Photo
    shift_px: tuple[float, float]
    turn_deg: float
    grown_percent: float


@dataclass(frozen=True)
class Pair:
    """What remains between two of the photos."""

    first: int
    second: int
    px: float
    um: float | None
    shared: float | None


def heading(joining: Joining) -> str:
    """Name the picture by what it was made of."""
    return HEADINGS[joining.kind].format(len(joining.photo_ids))


def choose_page(session: Session, face: Face, form: JoiningForm) -> dict[str, Any]:
    """Return what the choosing shows: the face's photos, and what was made before, withdrawn ones too."""
    cards = cards_of(session, face)
    before = session.exec(select(Joining).where(Joining.face_id == face.id).order_by(col(Joining.id).desc())).all()
    return {
        "title": "One picture of several photos",
        "trail": trail_of(session, face),
        "face": face,
        "form": form,
        "cards": cards,
        "before": [(heading(one), one) for one in before if one.photo_id],
        "most": {"fields": MOST_CAPTURES, "focus": MOST_SLICES, "least": FEWEST_SLICES},
    }


def joined_page(session: Session, store: Store, joining: Joining, form: WithdrawForm) -> dict[str, Any]:
    """Return what the page of a picture shows; without a picture, its job."""
    face = session.get_one(Face, joining.face_id)
    photos = photos_of(session, joining)
    um = joining.um_per_px
    pairs = [
        Pair(lap["first"] + 1, lap["second"] + 1, lap["px"], lap["px"] * um if um else None, lap.get("shared"))
        for lap in joining.residuals
    ]
    return {
        "title": heading(joining),
        "trail": trail_of(session, face),
        "face": face,
        "joining": joining,
        "job": session.get(Job, joining.job_id) if joining.job_id else None,
        "picture": session.get(Photo, joining.photo_id) if joining.photo_id else None,
        "members": _members(photos, joining),
        "pairs": pairs,
        "worst": max(pairs, key=lambda pair: pair.px, default=None),
        "aside": [(a + 1, b + 1) for a, b in joining.facts.get("set_aside", [])],
        "heights": _heights(store, joining) if joining.kind == "focus" and joining.photo_id else None,
        "form": form,
    }


def _members(photos: list[Photo], joining: Joining) -> list[Member]:
    placements = joining.placements or [[1.0, 0.0, 0.0, 0.0]] * len(photos)
    found = []
    for number, (photo, (re, im, x, y)) in enumerate(zip(photos, placements, strict=True), 1):
        turn = complex(re, im)
        turn_deg, grown = round(math.degrees(cmath.phase(turn)), 2) + 0.0, round(100 * (abs(turn) - 1), 2) + 0.0
        found.append(Member(number, photo, (round(x, 1) + 0.0, round(y, 1) + 0.0), turn_deg, grown))
    return found


def _heights(store: Store, joining: Joining) -> dict[str, Any]:
    """The two ends of the height picture's ramp, in mm where the step is known, and the levels as a sentence."""
    low, high = height_range(heights(store, joining))
    unit, step = ("mm", joining.step_um / 1000) if joining.step_um else ("steps", 1.0)
    return {
        "low": low * step,
        "high": high * step,
        "unit": unit,
        "known": joining.facts["known_share"],
        "beyond": joining.facts["beyond_share"],
        "levels": joining.facts.get("levels"),
    }
