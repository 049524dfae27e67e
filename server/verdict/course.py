"""How the break went over each face of a scope, beside the verdict: it says where and which way, not why."""

from dataclasses import dataclass

from fastapi import Request
from sqlmodel import Session

from analysis.evidence.catalogue import load_catalogue
from server.links import address
from server.measuring.course import told
from server.verdict.answers import current_answers
from server.verdict.scope import Scope, faces_of, latest_records

LOOKED_FOR = ("drawn_lips", "whitening_last_ligament")  # answers whose notes may say where it hung last


@dataclass(frozen=True)
class FaceCourse:
    """A face's sentence, or why there is none, and the measurement that it comes from."""

    face: str
    sentence: str
    why: str
    address: str


def courses(request: Request, session: Session, scope: Scope) -> list[FaceCourse]:
    """What the newest measurement of each fracture face says."""
    found = []
    for face, record in latest_records(session, faces_of(session, scope)):
        if record.result.get("surface") == "outer":
            continue
        course = told(record.result)
        here = address(request, "measurement", measurement_id=record.id)
        found.append(FaceCourse(face.name, course.sentence, course.why, f"{here}#course-title"))
    return found


def where_seen(session: Session, scope: Scope) -> list[tuple[str, str]]:
    """What a person saw of the last ligament, in the question's words and their own: to be held against the course."""
    answers, asked = current_answers(session, scope), load_catalogue().observations
    held = [(asked[code].words, answers[code]) for code in LOOKED_FOR if code in answers and code in asked]
    return [(words, entry.note or "seen, without a place") for words, entry in held if entry.answer == "yes"]
