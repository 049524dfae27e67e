"""The fields that forms are made of: bounded text, numbers with their unit, temperatures that demand C or F."""

import re
from typing import Any

from fastapi import Request
from starlette.datastructures import FormData
from wtforms import DateField, Field, Form, StringField, TextAreaField
from wtforms.validators import DataRequired, InputRequired, Length, Optional, ValidationError
from wtforms.widgets import TextInput

SHORT, LONG = 200, 8000
NUMBER = re.compile(r"\s*([+-]?\d{1,9}(?:[.,]\d{1,9})?)\s*([^\d\s].*)?")


async def read_form(request: Request) -> FormData:
    """Return what the browser sent; for use as a dependency, so that handlers stay out of the event loop."""
    return await request.form(max_files=200, max_fields=2000)


def text(label: str, help_text: str = "", *, required: bool = False) -> Any:
    """Return a one-line field."""
    return StringField(label, _rules(SHORT, required), filters=[_clean], description=help_text)


def long_text(label: str, help_text: str = "", *, required: bool = False) -> Any:
    """Return a field of several lines."""
    return TextAreaField(label, _rules(LONG, required), filters=[_clean], description=help_text)


def day(label: str, help_text: str = "", *, required: bool = False) -> Any:
    """Return a date field."""
    rule = InputRequired("Give the date.") if required else Optional()
    return DateField(label, [rule], description=help_text)


def _rules(longest: int, required: bool) -> list[Any]:
    # Not InputRequired: spaces alone are input to it, and would leave a record without a name.
    first = DataRequired("Write something here.") if required else Optional()
    return [first, Length(max=longest, message=f"At most {longest} characters fit here.")]


def _clean(value: str | None) -> str:
    # NUL can't be stored as text everywhere; it never comes from a keyboard.
    return (value or "").replace("\x00", "").strip()


class Quantity(Field):
    """A number in one stated unit; "0,4", "0.4" and "0.4 mm" all read as 0.4. Another unit is refused by name."""

    widget = TextInput()

    def __init__(
        self,
        label: str,
        unit: str,
        low: float,
        high: float,
        whole: bool = False,
        required: bool = False,
        help_text: str = "",
        **kwargs: Any,
    ):
        self.unit, self.low, self.high, self.whole = unit, low, high, whole
        rule = InputRequired(f"Give the number in {unit or 'figures'}.") if required else Optional()
        super().__init__(label, [rule], description=help_text, **kwargs)

    def _value(self) -> str:
        if self.raw_data:
            return str(self.raw_data[0])
        return "" if self.data is None else f"{self.data:g}"

    def process_formdata(self, valuelist: list[str]) -> None:
        """Read what was typed; raise what is wrong with it."""
        if not valuelist or not valuelist[0].strip():
            self.data = None
            return
        self.data = None
        match = NUMBER.fullmatch(valuelist[0])
        if not match:
            raise ValueError(f"“{valuelist[0][:40]}” is not a number. Write it as 0.4 or 0,4.")
        self.data = self._convert(float(match[1].replace(",", ".")), (match[2] or "").strip())

    def _convert(self, value: float, unit: str) -> float | int:
        if unit and unit.casefold() != self.unit.casefold():
            raise ValueError(f"Give this in {self.unit or 'plain figures'}, not in “{unit[:20]}”.")
        if not self.low <= value <= self.high:
            raise ValueError(f"{value:g} is out of range: {self.low:g} to {self.high:g} {self.unit} can be entered.")
        if self.whole:
            if value != int(value):
                raise ValueError("Give a whole number.")
            return int(value)
        return value


class Temperature(Quantity):
    """A temperature kept in degrees Celsius. The unit has to be typed, as 85 C or 185 F: people mix them."""

    def __init__(
        self,
        label: str,
        required: bool = False,
        help_text: str = "",
        low: float = -100,
        high: float = 600,
        **kwargs: Any,
    ):
        help_text = help_text or "with its unit, such as 85 C or 185 F"
        super().__init__(label, "C", low, high, required=required, help_text=help_text, **kwargs)

    def _value(self) -> str:
        typed = super()._value()
        return f"{typed} C" if typed and not self.raw_data else typed

    def _convert(self, value: float, unit: str) -> float:
        letter = unit.replace("°", "").strip().upper()
        if letter not in {"C", "F"}:
            raise ValueError(f"Say whether {value:g} is in C or F, such as {value:g} C.")
        celsius = value if letter == "C" else (value - 32) * 5 / 9
        return super()._convert(round(celsius, 1), "")


def not_before(form: Form, field: Field, earlier: str, words: str) -> None:
    """Raise where the date in `field` lies before the one in the form's field `earlier`."""
    first = form[earlier].data
    if first and field.data and field.data < first:
        raise ValidationError(words)
