"""Forms for own materials, supply, torn bars and the place where a part is used."""

import re
from collections.abc import Iterator
from typing import Any, ClassVar

from wtforms import BooleanField, TextAreaField
from wtforms.validators import InputRequired

from analysis.materials.library import AGENTS
from server.forms import base
from server.forms.base import Quantity, Temperature
from server.forms.ranges import FORCES, NUMBER, RANGE, STRESSES, Range, RangeField
from server.forms.record import RecordForm, choice, past_day, record_choice

BAR = re.compile(
    rf"\s*{NUMBER}\s*([a-z]+)?\s*[;:,]?\s+{NUMBER}\s*(mm)?\s*[x×*]\s*{NUMBER}\s*(\S+)?\s*(?:[;,]\s*(.*))?", re.I
)
MOST_BARS = 60
FORCE_BOUNDS_N, SIDE_BOUNDS_MM = (0.1, 1e6), (0.2, 100.0)
AGENT_LABELS = {code: f"{words[0].upper()}{words[1:]}" for code, words in AGENTS.items()}
CELSIUS = {"c": (1.0, 0.0), "f": (5 / 9, -160 / 9)}


class TemperatureRange(RangeField):
    """Two temperatures, kept in degrees Celsius; the unit has to be typed, as 60 to 70 C or 140 to 158 F."""

    def __init__(self, label: str, bounds: Range = (-100, 600), help_text: str = "", **kwargs: Any):
        super().__init__(label, {}, "C or F", bounds, needs_unit=True, help_text=help_text, **kwargs)

    def process_formdata(self, valuelist: list[str]) -> None:
        """Read what was typed; raise what is wrong with it."""
        self.data = None
        if not valuelist or not valuelist[0].strip():
            return
        match = RANGE.fullmatch(valuelist[0])
        if not match:
            raise ValueError(f"“{valuelist[0][:40]}” is no range. Write it as 60 to 70 C.")
        units = {unit.replace("°", "").strip().casefold() for unit in (match[2], match[4]) if unit}
        if len(units) != 1 or not units <= set(CELSIUS):
            raise ValueError("Say whether this is in C or F, such as 60 to 70 C.")
        factor, shift = CELSIUS[units.pop()]
        ends = [float(text.replace(",", ".")) * factor + shift for text in (match[1], match[3] or match[1])]
        self.data = self._judged(round(ends[0], 1), round(ends[1], 1))


class BarsField(TextAreaField):
    """Torn bars, one a line: force with its unit, width x thickness with theirs, and a note after a semicolon.

    `data` is the text as written, `bars` what it says.
    """

    def __init__(self, label: str, help_text: str = "", **kwargs: Any):
        rule = InputRequired("Give at least one bar: its force at break and its section.")
        super().__init__(label, [rule], description=help_text, **kwargs)

    bars: list[dict[str, Any]]

    def typed(self) -> str:
        """Return what the person wrote."""
        return str(self.raw_data[0]).replace("\x00", "").strip() if self.raw_data else ""

    def process_formdata(self, valuelist: list[str]) -> None:
        """Read the lines; raise the number of the first that is wrong, and how to write it."""
        self.data, self.bars = "", []
        lines = [line for line in (valuelist[0] if valuelist else "").replace("\x00", "").splitlines() if line.strip()]
        if len(lines) > MOST_BARS:
            raise ValueError(f"At most {MOST_BARS} bars fit in one test.")
        if lines:
            self.data = self.typed()
            self.bars = [_bar(number, line) for number, line in enumerate(lines, 1)]


