"""The form that says which labels are wanted, and on what they are printed."""

from typing import Any

from wtforms import SelectMultipleField
from wtforms.validators import ValidationError
from wtforms.widgets import CheckboxInput, ListWidget

from server.forms import base
from server.forms.base import Quantity
from server.forms.record import Choice, RecordForm
from server.labels.code import AddressRefused, check_base


class LabelForm(RecordForm):
    size = Choice("Label", choices={}, default="62x29")
    items = SelectMultipleField(
        "For", choices=[], option_widget=CheckboxInput(), widget=ListWidget(prefix_label=False), validate_choice=False
    )
    base = base.text(
        "Address in the code begins with", "under which a phone or another computer opens Layerwitness", required=True
    )
    used = Quantity(
        "Places of the first sheet that are used already", "", 0, 23, whole=True, help_text="For a sheet begun before."
    )

    def validate_base(self, field: Any) -> None:
        try:
            check_base(field.data)
        except AddressRefused as error:
            raise ValidationError(str(error)) from None

    def offer(self, sizes: dict[str, str], items: dict[str, str]) -> None:
        """Give the sizes and the items to choose from, by code and words."""
        sized: Any = self.size
        sized.choices = sizes
        self.items.choices = list(items.items())
