"""Forms for what came of a failure: pieces, break sites, faces, and what was done to a piece."""

from collections.abc import Collection, Iterator
from typing import Any, ClassVar

from wtforms import BooleanField
from wtforms.validators import ValidationError

from server.forms import base
from server.forms.record import RecordForm, choice, past_day, record_choice


class FragmentForm(RecordForm):
    item_label = base.text("Label of the piece", "as on its bag", required=True)
    status = choice("Recovered or missing", "fragment", default="recovered")
    description = base.long_text("Description", "size, shape, which part of the whole")
    condition = base.long_text("Condition as found", "wet, oily, scratched, loose in the housing")
    where_found = base.text("Where it was found")
    collector = base.text("Collected by")
    collected_on = past_day("Collected on")
    where_may_be = base.text("Where a missing piece may be")
    can_harm = BooleanField(
        "The missing piece can jam or hurt something",
        description="A warning then stands on the case, the part and the bench.",
    )
    harm_how = base.text("What it could jam or hurt")

    groups: ClassVar = [
        ("The piece", ["item_label", "status", "description", "condition"]),
        ("If it was recovered", ["where_found", "collector", "collected_on"]),
        ("If it is missing", ["where_may_be", "can_harm", "harm_how"]),
    ]
    taken_labels: Collection[str] = ()

    def validate_item_label(self, field: Any) -> None:
        if (field.data or "").casefold() in {label.casefold() for label in self.taken_labels}:
            raise ValidationError(f"A piece of this failure is already labelled {field.data}.")

    def validate_can_harm(self, field: Any) -> None:
        if field.data and self.status.data == "recovered":
            raise ValidationError("A recovered piece lies on the bench. Tick this for a missing piece only.")


class FragmentCorrectionForm(FragmentForm):
    correction_reason = base.text("Why it is corrected", "the entry so far is kept below the new one", required=True)

    groups: ClassVar = [*FragmentForm.groups, ("The correction", ["correction_reason"])]


class SiteForm(RecordForm):
    name = base.text("Name of the break site", "such as: root of the hook; screw boss left", required=True)
    sequence = choice("Its place in the order", "sequence", default="unknown")
    how_known = base.long_text("How one knows", "what shows the order; leave empty where it can't be told")
    why_followed = base.long_text(
        "If it followed, why", "such as: once the first had let go, its load moved here; leave empty where unknown"
    )
    load_words = base.text("Load at this site", "which way it was pulled, bent or twisted here")

    taken_names: Collection[str] = ()
    first_site: str = ""  # the site that is entered as the first already

    def validate_name(self, field: Any) -> None:
        if (field.data or "").casefold() in {name.casefold() for name in self.taken_names}:
            raise ValidationError(f"This failure already has a break site {field.data}.")

    def validate_sequence(self, field: Any) -> None:
        if field.data == "first" and self.first_site:
            raise ValidationError(f"{self.first_site} is entered as the first to let go. Correct that one first.")

    def missing_together(self) -> Iterator[tuple[str, str]]:
        if self.sequence.data in {"first", "later"} and not self.how_known.data:
            yield "how_known", "Say what shows the order, or choose that it can't be told."


class SiteCorrectionForm(SiteForm):
    correction_reason = base.text("Why it is corrected", "the entry so far is kept below the new one", required=True)


class FaceForm(RecordForm):
    name = base.text("Name of the face", "such as: 1a; hook side", required=True)
    fragment_id = record_choice("Piece it is on")
    surface = choice("Kind of surface", "surface", default="fracture")
    site_id = record_choice("Break site")
    mate_face_id = record_choice("Mating face", "the face it was torn from; each of the two then names the other")

    site_of_face: dict[int, int | None]  # the faces that may be chosen as mate, and their sites

    def validate_site_id(self, field: Any) -> None:
        mate_site = self.site_of_face.get(self.mate_face_id.data or 0)
        if field.data and mate_site and field.data != mate_site:
            raise ValidationError("The mating face is on another break site. Two mates lie on the same one.")

    def validate_mate_face_id(self, field: Any) -> None:
        if field.data and self.surface.data == "outer":
            raise ValidationError("An outer surface has no mating face. Choose fracture face or no mate.")


class TreatmentForm(RecordForm):
    method = choice("What was done", "treatment", default="dry_brush")
    detail = base.text("With what, how long")
    done_on = past_day("Done on", required=True)
    done_by = base.text("Done by")

    def missing_together(self) -> Iterator[tuple[str, str]]:
        if self.method.data == "other" and not self.detail.data:
            yield "detail", "Say what was done."


class TreatmentCorrectionForm(TreatmentForm):
    correction_reason = base.text("Why it is corrected", "the entry so far is kept", required=True)