def _bar(number: int, line: str) -> dict[str, Any]:
    match = BAR.fullmatch(line)
    if not match:
        raise ValueError(f"Line {number}, “{line.strip()[:40]}”: write it as 820 N, 10.1 x 4.0 mm; a note.")
    force, unit, width, first_mm, thickness, mm, note = match.groups()
    if not unit:
        raise ValueError(f"Line {number}: say in which unit the force is: N, kgf or lbf.")
    if unit.casefold() not in FORCES:
        raise ValueError(f"Line {number}: give the force in N, kgf or lbf, not in “{unit[:10]}”.")
    if (mm or first_mm or "").casefold() != "mm":
        raise ValueError(f"Line {number}: give the section in mm, and write mm behind it.")
    force_n = _number(force) * FORCES[unit.casefold()]
    sides = [_number(width), _number(thickness)]
    if not FORCE_BOUNDS_N[0] <= force_n <= FORCE_BOUNDS_N[1]:
        raise ValueError(f"Line {number}: {force_n:.4g} N can’t be the strength of a bar.")
    if not all(SIDE_BOUNDS_MM[0] <= side <= SIDE_BOUNDS_MM[1] for side in sides):
        raise ValueError(f"Line {number}: a section of {sides[0]:g} × {sides[1]:g} mm can’t be.")
    return {"force_n": force_n, "width_mm": sides[0], "thickness_mm": sides[1], "note": (note or "").strip()[:200]}


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _percent(label: str, help_text: str = "", most: float = 100) -> RangeField:
    return RangeField(label, {"%": 1.0}, "%", (0, most), help_text=help_text)


class OwnMaterialForm(RecordForm):
    name = base.text("Name", "your own, such as: grey PETG of the second supplier", required=True)
    designation = base.text("Designation", "as on the label, such as PA6-GF25")
    kind = choice(
        "Kind of polymer", "material_kind", "amorphous softens at its glass transition, semicrystalline towards melting"
    )
    in_plane_mpa = RangeField(
        "Strength of flat bars", STRESSES, "MPa or psi", (0.1, 1000), needs_unit=True, help_text="such as 38 to 45 MPa"
    )
    z_ratio = RangeField(
        "Upright over flat bars", {}, "", (0.01, 1.5), help_text="both on their outside section, such as 0.5 to 0.7"
    )
    glass_c = TemperatureRange("Glass transition", help_text="such as 60 to 70 C")
    melting_c = TemperatureRange("Melting")
    hdt_045_c = TemperatureRange("Heat deflection at 0.45 MPa", help_text="ISO 75 or ASTM D648")
    hdt_180_c = TemperatureRange("Heat deflection at 1.8 MPa")
    continuous_c = TemperatureRange("Continuous use")
    uptake_saturated_percent = _percent("Water taken up when soaked", "in % of its mass")
    nozzle_c = TemperatureRange("Nozzle")
    chamber_c = TemperatureRange("Chamber")
    dry_c = TemperatureRange("Drying")
    dry_h = RangeField("Drying time", {"h": 1.0}, "h", (0.1, 200), help_text="in hours")
    density_g_cm3 = RangeField("Density", {"g/cm3": 1.0, "g/cm³": 1.0}, "g/cm³", (0.3, 10), help_text="in g/cm³")
    chem_oil = choice(AGENT_LABELS["chem_oil"], "chem_rating")
    chem_petrol = choice(AGENT_LABELS["chem_petrol"], "chem_rating")
    chem_alcohol = choice(AGENT_LABELS["chem_alcohol"], "chem_rating")
    chem_ketone = choice(AGENT_LABELS["chem_ketone"], "chem_rating")
    chem_brake_fluid = choice(AGENT_LABELS["chem_brake_fluid"], "chem_rating")
    chem_acid = choice(AGENT_LABELS["chem_acid"], "chem_rating")
    chem_hot_water = choice(AGENT_LABELS["chem_hot_water"], "chem_rating")
    chem_uv = choice(AGENT_LABELS["chem_uv"], "chem_rating")
    hardened_nozzle = choice("Needs a hardened nozzle", "need")
    source = base.text("Where the figures are from", "data sheet with its date, own test, told by whom", required=True)
    note = base.long_text("Note")

    FIGURES: ClassVar = [
        "in_plane_mpa", "z_ratio", "glass_c", "melting_c", "hdt_045_c", "hdt_180_c", "continuous_c",
        "uptake_saturated_percent", "nozzle_c", "chamber_c", "dry_c", "dry_h", "density_g_cm3",
    ]  # fmt: skip
    RATINGS: ClassVar = [*AGENTS, "hardened_nozzle"]
    groups: ClassVar = [
        ("The material", ["name", "designation", "kind", "source"]),
        ("Strength", ["in_plane_mpa", "z_ratio"]),
        ("Heat", ["glass_c", "melting_c", "hdt_045_c", "hdt_180_c", "continuous_c"]),
        ("Water and chemicals", ["uptake_saturated_percent", *AGENTS]),
        ("Printing", ["nozzle_c", "chamber_c", "dry_c", "dry_h", "density_g_cm3", "hardened_nozzle"]),
        ("Otherwise", ["note"]),
    ]


