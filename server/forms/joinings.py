"""The form that chooses several photos of a face to be made one picture, and the one that withdraws it."""

from wtforms import Form, RadioField, SelectMultipleField
from wtforms.widgets import CheckboxInput, ListWidget

from server.forms.base import Quantity, text
from server.forms.options import coded


class JoiningForm(Form):
    """Which photos, what they are to each other, and what can't be read from them."""

    photos = SelectMultipleField(
        "Photos", coerce=int, choices=[], widget=ListWidget(prefix_label=False), option_widget=CheckboxInput()
    )
    kind = RadioField("What they are", choices=coded("joining_kind"), default="fields")
    um_per_px = Quantity(
        "One pixel is", "µm", low=0.01, high=1000,
        help_text="Empty: taken over from the photos where they agree, else set when the picture is prepared.",
    )  # fmt: skip
    step_um = Quantity(
        "Step of the focus", "µm", low=0.1, high=5000,
        help_text="Of a focus series, from one photo to the next. Empty: heights are told in steps only.",
    )  # fmt: skip
    order = RadioField("The first photo of the series is focused on", choices=coded("focus_order"), default="highest")


class WithdrawForm(Form):
    why = text("Why", required=True)
