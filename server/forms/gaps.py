"""The form of one gap: what was looked at, and the cause."""

from typing import Any, ClassVar

from analysis.measures.gapcause import QUESTIONS
from server.forms import base
from server.forms.record import Choice, RecordForm, choice
from server.wording import CODES


class GapCauseForm(RecordForm):
    model = choice("Does the model have material there?", "asked", "look at the drawing or the model")
    toolpath = choice("Did the toolpath want a road there?", "asked", "look at the sliced layer at this height")
    seam = choice("Is it at the seam, or where a road begins?", "asked", "the preview of the toolpath shows both")
    walls = choice("Is it missing on the neighbouring walls too?", "asked")
    layers = choice("Is it missing on other layers too?", "asked", "look at the face from the side, and at the mate")
    outside = choice("Does the outside show it?", "asked", "a notch, a dip or a slit in the surface at this place")
    cause = Choice(
        "Cause",
        choices={"": "what the answers point to"} | CODES["gap_cause"],
        default="",
    )
    note = base.long_text("Note", "internal, never printed for a customer")
    who = base.text("Who looked", required=True)

    groups: ClassVar = [("Look", list(QUESTIONS)), ("The cause", ["cause", "who", "note"])]

    def answers(self) -> dict[str, Any]:
        """Return what was answered, without what was not looked at."""
        return {name: self[name].data for name in QUESTIONS if self[name].data}
