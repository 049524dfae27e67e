"""The form of a quick entry: what one knows while the pieces still lie there."""

from datetime import date

from wtforms import BooleanField

from server.forms import base
from server.forms.record import RecordForm, past_day


class QuickForm(RecordForm):
    part = base.text("Which part", "its name; a part of the record, or a new one", required=True)
    happened = base.long_text("What happened", required=True)
    where = base.text("Where it was found")
    can_hurt = BooleanField("If it fails again, it can hurt someone")
    found_on = past_day("Found on", required=True)

    def today(self) -> None:
        """Fill in the day for a form that is shown for the first time."""
        self.found_on.data = date.today()
