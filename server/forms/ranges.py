"""Fields for what is known as a range, with the unit that people would mix up, and for a direction on a photo."""

import re
from collections.abc import Mapping
from typing import Any

from wtforms import Field
from wtforms.validators import InputRequired, Optional
from wtforms.widgets import TextInput

Range = tuple[float, float]
NUMBER = r"([+-]?\d{1,9}(?:[.,]\d{1,9})?)"
RANGE = re.compile(rf"\s*{NUMBER}\s*([^\d\s.,+-][^\d\s]*)?\s*(?:(?:to|–|—|-|\.\.|…)\s*{NUMBER}\s*(\S.*?)?)?\s*")
CLOCK = re.compile(r"\s*(\d{1,2})(?:[:.](\d{2}))?\s*(?:h|o\W?clock|on the clock)?\s*", re.IGNORECASE)
DEGREES = re.compile(rf"\s*{NUMBER}\s*(?:°|deg|degrees?)\s*", re.IGNORECASE)

# Pound-force and kilogram-force as exactly defined: 0.45359237 kg times the standard gravity of 9.80665 m/s2 (NIST
# SP 811, appendix B).
FORCES = {"n": 1.0, "kn": 1000.0, "kgf": 9.80665, "kp": 9.80665, "lbf": 4.4482216152605}
STRESSES = {"mpa": 1.0, "n/mm2": 1.0, "n/mm²": 1.0, "psi": 0.006894757293168}  # SP 811 too
MASSES = {"kg": "kgf", "g": "N", "lb": "lbf", "lbs": "lbf", "pound": "lbf", "pounds": "lbf"}


class RangeField(Field):
    """Low and high in one line, such as "150 to 400 N"; its data are (low, high) in the house's unit.

    `units` : casefolded unit -> factor. With `needs_unit` a number alone is refused; else it is in the house's unit.
    One figure alone stands for a value that is known exactly.
    """

    widget = TextInput()

    def __init__(
        self,
        label: str,
        units: Mapping[str, float],
        shown: str,
        bounds: Range,
        needs_unit: bool = False,
        required: bool = False,
        help_text: str = "",
        **kwargs: Any,
    ):
        self.units, self.shown, self.bounds, self.needs_unit = units, shown, bounds, needs_unit
        rule = InputRequired("Give it as a range, low to high.") if required else Optional()
        super().__init__(label, [rule], description=help_text, **kwargs)

    def typed(self) -> str:
        """Return what the person wrote."""
        return str(self.raw_data[0]).strip() if self.raw_data else ""

    def _value(self) -> str:
        if self.raw_data:
            return str(self.raw_data[0])
        if self.data is None:
            return ""
        unit = f" {self._house_unit()}" if self.needs_unit else ""
        return range_words(self.data) + unit

    def process_formdata(self, valuelist: list[str]) -> None:
        """Read what was typed; raise what is wrong with it."""
        self.data = None
        if not valuelist or not valuelist[0].strip():
            return
        text = valuelist[0]
        match = RANGE.fullmatch(text)
        if not match:
            raise ValueError(f"“{text[:40]}” is no range. Write it as {self._example()}.")
        first, high, unit_low, unit_high = match[1], match[3] or match[1], match[2] or "", match[4] or ""
        unit = unit_high or unit_low
        if unit_low and unit_high and unit_low.casefold() != unit_high.casefold():
            raise ValueError(f"Both ends need the same unit, not {unit_low[:20]} and {unit_high[:20]}.")
        factor = self._factor(unit.strip())
        self.data = self._judged(_number(first) * factor, _number(high) * factor)

    def _factor(self, unit: str) -> float:
        if not unit:
            if self.needs_unit:
                raise ValueError(f"Say in which unit: {self.shown}. A number alone is not taken, for people mix them.")
            return 1.0
        if unit.casefold() in self.units:
            return self.units[unit.casefold()]
        if self.units is FORCES and unit.casefold() in MASSES:
            raise ValueError(f"{unit[:20]} is a mass. Write {MASSES[unit.casefold()]} if its weight is meant.")
        raise ValueError(f"Give this in {self.shown or 'plain figures'}, not in “{unit[:20]}”.")

    def _judged(self, low: float, high: float) -> Range:
        least, most = self.bounds
        for value in (low, high):
            if not least <= value <= most:
                bounds = f"{least:g} to {most:g} {self._house_unit()}".strip()
                raise ValueError(f"{value:.6g} is out of range: {bounds} can be entered.")
        if low > high:
            raise ValueError(f"The range is upside down: {low:.4g} is more than {high:.4g}. Write the lower end first.")
        return (low, high)

    def _house_unit(self) -> str:
        return self.shown.split()[0].rstrip(",") if self.shown else ""

    def _example(self) -> str:
        unit = f" {self._house_unit()}" if self.shown else ""
        return f"3 to 8{unit}"


def range_words(data: Range) -> str:
    """Write a range with the figures that matter."""
    low, high = (f"{value:.4g}" if abs(value) < 10000 else f"{value:.0f}" for value in data)
    return low if low == high else f"{low} to {high}"


def _number(text: str) -> float:
    return float(text.replace(",", "."))


class PhotoDirection(Field):
    """A direction on a photo, in degrees from right (3 on a clock) clockwise; read from a clock's hour or degrees.

    "12:00" or "12 o'clock" is up, "4:30" right and down; "45°" counts clockwise from the right, as pages show angles.
    """

    widget = TextInput()

    def __init__(self, label: str, help_text: str = "", **kwargs: Any):
        super().__init__(label, [Optional()], description=help_text, **kwargs)

    def typed(self) -> str:
        """Return what the person wrote."""
        return str(self.raw_data[0]).strip() if self.raw_data else ""

    def _value(self) -> str:
        if self.raw_data:
            return str(self.raw_data[0])
        return "" if self.data is None else clock_words(self.data)

    def process_formdata(self, valuelist: list[str]) -> None:
        """Read what was typed; raise what is wrong with it."""
        self.data = None
        if not valuelist or not valuelist[0].strip():
            return
        text = valuelist[0]
        if match := DEGREES.fullmatch(text):
            value = _number(match[1])
            if abs(value) > 360:
                raise ValueError(f"{value:g}° is more than a full turn.")
            self.data = value % 360
            return
        match = CLOCK.fullmatch(text)
        if not match or text.strip().isdecimal():
            raise ValueError(f"“{text[:40]}” is no direction. Write a clock's hour, as 4:30, or degrees, as 45°.")
        hour, minute = int(match[1]), int(match[2] or 0)
        if not 1 <= hour <= 12 or minute > 59:
            raise ValueError(f"There is no {text.strip()[:10]} on a clock's face: 1:00 to 12:59.")
        self.data = ((hour + minute / 60 - 3) * 30) % 360


def clock_words(azimuth_deg: float) -> str:
    """Write a direction on a photo as the hour to which it points, to the minute."""
    minutes = round((azimuth_deg / 30 + 3) % 12 * 60) % 720
    return f"{minutes // 60 or 12}:{minutes % 60:02d}"
