"""What is known about a part when its next build is planned."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from analysis.nextbuild.envelope import Region
from analysis.nextbuild.outlook import Baseline
from analysis.strength.ranges import Range

Fitness = Literal["fits", "marginal", "doesnt_fit", "not_known"]
LEAST_WANTED, MOST_WANTED = 0.001, 0.5


class PlanRefused(ValueError):
    """A statement that no plan can be made from; the message says what was wrong and what to give."""


@dataclass(frozen=True)
class MaterialOption:
    """A material that the next build could be made of, as judged for the part's place.

    `strength_ratio` : strength across its layers over that of the present material, both at the heat of service, as a
    90 % range; None where one of them is not known. `days` until it is at hand, 0 on the shelf, None not known.
    """

    code: str
    name: str
    fitness: Fitness
    why: str
    strength_ratio: Range | None
    days: float | None = None
    price_per_kg: float | None = None
    nozzle_c: float | None = None
    needs_chamber: bool | None = None
    is_present: bool = False


@dataclass(frozen=True)
class PrinterLimits:
    """What the printer can do; None where it isn't known."""

    nozzle_max_c: float | None = None
    heated_chamber: bool | None = None


@dataclass(frozen=True)
class PresentBuild:
    """How the broken part was built; None where it isn't known.

    `in_plane_ratio` is in-plane over interlayer strength, `bonded_share` the 90 % interval of the bonded share of the
    contact, `bends` whether the load bends the broken face more than it pulls.
    """

    line_width_mm: float | None = None
    layer_height_mm: float | None = None
    nozzle_mm: float | None = None
    nozzle_c: float | None = None
    infill_percent: float | None = None
    thickness_mm: float | None = None
    bends: bool | None = None
    bonded_share: tuple[float, float] | None = None
    in_plane_ratio: Range | None = None


@dataclass(frozen=True)
class Situation:
    """Everything that a plan is made from.

    `primary` and `contributing` are modes, `causes` contributing causes, by the codes of the evidence. `baseline` is
    None where load or capacity is not known, and `no_baseline` then says why. `wanted` is the probability of the load
    exceeding the capacity that is still accepted, `days_left` the time until the part is needed.
    """

    primary: str
    contributing: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    rubs: bool = False
    baseline: Baseline | None = None
    no_baseline: str = ""
    regions: Sequence[Region] = ()
    materials: Sequence[MaterialOption] = ()
    printer: PrinterLimits = PrinterLimits()
    build: PresentBuild = PresentBuild()
    wanted: float = 0.05
    days_left: float | None = None

    def __post_init__(self) -> None:
        if not (math.isfinite(self.wanted) and LEAST_WANTED <= self.wanted <= MOST_WANTED):
            raise PlanRefused(
                f"The probability that is accepted must be between {LEAST_WANTED:.1%} and {MOST_WANTED:.0%}: "
                "nothing printed is certain, and more than a half is no plan."
            )
        if self.days_left is not None and not self.days_left >= 0:
            raise PlanRefused("The day on which the part is needed is past; give a day from today on.")

    @property
    def modes(self) -> tuple[str, ...]:
        """The modes that a change should treat."""
        return (self.primary, *self.contributing, *(("interference_rub",) if self.rubs else ()))
