"""Mating faces: each of two names the other, and no face has two mates."""

from sqlmodel import Session, col, or_, select

from server.records import Face, Failure, Fragment


def free_faces(session: Session, failure: Failure, face: Face | None = None) -> list[Face]:
    """Return the fracture faces of `failure` that `face` may be paired with: without a mate, or its own mate."""
    mine = face.id if face else None
    query = (
        select(Face)
        .join(Fragment, col(Face.fragment_id) == col(Fragment.id))
        .where(Fragment.failure_id == failure.id, Face.surface == "fracture")
        .where(or_(col(Face.mate_face_id).is_(None), col(Face.mate_face_id) == mine))
        .order_by(col(Face.id))
    )
    return [other for other in session.exec(query).all() if other.id != mine]


def pair(session: Session, face: Face, mate_id: int | None) -> None:
    """Let `face` and the face `mate_id` name each other; None parts `face` from the mate it had."""
    for other in session.exec(select(Face).where(Face.mate_face_id == face.id)).all():
        if other.id != mate_id:
            other.mate_face_id = None
            session.add(other)
    face.mate_face_id = mate_id
    mate = session.get(Face, mate_id) if mate_id else None
    if mate:
        mate.mate_face_id = face.id
        session.add(mate)
    session.add(face)
