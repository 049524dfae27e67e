"""Forms for the next build: its terms, the choice of a plan, links for colleagues and their opinions."""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any, ClassVar

from wtforms import BooleanField, SelectField
from wtforms.validators import ValidationError

from server.forms import base
from server.forms.base import Quantity
from server.forms.options import options
from server.forms.record import RecordForm, any_day, choice

LONGEST_LINK_DAYS = 366


class PlanTermsForm(RecordForm):
    wanted_percent = Quantity(
        "Accepted probability that the load is too much",
        "%",
        0.1,
        50,
        required=True,
        help_text="what the next build may at most be left with; 5 % is a common wish, no rule",
    )
    needed_on = any_day("Needed by", "materials that come later are left out")
    thickness_mm = Quantity("Thickness at the break", "mm", 0.1, 1000, help_text="along the side that could grow")
    bends = choice("The load there", "bends")
    mass_g = Quantity("Mass of the part", "g", 0.01, 1e6)
    printing_h = Quantity("Printing time", "h", 0.01, 1000)
    printer_per_h = Quantity("Cost of a printer hour", "", 0, 1e5, help_text="in your own currency, as are all costs")
    bench_h = Quantity("Bench time", "h", 0, 1000)
    bench_per_h = Quantity("Cost of a bench hour", "", 0, 1e5)
    entered_by = base.text("Stated by")

    groups: ClassVar = [
        ("What is wanted", ["wanted_percent", "needed_on"]),
        ("The section at the break", ["thickness_mm", "bends"]),
        ("Cost", ["mass_g", "printing_h", "printer_per_h", "bench_h", "bench_per_h"]),
        ("Who", ["entered_by"]),
    ]

    def validate_needed_on(self, field: Any) -> None:
        if field.data and field.data < date.today():
            raise ValidationError("That day is past. Give a day from today on, or leave it empty.")


class ChooseForm(RecordForm):
    reason = base.long_text("Why this one", "goes into the record with the plan", required=True)
    first_look_on = any_day("First look at it", "stands on the bench page", required=True)
    chosen_by = base.text("Chosen by", required=True)

    def validate_first_look_on(self, field: Any) -> None:
        if field.data and field.data < date.today():
            raise ValidationError("That day is past. Give a day from today on.")


class OpinionLinkForm(RecordForm):
    for_whom = base.text("For whom", "so that you can tell the links apart", required=True)
    question = base.long_text("What you would like to know", "stands above the case")
    expires_on = any_day("Ends after", required=True)
    answer_by = any_day("Answer wanted by")
    shows_model = BooleanField("Show the model files")
    shows_photo_facts = BooleanField("Show file names and times of the photos")
    shows_customer = BooleanField("Show the customer's name")
    shows_place = BooleanField("Show where the part is fitted")

    groups: ClassVar = [
        ("The link", ["for_whom", "question", "expires_on", "answer_by"]),
        ("Left out unless ticked", ["shows_model", "shows_photo_facts", "shows_customer", "shows_place"]),
    ]

    def validate_expires_on(self, field: Any) -> None:
        if field.data and field.data < date.today():
            raise ValidationError("That day is past; the link would open nothing.")
        if field.data and field.data > date.today() + timedelta(LONGEST_LINK_DAYS):
            raise ValidationError("A link lasts a year at most. Make a new one then.")

    def missing_together(self) -> Iterator[tuple[str, str]]:
        if self.answer_by.data and self.expires_on.data and self.answer_by.data > self.expires_on.data:
            yield "answer_by", "By that day the link has ended."


class OpinionForm(RecordForm):
    who = base.text("Your name", required=True)
    plan_key = SelectField("Your vote", choices=options([("", "no vote")]), default="")
    proposal = base.text("A material or change that you propose instead")
    comment = base.long_text("Comment")

    def offer(self, plans: list[tuple[str, str]]) -> None:
        """Set the plans that can be voted for."""
        self.plan_key.choices = options([("", "no vote"), *plans])

    def missing_together(self) -> Iterator[tuple[str, str]]:
        if not (self.plan_key.data or self.proposal.data or self.comment.data):
            yield "comment", "Vote, propose something or comment; one of them is enough."
