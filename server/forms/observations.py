"""The form of one question, and what holds for all answers of one sitting."""

from wtforms import Form, RadioField, SelectField
from wtforms.validators import ValidationError

from server.forms import base
from server.wording import choices


class AnswerForm(Form):
    """Yes, no or can't tell, with a note and the photo it was seen on."""

    answer = RadioField("Seen?", choices=choices("answer"), validate_choice=False)
    note = base.text("Note", "internal, never printed for a customer")
    photo = SelectField("Seen on", choices=[("", "as chosen at the top")], default="")

    def offer(self, photos: list[tuple[str, str]]) -> None:
        """Let a person choose among `photos`."""
        self.photo.choices = [("", "as chosen at the top, or the part itself"), *photos]

    def validate_answer(self, field: RadioField) -> None:
        """A radio button that was never touched sends nothing; anything else must be one of the three."""
        if field.data in (None, "None"):
            field.data = ""
        if field.data and field.data not in dict(choices("answer")):
            raise ValidationError("Choose yes, no or can't tell.")


class LookForm(Form):
    """Who looked, and at what."""

    seen_by = base.text("Who looked", "stands beside each answer that is new or changed", required=True)
    photo = SelectField("New answers were seen on", choices=[("", "the part itself")], default="")

    def offer(self, photos: list[tuple[str, str]]) -> None:
        """Let a person choose among `photos`."""
        self.photo.choices = [("", "the part itself"), *photos]
