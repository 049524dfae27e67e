"""What the published interface takes and gives; the measurement follows the same contract as the command's output."""

from datetime import datetime
from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field


class Mistake(BaseModel):
    """What was wrong and what to do."""

    detail: str


class PhotoOut(BaseModel):
    """A kept photo; its size is that of the upright picture."""

    id: int
    face_id: int | None
    file_name: str
    sha256: str
    media_type: str
    size_bytes: int
    width_px: int
    height_px: int
    stage: str
    is_rendered: bool


class RefusedOut(BaseModel):
    """A file that was not kept, and why."""

    file_name: str
    detail: str


class UploadOut(BaseModel):
    """What became of each file."""

    kept: list[PhotoOut]
    already_there: list[PhotoOut]
    refused: list[RefusedOut]


class MarkIn(BaseModel):
    """What a person says of one place of the face: a disc of the photo, px of the upright picture."""

    model_config = ConfigDict(extra="forbid")

    x_px: float
    y_px: float
    radius_px: float = Field(gt=0)
    says: Literal["bonded", "bare", "unknown"]


class MeasureIn(BaseModel):
    """What a measuring needs to know. Without `um_per_px` the photo's own scale counts, without an outline its own
    outline, and without that the outline is looked for."""

    model_config = ConfigDict(extra="forbid")

    line_width_mm: float = Field(description="Width of a road as sliced, mm")
    layer_height_mm: float = Field(description="Layer height as sliced, mm")
    um_per_px: float | None = Field(None, description="Micrometres per pixel of the original photo")
    scale_relative_sd: float = Field(0.01, description="Relative standard deviation of the scale")
    wall_count: int | None = Field(None, ge=0, le=50)
    contact_band_mm: float | None = Field(None, gt=0, le=10)
    road_spacing_mm: float | None = Field(None, gt=0, le=10)
    outline_px: list[list[float]] | None = Field(None, description="Corners (x, y) in px of the upright photo")
    holes_px: list[list[list[float]]] = Field([], description="One polygon a hole")
    unknown_zones_px: list[list[list[float]]] = Field([], description="Zones that can't be judged")
    marks: list[MarkIn] = Field([], max_length=200, description="A few places of which you know what they are")
    mate_photo_id: int | None = Field(None, description="Photo of the mating face; it must have a scale")


class JobOut(BaseModel):
    """A measuring in the queue: waiting, running, done, failed or cancelled."""

    id: int
    photo_id: int
    state: str
    stage: str
    share_done: float
    attempt: int
    error: str | None
    measurement_id: int | None
    entered_at: datetime
    ended_at: datetime | None


class Share(BaseModel):
    """A share with its 90 % interval; `bounds` takes all unknown as bare and as bonded."""

    model_config = ConfigDict(extra="allow")

    value: float | None
    interval: list[float] | None = None
    bounds: list[float] | None = None


class Gap(BaseModel):
    """A stretch of a wall where the road is missing, in mm along the wall from its start point.

    Measured with the mating face there is `confirmed` besides: the share of it that the other half confirms, null
    where that can't be told.
    """

    model_config = ConfigDict(extra="allow")

    start_mm: float
    end_mm: float
    length_mm: float
    start_px: list[float] | None = None
    end_px: list[float] | None = None


class Wall(BaseModel):
    """One wall road: how much of it is there, and how much of its contact band is bonded."""

    model_config = ConfigDict(extra="allow")

    outline: str
    index: int
    length_mm: float
    start_px: list[float] | None = None
    continuity: float | None = None
    bonded_fraction: float | None = None
    gaps: list[Gap] = []


class MeasurementOut(BaseModel):
    """One measurement. Lengths in mm, areas in mm², places in px of the upright photo; null has its reason."""

    model_config = ConfigDict(extra="allow")

    surface: str
    face_area_mm2: float | None
    outline_px: list[list[float]]
    holes_px: list[list[list[float]]]
    unknown_share: float | None
    bonded_share_of_face: Share | None
    bonded_area_fraction: Share | None
    walls: list[Wall] | None
    largest_gap_mm: float | None
    layer_planes: list[dict[str, Any]] | None
    course: dict[str, Any] | None = Field(
        None, description="How the break went over the face: direction, origin, hinge; null with its reason"
    )
    touched_share: float | None
    gap_agreement: float | None
    gap_agreement_by_chance: float | None
    mate_fit: str | None
    mate_affine: list[list[float]] | None
    rub_area_mm2: float | None
    scratch_deg: float | None
    evidence: list[dict[str, Any]]
    verdict: dict[str, Any] | None
    warnings: list[str]
    reasons: dict[str, str]
    seconds: dict[str, float]


