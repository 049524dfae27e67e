"""Forms for the part, what is locked on it, and its revisions."""

from typing import ClassVar

from wtforms import BooleanField

from server.forms import base
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
    what = base.text(
        "Dimension or face that must stay as it is", "such as: bore 8 mm; back face; overall height", required=True
    )
    reason = base.text("Why", required=True)


class RevisionForm(RecordForm):
    is_original = BooleanField(
        "This is the original part that is replaced", description="It is then kept as revision 0."
    )
    what_changed = base.long_text("What is different from the revision before")
    why = base.long_text("Why")
    drawn_on = past_day("Date of the drawing")
