"""Forms for the part, what is locked on it, and its revisions."""

from collections.abc import Iterator
from typing import Any, ClassVar

from wtforms import BooleanField

from server.forms import base
from server.forms.base import Quantity
from server.forms.record import RecordForm, choice, past_day, record_choice


class PartForm(RecordForm):
    name = base.text("Name of the part", required=True)
    function = base.long_text("What it does")
    fitted_where = base.text("Where it is fitted")
    access = choice("Getting at it again", "access")
    customer_id = record_choice("Customer")
    can_hurt = BooleanField(
        "Its failure can hurt someone", description="Cautions are then shown on every page and on the summary."
    )
    hurt_how = base.text("How it could hurt")
    note = base.long_text("Internal note", "never printed for a customer")

    groups: ClassVar = [
        ("The part", ["name", "function", "fitted_where", "access", "customer_id"]),
        ("If it fails", ["can_hurt", "hurt_how"]),
        ("For the bench only", ["note"]),
    ]


class LockedFeatureForm(RecordForm):
    what = base.text("Dimension, face or region", "such as: bore 8 mm; back face; underside of the hook", required=True)
    standing = choice("May it change", "standing", default="locked")
    reason = base.text("Why it is locked", "what it fits, or who decided it")
    kind = choice("What growing there would be", "room", default="dimension")
    room_mm = Quantity("Room to grow", "mm", 0, 1000, help_text="measured; leave empty where nobody has measured it")

    groups: ClassVar = [
        ("The region", ["what", "standing", "reason"]),
        ("Room for changes", ["kind", "room_mm"]),
    ]

    def missing_together(self) -> Iterator[tuple[str, str]]:
        if self.standing.data == "locked" and not self.reason.data:
            yield "reason", "Say why it must stay as it is: the plan for the next build names the reason."
        if self.standing.data == "locked" and self.room_mm.data:
            yield "room_mm", "A locked region has no room. Leave this empty, or say that the region is free."

    def said(self) -> dict[str, Any]:
        """Return what the record keeps."""
        said = {name: value for name, value in self.data.items() if name != "standing"}
        return said | {"is_free": self.standing.data == "free"}


class RevisionForm(RecordForm):
    is_original = BooleanField(
        "This is the original part that is replaced", description="It is then kept as revision 0."
    )
    what_changed = base.long_text("What is different from the revision before")
    why = base.long_text("Why")
    drawn_on = past_day("Date of the drawing")