class PointOut(BaseModel):
    """A counted point; `code` is bonded, bare, void, cant_tell, on_boundary, or null where it was not looked at."""

    x_px: float
    y_px: float
    field: int
    code: str | None


class CountOut(BaseModel):
    """A finished count by hand after ASTM E562; shares of 1, its interval of 95 %."""

    id: int
    photo_id: int
    outline_id: int | None
    scale_id: int | None
    replaces_id: int | None
    seed: int
    field_count: int
    points_per_field: int
    layout: str
    spacing_px: float
    points: list[PointOut]
    who: str
    note: str
    result: dict[str, Any]
    program_version: str
    entered_at: datetime


class PartOut(BaseModel):
    """A part."""

    id: int
    name: str
    function: str
    fitted_where: str
    can_hurt: bool
    is_demo: bool


class PartDetail(PartOut):
    """A part with its revisions and failures."""

    revisions: list[dict[str, Any]]
    failure_ids: list[int]


class FailureOut(BaseModel):
    """A failure with its faces, the measurements of their photos, and the verdicts that count."""

    id: int
    part_id: int
    revision_id: int
    case_label: str
    found_on: str | None
    faces: list[dict[str, Any]]
    verdicts: list[dict[str, Any]]


class StrengthOut(BaseModel):
    """Loads that may have broken a face, held against what its welds bear; forces in N, stresses in MPa.

    Each face has its `sections`, the `knock_down` against a face with every contact joined, and a case a load, in the
    order of `load_ids`, with the ranges borne `as_built_n` and `as_designed_n` and the probabilities that the load was
    more. What can't be had is null, and `reasons` says why.
    """

    failure_id: int
    site_id: int | None
    loads: list[dict[str, Any]]
    weld: dict[str, Any] | None
    faces: list[dict[str, Any]]
    chosen_because: str | None
    cautions: list[str]
    reasons: dict[str, str]


class FigureOut(BaseModel):
    """A range, the same at both ends where one value is known; `status` says how well its source is known."""

    low: float
    high: float
    unit: str
    status: str
    source: str
    note: str


class RatingOut(BaseModel):
    """One word of a few, such as cracks or yes."""

    code: str
    status: str
    source: str
    note: str


class MaterialOut(BaseModel):
    """A material; a figure that is null is not known. `between_layers_mpa` is for the bonded area, at about 23 °C."""

    code: str
    name: str
    designation: str
    kind: str
    figures: dict[str, FigureOut | None]
    ratings: dict[str, RatingOut | None]
    between_layers_mpa: tuple[float, float] | None
    upright_bar_mpa: tuple[float, float] | None
    on_shelf: bool
    days_to_get: int | None


class FillerOut(BaseModel):
    """A filler, its share in percent by mass where it is given."""

    symbol: str
    kind: str
    form: str
    percent: float | None


class DesignationOut(BaseModel):
    """What a designation says; `unknown` is named, never guessed at."""

    written: str
    standard: str
    polymers: list[str]
    families: list[str]
    fillers: list[FillerOut]
    together_percent: float | None
    shore: str
    data: list[str]
    warnings: list[str]
    unknown: list[str]
    material: str | None = Field(description="Code of the material in the table, null where there is none")
    reason: str


class FitPointOut(BaseModel):
    """One point of a judgement: fits, marginal, not_known or doesnt_fit, and the number or fact that decides."""

    about: str
    fit: str
    why: str


class FitOut(BaseModel):
    """A material judged for the place of a part; the worst point decides."""

    material: str
    name: str
    fit: str
    why: str
    points: list[FitPointOut]


class PlaceOut(BaseModel):
    """The place of a part and what fits it, best first."""

    highest_c: float | None
    heat_from: str
    agents: list[str]
    water: str
    stood: list[str] = Field(description="Codes of the materials that stood there for months without softening")
    fits: list[FitOut]


class PlansOut(BaseModel):
    """Ranked plans for the next build; probabilities are of the load exceeding the capacity, capacities in N."""

    failure_id: int
    primary: str
    load: str
    wanted: float
    reaches: bool | None
    words: str
    plans: list[dict[str, Any]]
    left_out: list[dict[str, str]]
    chosen: list[dict[str, Any]]
    opinions: list[dict[str, Any]]


class LifeOut(BaseModel):
    """How long builds last in use; ages in days, limits of 95 %, shares from 0 to 1.

    `limits` of a curve are pointwise (log-log); those of the Weibull fit are of its likelihood, an end without limit
    null. `log_rank` is null where the groups can't be compared; `rough` says that a group expects few failures. Below
    `few_failures_below` failures a group's figures are hints at best.
    """

    builds: int
    groups: list[dict[str, Any]]
    more_groups: int
    log_rank: dict[str, Any] | None
    few_failures_below: int
    left_out: list[dict[str, Any]]
    failure_ids: list[int]
