"""The form of the marks: one text, as the picture's script writes it and as a person can."""

from wtforms import Form, TextAreaField
from wtforms.validators import Length


class MarksForm(Form):
    marks = TextAreaField(
        "Marks",
        [Length(max=20_000, message="That is more than can be marked. Count by hand instead.")],
        description="One a line: x, y in pixels of the photo, then bonded, bare or unknown. "
        "A fourth number before the word is the mark's radius in pixels.",
        render_kw={"rows": 8, "spellcheck": "false"},
    )
