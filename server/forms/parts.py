"""Forms for the part, what is locked, and its revisions."""

from wtforms import BooleanField, Form, SelectField

from server.forms import base
from server.wording import choices


class PartForm(Form):
    name = base.text("Name of the part", required=True)
    function = base.long_text("What it does")
    fitted_where = base.text("Where it is fitted")
    access = SelectField("Getting at it again", choices=choices("access"), default="")
    customer_id = SelectField("Customer", choices=[("", "none")], default="")
    can_hurt = BooleanField("Its failure can hurt someone", description="Cautions are then shown on every page and on the summary.")
    hurt_how = base.text("How it could hurt")
    note = base.long_text("Internal note", "never printed for a customer")


class CustomerForm(Form):
    name = base.text("Name", required=True)
    contact = base.text("How to reach them")
    note = base.long_text("Internal note")


class LockedFeatureForm(Form):
    what = base.text("Dimension or face that must stay as it is", "such as: bore 8 mm; back face; overall height", required=True)
    reason = base.text("Why", required=True)


class RevisionForm(Form):
    is_original = BooleanField("This is the original part that is replaced")
    what_changed = base.long_text("What is different from the revision before")
    why = base.long_text("Why")
    drawn_on = base.day("Date of the drawing")
