"""Forms for the account of a failure and for the change that follows from it."""

from datetime import date
from typing import Any, ClassVar

from server.forms import base
from server.forms.base import Quantity
from server.forms.record import Choice, RecordForm, past_day, refuse_before


class FailureForm(RecordForm):
    broken_one = Choice(
        "Which one broke",
        choices={},
        description="Choose the fitting where it is known; else the build, else the revision.",
    )
    case_label = base.text("Case label", "your own number for it, as on the bags")
    found_on = past_day("Found broken on", required=True)
    found_place = base.text("Where it was found")
    finder = base.text("Who found it")
    noticed_how = base.long_text("How it was noticed")
    happened_before = base.long_text(
        "What happened before", "the last hours and days: loads, heat, knocks, work done on it"
    )
    load_words = base.text("Suspected load", "such as: pulled by the cable; someone stepped on it")
    load_direction = base.text("Its direction on the part", "along which axis or towards which face")
    load_n = Quantity("Its size, if known", "N", 0, 10_000_000)
    as_found = base.long_text("Condition as found", "before anything is cleaned, moved or pressed together")
    also_lost = base.long_text("What else was lost, damaged or put out of order by it")
    found_sound = base.long_text("Features looked at and found sound", "what was checked and showed no damage")
    entered_by = base.text("Entered by")

    groups: ClassVar = [
        ("What broke", ["broken_one", "case_label", "found_on", "found_place", "finder"]),
        ("What happened", ["noticed_how", "happened_before", "load_words", "load_direction", "load_n"]),
        ("As found", ["as_found", "also_lost", "found_sound", "entered_by"]),
    ]
    begun_on: dict[str, tuple[date, str]]  # code of what can break: since when it existed, and as what

    def validate_found_on(self, field: Any) -> None:
        since, words = self.begun_on.get(self.broken_one.data or "", (None, ""))
        refuse_before(field, since, f"The one chosen above was {words} later, on {since}.")


class FailureCorrectionForm(FailureForm):
    correction_reason = base.text("Why it is corrected", "the entry so far is kept below the new one", required=True)

    groups: ClassVar = [*FailureForm.groups, ("The correction", ["correction_reason"])]


class ChangeForm(RecordForm):
    what = base.long_text("What is to be different in the next build", required=True)
    why = base.long_text("Why", "which finding asks for it")


class ChangeCorrectionForm(ChangeForm):
    correction_reason = base.text("Why it is corrected", "the entry so far is kept", required=True)
