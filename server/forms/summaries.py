"""The wording of a customer's summary."""

from wtforms import BooleanField, Form, SelectField, TextAreaField
from wtforms.validators import Length

from server.forms import base
from server.forms.options import options

LONGEST = 1500


def _section(label: str) -> TextAreaField:
    rule = Length(max=LONGEST, message=f"At most {LONGEST} characters: the summary has two pages.")
    return TextAreaField(label, [rule], filters=[_clean])


def _clean(value: str | None) -> str:
    return "\n".join((value or "").replace("\x00", "").strip().splitlines())


class SummaryForm(Form):
    """One text for each section, and what stands around them."""

    does = _section("What the part does")
    came_back = _section("What came back")
    found = _section("What we found")
    means = _section("What it means")
    change = _section("What we will change")
    care = _section("Care")
    not_known = _section("What is not known")
    prepared_by = base.text("Prepared by", "as it should stand on the paper, such as the name of the bench")
    paper = SelectField("Paper of the PDF", choices=options([("A4", "A4"), ("Letter", "Letter")]), default="A4")


class PictureForm(Form):
    """Whether a picture is printed, and what stands below it."""

    chosen = BooleanField("Print this picture")
    caption = base.text("Words below it")
