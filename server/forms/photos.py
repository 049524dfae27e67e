"""Forms for photos: adding them, and preparing one for measuring."""

from typing import Any

from wtforms import BooleanField, Form, RadioField, SelectField, TextAreaField
from wtforms.validators import Length

from server.forms.base import Quantity
from server.forms.options import coded, options

# Wide on purpose: what a scale may be is for analysis.imaging.scale to say, in its own words.
ANY: dict[str, Any] = {"low": -1e9, "high": 1e9}
POINTS_LONGEST = 400_000


class UploadForm(Form):
    taken = SelectField("Taken", choices=options([("as_found", "as found")]), default="as_found")
    is_rendered = BooleanField(
        "Computed, not taken with a camera", description="Such pictures are marked wherever they are shown."
    )


def _points(label: str, help_text: str) -> TextAreaField:
    rule = Length(max=POINTS_LONGEST, message="That is more than an outline can hold.")
    return TextAreaField(label, [rule], description=help_text, render_kw={"rows": 6, "spellcheck": "false"})


def _px(label: str) -> Quantity:
    return Quantity(label, "px", **ANY)


class PrepareForm(Form):
    """Scale, outline and what the measuring needs to know; one form, so that nothing drawn is ever lost."""

    scale_method = RadioField("How the scale is known", choices=coded("scale_method"), default="points")
    x1_px, y1_px = _px("First end, x"), _px("First end, y")
    x2_px, y2_px = _px("Second end, x"), _px("Second end, y")
    distance_mm = Quantity("Distance between the two ends", "mm", **ANY)
    distance_sd_mm = Quantity(
        "Uncertainty of that distance", "mm", help_text="Standard deviation. A steel rule: about 0.05 mm.", **ANY
    )
    road_count = Quantity(
        "Roads between the two ends",
        "",
        whole=True,
        help_text="From the middle of one road to the middle of the last one counted; five or more.",
        **ANY,
    )
    road_pitch_mm = Quantity("Distance from road to road", "mm", help_text="As sliced; empty: the line width.", **ANY)
    um_per_px = Quantity("One pixel is", "µm", **ANY)
    relative_sd_percent = Quantity("Uncertainty of that", "%", help_text="Standard deviation. Empty: 1 %.", **ANY)
    outer_px = _points("Outline", "One corner a line, as “x, y” in pixels, in order around the face.")
    holes_px = _points("Holes", "One corner a line; an empty line begins the next hole.")
    unknown_px = _points(
        "Zones that can't be judged", "Grease, glare, shadow. One corner a line; an empty line begins the next zone."
    )
    line_width_mm = Quantity("Line width", "mm", **ANY)
    layer_height_mm = Quantity("Layer height", "mm", low=0.01, high=5)
    wall_count = Quantity("Walls", "", low=0, high=50, whole=True, help_text="Empty: two are assumed, with a warning.")
    road_spacing_mm = Quantity(
        "Distance from road to road", "mm", low=0.02, high=10, help_text="As sliced. Empty: the line width."
    )
    contact_band_mm = Quantity(
        "Contact band",
        "mm",
        low=0.01,
        high=10,
        help_text="Width pressed onto the next layer. Empty: line width less layer height.",
    )
    mate_photo_id = SelectField("Photo of the mating face", choices=options([("", "none")]), default="")
