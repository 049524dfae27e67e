"""The form of one question, and what holds for all answers of one sitting."""

from wtforms import Field, Form, RadioField, SelectField
from wtforms.validators import ValidationError

from server.forms import base
from server.forms.options import coded, options
from server.wording import CODES


class AnswerForm(Form):
    """Yes, no or can't tell, with a note and the photo it was seen on."""

    answer = RadioField("Seen?", choices=coded("answer"), validate_choice=False)
    note = base.text("Note", "internal, never printed for a customer")
    photo = SelectField("Seen on", choices=options([("", "as chosen at the top")]), default="")

    def offer(self, photos: list[tuple[str, str]]) -> None:
        """Let a person choose among `photos`."""
        self.photo.choices = options([("", "as chosen at the top, or the part itself"), *photos])

    def validate_answer(self, field: RadioField) -> None:
        """A radio button that was never touched sends nothing; anything else must be one of the three."""
        if field.data in (None, "None"):
            field.data = ""
        if field.data and field.data not in CODES["answer"]:
            raise ValidationError("Choose yes, no or can't tell.")


class LookForm(Form):
    """Who looked, and at what."""

    seen_by = base.text("Who looked", "stands beside each answer that is new or changed", required=True)
    photo = SelectField("New answers were seen on", choices=options([("", "the part itself")]), default="")

    def validate_seen_by(self, field: Field) -> None:
        """Spaces are no name."""
        if not field.data:
            raise ValidationError("Say who looked.")

    def offer(self, photos: list[tuple[str, str]]) -> None:
        """Let a person choose among `photos`."""
        self.photo.choices = options([("", "the part itself"), *photos])
