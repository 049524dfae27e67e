"""Forms of the count by hand: how fine, and by whom."""

from wtforms import Form, RadioField

from server.forms.base import Quantity, long_text, text
from server.forms.options import coded


class CountStartForm(Form):
    points_per_field = Quantity(
        "Points per field",
        "",
        low=4,
        high=100,
        whole=True,
        required=True,
        help_text="16 or 25 where more than a tenth is bonded, 49 below that, 100 below a twentieth.",
    )
    field_count = Quantity(
        "Fields",
        "",
        low=1,
        high=30,
        whole=True,
        required=True,
        help_text="Their spread gives the interval: two at least, better five or more.",
    )
    layout = RadioField("Each field is", choices=coded("count_layout"), default="throws")


class CountMoreForm(Form):
    more = Quantity("Fields to add", "", low=1, high=30, whole=True, required=True)


class CountFinishForm(Form):
    who = text("Counted by")
    note = long_text("Note", "Light, magnification, what was hard to tell.")
