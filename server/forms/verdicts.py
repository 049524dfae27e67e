"""The person's verdict and the prior."""

from wtforms import Field, Form, SelectField
from wtforms.validators import InputRequired, ValidationError

from server.forms import base
from server.forms.base import Quantity
from server.forms.options import options
from server.wording import CODES


class PersonVerdictForm(Form):
    """What the person concludes; `programs` is the program's own, which a differing one must be reasoned against."""

    mode = SelectField(
        "Your conclusion",
        choices=options([("", "choose"), *CODES["mode"].items()]),
        default="",
        validators=[InputRequired("Choose one.")],
    )
    reason = base.long_text("Why", "asked for where you differ from the program; kept with both")
    said_by = base.text("Who concludes this", required=True)
    programs = ""

    def validate_said_by(self, field: Field) -> None:
        """Spaces are no name."""
        if not field.data:
            raise ValidationError("Say who concludes this.")

    def validate(self, extra_validators: object = None) -> bool:
        """Demand a reason where the person differs from the program."""
        sound: bool = super().validate()
        if self.mode.data and self.mode.data != self.programs and not (self.reason.data or "").strip():
            program = CODES["mode"].get(self.programs, self.programs)
            self.reason.errors = [*self.reason.errors, f"The program says {program}. Say why you conclude otherwise."]
            return False
        return sound


def _above_zero(form: Form, field: Quantity) -> None:
    if field.data is not None and field.data <= 0:
        raise ValidationError(
            "Give a share above 0, however small: a mode at 0 could never be found, whatever is seen."
        )


class PriorForm(Form):
    """Shares over the four modes; any positive numbers, scaled to sum 1."""

    name = base.text("Name", "so that a verdict can say which prior it was made with", required=True)
    reason = base.long_text("Why these shares", "such as: counts of our own log, 2024 to 2026")
    layer_delamination = Quantity("Layer delamination", "", -1e6, 1e6, required=True)
    under_extrusion = Quantity("Under-extrusion", "", -1e6, 1e6, required=True)
    overload = Quantity("Overload", "", -1e6, 1e6, required=True)
    interference_rub = Quantity("Interference rub", "", -1e6, 1e6, required=True)

    def validate_name(self, field: Field) -> None:
        """Spaces are no name."""
        if not field.data:
            raise ValidationError("Give it a name.")

    def validate_layer_delamination(self, field: Quantity) -> None:
        """Refuse 0 and less."""
        _above_zero(self, field)

    def validate_under_extrusion(self, field: Quantity) -> None:
        """Refuse 0 and less."""
        _above_zero(self, field)

    def validate_overload(self, field: Quantity) -> None:
        """Refuse 0 and less."""
        _above_zero(self, field)

    def validate_interference_rub(self, field: Quantity) -> None:
        """Refuse 0 and less."""
        _above_zero(self, field)


class WeightsForm(Form):
    """Who weighs with the log's counts from now on, and why."""

    chosen_by = base.text("Who decides this", required=True)
    reason = base.long_text("Why", "such as: two years of our own cases, checked by a second person")

    def validate_chosen_by(self, field: Field) -> None:
        """Spaces are no name."""
        if not field.data:
            raise ValidationError("Say who decides this.")
