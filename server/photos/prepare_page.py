"""What the page that prepares a photo shows."""

from typing import Any

from sqlmodel import Session

from server.forms.photos import PrepareForm
from server.measuring.surroundings import measurements_of, open_job, surroundings
from server.photos.face_page import trail_of
from server.photos.keeping import current_outline, current_scale
from server.photos.preparing import is_unsaved, read_rings
from server.records import Photo


def prepare_page(session: Session, photo: Photo, form: PrepareForm) -> dict[str, Any]:
    """Return the form with what is around it; the shapes in the form are drawn even where they can't be used."""
    around, outline = surroundings(session, photo), current_outline(session, photo.id)
    return {
        "title": f"Prepare {photo.file_name}",
        "trail": trail_of(session, around.face),
        "photo": photo,
        "face": around.face,
        "form": form,
        "errors": sum(1 for field in form if field.errors),
        "scale": current_scale(session, photo.id),
        "outline": outline,
        "has_unsaved": is_unsaved(form, outline),
        "drawn": {name: svg_rings(form[name].data) for name in ("outer_px", "holes_px", "unknown_px")},
        "measurements": measurements_of(session, photo),
        "job": open_job(session, photo),
        "has_mates": bool(around.mates),
    }


def svg_rings(text: str | None) -> list[str]:
    """Return the shapes in a text as SVG points, for the picture without a script; none where it can't be read."""
    try:
        rings = read_rings(text, "")
    except ValueError:
        return []
    return [" ".join(f"{x:g},{y:g}" for x, y in ring) for ring in rings]
