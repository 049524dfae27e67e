"""Forms for a build, its stays in service and the inspections, with the order of their days."""

from collections.abc import Iterator
from datetime import date
from itertools import permutations
from typing import Any, ClassVar

from wtforms.validators import ValidationError

from server.forms import base
from server.forms.base import Quantity, Temperature
from server.forms.record import RecordForm, any_day, choice, past_day, record_choice, refuse_after, refuse_before

# ISO/ASTM 52921: the axes along the longest, second and shortest side of the part's box; later letters may be left
# out where the part's symmetry leaves no doubt.
ORIENTATIONS = frozenset("".join(axes) for count in (1, 2, 3) for axes in permutations("XYZ", count))


class BuildForm(RecordForm):
    printer_id = record_choice("Printer")
    spool_id = record_choice("Spool")
    built_on = past_day("Date of the build")
    nozzle_mm = Quantity("Nozzle", "mm", 0.05, 3)
    line_width_mm = Quantity("Line width", "mm", 0.05, 6, help_text="Needed to count roads on a face.")
    layer_height_mm = Quantity("Layer height", "mm", 0.01, 3)
    wall_count = Quantity("Walls", "", 0, 200, whole=True)
    infill_percent = Quantity("Infill", "%", 0, 100)
    orientation = base.text(
        "Orientation",
        "ISO/ASTM 52921: the machine axes along the part's longest, second and shortest side, such as XZY; "
        "Z alone for an upright rod",
    )
    nozzle_c = Temperature("Nozzle temperature")
    bed_c = Temperature("Bed temperature")
    chamber_c = Temperature("Chamber temperature")
    fan_percent = Quantity("Fan", "%", 0, 100)
    after_treatment = base.text("After-treatment", "such as: annealed 80 C, 5 h; bore reamed; none")
    note = base.long_text("Note")

    groups: ClassVar = [
        ("Machine and material", ["printer_id", "spool_id", "built_on"]),
        (
            "Roads and layers",
            ["nozzle_mm", "line_width_mm", "layer_height_mm", "wall_count", "infill_percent", "orientation"],
        ),
        ("Heat", ["nozzle_c", "bed_c", "chamber_c", "fan_percent"]),
        ("Afterwards", ["after_treatment", "note"]),
    ]
    drawn_on: date | None = None
    first_fitted_on: date | None = None

    def validate_built_on(self, field: Any) -> None:
        refuse_before(field, self.drawn_on, f"The revision was drawn later, on {self.drawn_on}.")
        refuse_after(field, self.first_fitted_on, f"The build was fitted before that, on {self.first_fitted_on}.")

    def validate_orientation(self, field: Any) -> None:
        letters = (field.data or "").upper().replace(" ", "")
        if letters and letters not in ORIENTATIONS:
            raise ValidationError(
                "Write each of the letters X, Y, Z at most once, longest side first: XYZ, ZXY … or shortened: Z, XZ …"
            )
        field.data = letters


class ServiceForm(RecordForm):
    fitted_on = past_day("Fitted", required=True)
    fit_check = choice("Fit check at fitting", "fit_check")
    fit_note = base.text("What the fit check showed", "where it binds, flexes or rubs")
    removed_on = past_day("Removed", "leave empty while it is in use")
    highest_c = Temperature("Highest temperature there")
    chemicals = base.text("Chemicals it meets", "oils, fuels, cleaners, sunlight, water")
    loads = base.text("Loads it bears", "how much, which way, how often, shocks")

    groups: ClassVar = [
        ("Fitting", ["fitted_on", "fit_check", "fit_note", "removed_on"]),
        ("What it has to stand", ["highest_c", "chemicals", "loads"]),
    ]
    built_on: date | None = None
    first_event_on: date | None = None  # the earliest inspection or failure of this stay

    def validate_fitted_on(self, field: Any) -> None:
        refuse_before(field, self.built_on, f"It can't be fitted before it was built, on {self.built_on}.")
        refuse_after(
            field,
            self.first_event_on,
            f"An inspection or failure of this stay is dated {self.first_event_on}, before that.",
        )

    def validate_removed_on(self, field: Any) -> None:
        refuse_before(field, self.fitted_on.data, "It can't be removed before it was fitted.")


class InspectionForm(RecordForm):
    due_on = any_day("Due", required=True)
    done_on = past_day("Done", "leave empty until it has been looked at")
    result = choice("Result", "inspection")
    note = base.long_text("What was seen")

    fitted_on: date | None = None

    def validate_due_on(self, field: Any) -> None:
        refuse_before(field, self.fitted_on, f"The part was fitted later, on {self.fitted_on}.")

    def validate_done_on(self, field: Any) -> None:
        refuse_before(field, self.fitted_on, f"The part was fitted later, on {self.fitted_on}.")

    def missing_together(self) -> Iterator[tuple[str, str]]:
        if self.result.data and not self.done_on.data and not self.done_on.errors:
            yield "done_on", "A result is given: say on which day it was looked at."
        if self.done_on.data and not self.result.data:
            yield "result", "It was done: choose what was seen."