class SupplyForm(RecordForm):
    days_to_get = Quantity("Days to get", "days", 0, 1000, whole=True, help_text="0 where the shop is next door")
    price_eur_kg = Quantity("Price", "€/kg", 0, 10000)
    note = base.text("Note", "from whom")


class CouponForm(RecordForm):
    geometry = choice("Shape of the bars", "coupon_geometry")
    orientation = choice("How they were printed", "coupon_orientation")
    bars = BarsField(
        "Bars", "one a line, force and section with their units, such as: 820 N, 10.1 x 4.0 mm; void at the edge"
    )
    bonded = _percent(
        "Bonded share of the broken sections",
        "upright bars only, in %, as measured on their faces, such as 65 to 75; empty takes the usual range",
    )
    temperature_c = Temperature("Temperature at the test", help_text="with its unit; empty means a room of about 23 C")
    tested_on = past_day("Tested", required=True)
    printed_how = base.text("Printed how", "printer, nozzle and chamber temperature, road and layer, dried or not")
    note = base.long_text("Note", "machine, speed of pulling, where they broke")
    tested_by = base.text("Tested by", required=True)

    groups: ClassVar = [
        ("The bars", ["geometry", "orientation", "bars", "bonded"]),
        ("The test", ["tested_on", "temperature_c", "printed_how", "note", "tested_by"]),
    ]

    def missing_together(self) -> Iterator[tuple[str, str]]:
        if self.bonded.data and self.bonded.data[0] == 0 and not self.bonded.errors:
            yield "bonded", "A bar of which nothing was bonded carries no force: give a lower end above 0."
        if self.bonded.data and self.orientation.data != "upright":
            yield "bonded", "A bonded share is of bars that stood upright; leave it empty for others."


class CouponCorrectionForm(CouponForm):
    is_withdrawn = BooleanField("This test doesn’t count", description="It stays in the record, and no longer counts.")
    correction_reason = base.text("Why it is corrected", required=True)

    groups: ClassVar = [*CouponForm.groups, ("The correction", ["is_withdrawn", "correction_reason"])]


class PlaceForm(RecordForm):
    preset = choice("Like", "place", "kept as where the numbers come from")
    highest_c = Temperature("Highest temperature of the part there", help_text="with its unit, such as 85 C or 185 F")
    water = choice("Water", "water")
    chem_oil = BooleanField(AGENT_LABELS["chem_oil"])
    chem_petrol = BooleanField(AGENT_LABELS["chem_petrol"])
    chem_alcohol = BooleanField(AGENT_LABELS["chem_alcohol"])
    chem_ketone = BooleanField(AGENT_LABELS["chem_ketone"])
    chem_brake_fluid = BooleanField(AGENT_LABELS["chem_brake_fluid"])
    chem_acid = BooleanField(AGENT_LABELS["chem_acid"])
    chem_hot_water = BooleanField(AGENT_LABELS["chem_hot_water"])
    chem_uv = BooleanField(AGENT_LABELS["chem_uv"])
    revision_id = record_choice("Goes for")
    how_known = base.text("How it is known", "measured with what, told by whom, or guessed")
    entered_by = base.text("Entered by", required=True)

    groups: ClassVar = [
        ("Heat and water", ["preset", "highest_c", "water"]),
        ("What it meets there", [*AGENTS]),
        ("How sure it is", ["how_known", "revision_id", "entered_by"]),
    ]

    def agents(self) -> list[str]:
        """Return the codes that were ticked."""
        return [agent for agent in AGENTS if self[agent].data]
