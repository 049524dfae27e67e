"""Forms for what stands on the shelf: printers, spools, and the customers the work is for."""

from typing import Any

from wtforms import BooleanField

from server.forms import base
from server.forms.base import Quantity, Temperature
from server.forms.record import RecordForm, past_day, record_choice, refuse_before


class CustomerForm(RecordForm):
    name = base.text("Name", required=True)
    contact = base.text("How to reach them")
    note = base.long_text("Internal note", "never printed")


class PrinterForm(RecordForm):
    name = base.text("Name on the shelf", "a name of your own, such as: tall one by the window", required=True)
    enclosed = BooleanField("Its build space is enclosed")
    nozzle_max_c = Temperature("Hottest nozzle")
    chamber_max_c = Temperature("Hottest chamber")
    note = base.long_text("Note")


class SpoolForm(RecordForm):
    material = base.text("Material", "the designation on the label, such as PETG or PA12-CF", required=True)
    colour = base.text("Colour")
    lot = base.text("Lot number")
    opened_on = past_day("Opened")
    dried_on = past_day("Last dried")
    dried_how = base.text("How it was dried", "temperature and hours")
    own_material_id = record_choice("Figures from a material of your own", "empty reads them by the designation")
    left_g = Quantity("Left on it", "g", 0, 100000)
    price_eur_kg = Quantity("Price", "€/kg", 0, 10000)
    note = base.long_text("Note")

    def validate_dried_on(self, field: Any) -> None:
        refuse_before(
            field,
            self.opened_on.data,
            "It was dried before it was opened: one of the two days is wrong, or leave “opened” empty.",
        )
