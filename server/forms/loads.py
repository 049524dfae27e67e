"""Forms for a load that may have broken a face, and for what its welds can bear."""

from collections.abc import Iterator
from typing import ClassVar

from wtforms import BooleanField

from server.forms import base
from server.forms.base import Quantity, Temperature
from server.forms.ranges import FORCES, STRESSES, PhotoDirection, RangeField
from server.forms.record import Choice, RecordForm, choice, record_choice

TILTS = {"pull": 0.0, "bend": 90.0, "slide": 90.0, "push": 180.0}
STRAIGHT_DEG = 0.5  # closer than this to straight off or straight on, no direction on the photo is needed
NO_ACTION = "Say how it acts: a load without a direction can't be held against a face."
NO_REACH = (
    "It bends only by its distance from the face. Give how far off the force acts, or choose “slides it along the "
    "face” if it acts right at the break."
)
NO_AZIMUTH = "Say where it points to on the photo: part of this force lies in the face."
NO_LOW_REACH = "A lever arm that may be anything down to 0 mm says nothing: give a lower end above 0."
OFFSETS = ["offset_right_mm", "offset_down_mm"]


def blank(form: RecordForm, *names: str) -> Iterator[tuple[str, str]]:
    """Yield each of the fields in which only spaces were written: those count as something typed, and say nothing."""
    for name in names:
        if not form[name].data and not form[name].errors:
            yield name, "Write something here."


class LoadForm(RecordForm):
    name = base.text("Name of the load", "such as: carried by the strap; fell on its corner", required=True)
    preset = Choice("Take the force from the table", choices={"": "no, I give it below"}, default="")
    force = RangeField(
        "Force",
        FORCES,
        "N, kgf or lbf",
        (1e-4, 1e7),
        needs_unit=True,
        help_text="low to high with its unit, such as 150 to 400 N; leave empty to take the table's",
    )
    action = choice("How it acts on the half that came off", "load_action")
    tilt = Quantity("Angle", "°", 0, 180, help_text="only for “at an angle”: 0 straight off, 90 along, 180 straight on")
    face_id = record_choice("Directions are meant on the photo of")
    azimuth = PhotoDirection(
        "Pointing to, on that photo",
        "a clock's hour such as 4:30 (12:00 is up, 3:00 right), or degrees clockwise from the right, such as 45°",
    )
    reach = RangeField(
        "How far from the face it acts",
        {"mm": 1.0, "cm": 10.0},
        "mm",
        (0, 1e5),
        help_text="lever arm, low to high in mm; 0 or empty where it acts right at the break",
    )
    offset_right_mm = Quantity(
        "Takes hold right of the middle",
        "mm",
        -1e4,
        1e4,
        help_text="as the photo shows it, negative to the left; empty for the middle of the face",
    )
    offset_down_mm = Quantity(
        "Takes hold below the middle", "mm", -1e4, 1e4, help_text="as the photo shows it, negative above"
    )
    how_known = base.long_text("How it is known", "measured, told by whom, reckoned from what, or a guess")
    entered_by = base.text("Entered by", required=True)

    groups: ClassVar = [
        ("The load", ["name", "preset", "force"]),
        ("Its direction and its place", ["action", "tilt", "face_id", "azimuth", "reach", *OFFSETS]),
        ("How sure it is", ["how_known", "entered_by"]),
    ]

    def tilt_deg(self) -> float | None:
        """Return the angle between the force and straight off the face; None where it wasn't said."""
        if self.action.data != "aslant":
            return TILTS.get(self.action.data)
        angle: float | None = self.tilt.data
        if angle is None:
            return None
        # So close to straight that nobody could say where the rest of it points to.
        return 0.0 if angle <= STRAIGHT_DEG else 180.0 if angle >= 180 - STRAIGHT_DEG else angle

    def lies_in_face(self) -> bool:
        """Whether part of the force lies in the face."""
        angle = self.tilt_deg()
        return angle is not None and STRAIGHT_DEG < angle < 180 - STRAIGHT_DEG

    def missing_together(self) -> Iterator[tuple[str, str]]:
        yield from blank(self, "name", "entered_by")
        if not self.force.data and not self.preset.data and not self.force.errors:
            yield "force", "Give the force as a range with its unit, or take one from the table."
        if not self.action.data:
            yield "action", NO_ACTION
        if self.action.data == "aslant" and self.tilt.data is None and not self.tilt.errors:
            yield "tilt", "Give the angle in degrees: 0 straight off, 90 along the face."
        if self.action.data == "bend" and not self.reach.errors and not (self.reach.data and self.reach.data[1] > 0):
            yield "reach", NO_REACH
        if self.reach.data and self.reach.data[0] == 0 < self.reach.data[1]:
            yield "reach", NO_LOW_REACH
        if self.azimuth.data is None and not self.azimuth.errors and self.lies_in_face():
            yield "azimuth", NO_AZIMUTH


class LoadCorrectionForm(LoadForm):
    is_withdrawn = BooleanField(
        "It was no load of this break", description="It is no longer reckoned with; what was entered stays."
    )
    correction_reason = base.text("Why it is corrected", "the entry so far is kept", required=True)

    groups: ClassVar = [*LoadForm.groups, ("The correction", ["is_withdrawn", "correction_reason"])]


class WeldForm(RecordForm):
    strength = RangeField(
        "Strength of the weld between layers",
        STRESSES,
        "MPa or psi",
        (1e-3, 1000),
        needs_unit=True,
        help_text="low to high, such as 8 to 20 MPa: of the joined area itself, at the temperature below. The "
        "strength of an upright test bar over its whole section holds its own gaps already and is too low here. "
        "Leave it empty to have it looked up for this material and temperature.",
    )
    origin = choice("Where it is from", "weld_origin")
    material = base.text("Material")
    service_c = Temperature("Temperature when it broke", help_text="with its unit, such as 40 C or 104 F")
    notch = RangeField(
        "Notch factor",
        {},
        "",
        (1, 20),
        help_text="how much a sharp inner corner or the rim of a bare patch raises the stress there, such as 1.5 to 3; "
        "empty: left out, and the capacity is then an upper bound",
    )
    how_known = base.long_text("How it is known", "which table or test, how many bars")
    entered_by = base.text("Entered by", required=True)

    def missing_together(self) -> Iterator[tuple[str, str]]:
        yield from blank(self, "entered_by")
        if self.strength.data and not self.origin.data:
            yield "origin", "Say where the figures are from."


class WeldCorrectionForm(WeldForm):
    correction_reason = base.text("Why it is corrected", "the entry so far is kept", required=True)
