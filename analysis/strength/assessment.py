"""What an assessment of strength holds, as records and as JSON."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from analysis.strength.facewelds import NO_SCALE, FaceWelds
from analysis.strength.knockdown import KnockDown
from analysis.strength.loadcase import LoadCase, LoadRefused
from analysis.strength.ranges import Range
from analysis.strength.uncertainty import sections_json
from analysis.strength.weldgroup import CRITERIA, Criterion, Peak


@dataclass(frozen=True)
class ServiceSurvived:
    """What the part stood before it broke: `times` independent loadings, each drawn from the range of `load`.

    `load` None: the same load that broke it in the end. Once (the default) is right for one load that was always the
    same and is only not known exactly; more times say that it differed from time to time.
    """

    load: LoadCase | None = None
    times: int = 1

    def __post_init__(self) -> None:
        if self.times < 0:
            raise LoadRefused("The number of loadings it stood can't be below 0.")


@dataclass(frozen=True)
class CaseResult:
    """One load held against the face; None with an entry in `reasons` where it can't be told.

    `as_built_n`, `as_designed_n` : 90 % ranges of the capacity along this load. `knock_down` : the middle of the former
    over that of the latter, told even without scale or strength where it depends on neither. `exceeds_*` : P(load >
    capacity) before anything is made of the break. `peak` : the weld that gives way first at the middle of the ranges,
    its place in mm from pixel (0, 0) of the map. `broke`, `explains`, `whole_too` : see `Rivals`.
    """

    load: LoadCase
    as_built_n: Range | None = None
    as_designed_n: Range | None = None
    knock_down: float | None = None
    exceeds_built: float | None = None
    exceeds_designed: float | None = None
    method: str = ""
    peak: Peak | None = None
    broke: float | None = None
    explains: float | None = None
    whole_too: float | None = None
    reasons: dict[str, str] = field(default_factory=dict)

    def to_json(self) -> dict[str, Any]:
        """The load as given and what came of it; units in the names."""
        load, peak = self.load, self.peak
        return {
            "name": load.name,
            "force_n": load.force_n.to_json(),
            "tilt_deg": load.tilt_deg,
            "azimuth_deg": load.azimuth_deg,
            "reach_mm": None if load.reach_mm is None else load.reach_mm.to_json(),
            "offset_mm": list(load.offset_mm),
            "source": load.source,
            "as_built_n": None if self.as_built_n is None else self.as_built_n.to_json(),
            "as_designed_n": None if self.as_designed_n is None else self.as_designed_n.to_json(),
            "knock_down": _rounded(self.knock_down),
            "exceeds_built": _rounded(self.exceeds_built),
            "exceeds_designed": _rounded(self.exceeds_designed),
            "method": self.method or None,
            "limited_by": None if peak is None else peak.limited_by,
            "peak": None if peak is None else {name: round(value, 4) for name, value in peak.__dict__.items()},
            "broke": _rounded(self.broke),
            "explains": _rounded(self.explains),
            "whole_too": _rounded(self.whole_too),
            "reasons": dict(self.reasons),
        }


@dataclass(frozen=True)
class Assessment:
    """The whole answer. `whole_too` : chance that the load would have exceeded the fully bonded face too, given the
    break and the service before it, over all loads by what each explains. `whole_too_bounds` : least and greatest of
    it over the loads. `sentences` : for reading, the most important first.
    """

    face: FaceWelds
    cases: tuple[CaseResult, ...]
    knock_down: KnockDown | None
    criterion: Criterion
    weld_mpa: Range | None
    notch: Range | None
    whole_too: float | None
    whole_too_bounds: tuple[float, float] | None
    sentences: tuple[str, ...]
    reasons: dict[str, str]

    def to_json(self) -> dict[str, Any]:
        """The answer as one JSON object, units in the names; what can't be had is None with an entry in `reasons`."""
        scaled = self.face.mm_per_px is not None
        return {
            "criterion": self.criterion,
            "criterion_words": CRITERIA[self.criterion],
            "weld_mpa": None if self.weld_mpa is None else self.weld_mpa.to_json(),
            "notch_factor": None if self.notch is None else self.notch.to_json(),
            "sections": sections_json(self.face) if scaled else None,
            "knock_down": None if self.knock_down is None else self.knock_down.to_json(),
            "cases": [one.to_json() for one in self.cases],
            "whole_too": _rounded(self.whole_too),
            "whole_too_bounds": None if self.whole_too_bounds is None else [_rounded(v) for v in self.whole_too_bounds],
            "sentences": list(self.sentences),
            "reasons": dict(self.reasons) | ({} if scaled else {"sections": NO_SCALE}),
        }


def _rounded(p: float | None) -> float | None:
    return None if p is None else float(f"{p:.3g}")
