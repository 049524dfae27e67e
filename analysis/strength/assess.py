"""Could this face have carried that load, as it was built, and had all of its contact held?

Model: capacity along a load = strength of the interface / (stress for each N x notch factor). The logarithms of
strength, notch, scale, outline and bonded area are taken as normal and independent; the same strength, notch, scale
and outline stand behind the face as built and the fully bonded one. A part's capacity is one number that isn't known,
the same at every loading until it broke: ageing, fatigue and creep are not in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from analysis.strength.assessment import Assessment, CaseResult, ServiceSurvived
from analysis.strength.capacity import Carried, carried, common_log_sd, peak_for
from analysis.strength.draws import Common, Drawn, common_draws, draw_capacity
from analysis.strength.facewelds import NO_CONTACT, NO_SCALE, NO_WELD, FaceWelds
from analysis.strength.interference import Rivals, exceeds_each, exceeds_lognormal, rival_loads
from analysis.strength.knockdown import knock_down
from analysis.strength.loadcase import LoadCase, LoadRefused
from analysis.strength.ranges import Z90, Range
from analysis.strength.weldgroup import CRITERIA, Criterion
from analysis.strength.wording import sentences

Floats = NDArray[np.float64]
DRAWS = 40_000
NO_STRENGTH = "No strength across the layers is known for this material, so no capacity in N is offered."
NO_LOAD_BROKE_IT = "None of the loads given can have broken this face: another load, or another cause, is missing here."
NOTHING_PULLS = "This load presses the halves together; no weld is pulled, so it has no capacity by this criterion."
NO_UPPER_END = "Over part of its range this load pulls at no weld, so the capacity has no upper end."
_ENDLESS_N = 1e9
_RARE = 0.01  # loads that explain less of the break than this don't stretch the bounds


@dataclass(frozen=True)
class _Setting:
    """What all loads of one assessment share."""

    face: FaceWelds
    strength: Range  # of the interface, over the notch factor
    criterion: Criterion
    rng: np.random.Generator
    common: Common


def assess(
    face: FaceWelds,
    load: LoadCase | Sequence[LoadCase],
    weld_mpa: Range | None,
    notch: Range | None = None,
    service_survived: ServiceSurvived | None = None,
    *,
    criterion: Criterion = "von_mises",
    priors: Sequence[float] | None = None,
    seed: int = 0,
    draws: int = DRAWS,
) -> Assessment:
    """Hold one load, or several rival ones, against a face.

    Parameters
    ----------
    face : the welds. load : one load, or rivals of which one broke it.
    weld_mpa : strength of the interface itself, on bonded area and at the service temperature; not the strength of an
        upright bar over its gross section, which holds its voids already. None where it isn't known.
    notch : stress concentration of a sharp inner corner that the design put there, at least 1; None for none.
    service_survived : what it stood before. priors : how probable each load was held, in any unit; even if None.
    seed : of the draws.

    Raises
    ------
    LoadRefused
        No load, two of one name, priors that don't fit, or a notch factor below 1.
    """
    loads = (load,) if isinstance(load, LoadCase) else tuple(load)
    shares = _priors(loads, priors)
    if criterion not in CRITERIA:
        raise ValueError(f"no such criterion: {criterion!r}")
    if notch is not None and notch.low < 1:
        raise LoadRefused("A notch factor is 1 or more: give the range from 1 for no effect upward.")
    fall, why_no_fall = knock_down(face)
    reasons = {} if fall is not None else {"knock_down": why_no_fall}
    why, rivals = _not_offered(face, weld_mpa), None
    if why or weld_mpa is None:
        reasons["capacity"] = why
        cases = tuple(_ratio_only(face, one, criterion, why) for one in loads)
    else:
        strength, rng = weld_mpa if notch is None else weld_mpa.over(notch), np.random.default_rng(seed)
        setting = _Setting(face, strength, criterion, rng, common_draws(face, strength, rng, draws))
        cases, rivals = _held_against(setting, loads, service_survived, shares)
    told = [one.whole_too for one in cases if one.whole_too is not None and (one.explains or 0) > _RARE]
    found = Assessment(
        face=face,
        cases=cases,
        knock_down=fall,
        criterion=criterion,
        weld_mpa=weld_mpa,
        notch=notch,
        whole_too=None if rivals is None else rivals.whole_too_mean,
        whole_too_bounds=(min(told), max(told)) if told else None,
        sentences=(),
        reasons=reasons,
    )
    return replace(found, sentences=sentences(found))


def _priors(loads: Sequence[LoadCase], priors: Sequence[float] | None) -> Sequence[float]:
    if not loads:
        raise LoadRefused("Give at least one load to hold against the face.")
    if len({one.name for one in loads}) != len(loads):
        raise LoadRefused("Two loads have the same name; give each its own.")
    shares = [1.0] * len(loads) if priors is None else list(priors)
    if len(shares) != len(loads) or not all(math.isfinite(v) and v >= 0 for v in shares) or not sum(shares) > 0:
        raise LoadRefused("Give each load how probable it was, 0 or more, and not 0 for all of them.")
    return shares


def _not_offered(face: FaceWelds, weld_mpa: Range | None) -> str:
    if not face.bonded.any():
        return NO_WELD
    if face.mm_per_px is None:
        return NO_SCALE
    return NO_STRENGTH if weld_mpa is None else ""


def _ratio_only(face: FaceWelds, load: LoadCase, criterion: Criterion, why: str) -> CaseResult:
    """What can be said of a load without scale or strength: the share of the fully bonded face's capacity."""
    has_lengths = load.reach_mm is not None or load.offset_mm != (0.0, 0.0)
    if not face.bonded.any() or (face.mm_per_px is None and has_lengths):
        return CaseResult(load, reasons={"as_built_n": why})
    work = carried(face, load, criterion)
    return CaseResult(load, knock_down=None if work is None else work.kept, reasons={"as_built_n": why})


def _held_against(
    setting: _Setting, loads: Sequence[LoadCase], service: ServiceSurvived | None, priors: Sequence[float]
) -> tuple[tuple[CaseResult, ...], Rivals | None]:
    works = [carried(setting.face, load, setting.criterion) for load in loads]
    drawn = [
        None if work is None else draw_capacity(setting.face, one, work, setting.common, setting.rng)
        for one, work in zip(loads, works, strict=True)
    ]
    n = len(setting.common.strength)
    broke = _exceeded(loads, [None if one is None else one[0] for one in drawn], n)
    whole = _exceeded(loads, [None if one is None else one[1] for one in drawn], n)
    stood = _stood(setting, broke, service)
    rivals = rival_loads(broke, whole if setting.face.whole is not None else None, stood, priors)
    cases = tuple(_case(setting, *parts) for parts in zip(loads, works, drawn, strict=True))
    return tuple(_with_rivals(case, place, rivals) for place, case in enumerate(cases)), rivals


def _exceeded(loads: Sequence[LoadCase], capacities: Sequence[Floats | None], n: int) -> Floats:
    """P(load > capacity), (loads, draws); 0 where nothing pulls at the welds."""
    return np.array(
        [
            np.zeros(n) if capacity is None else exceeds_each(load.force_n, capacity)
            for load, capacity in zip(loads, capacities, strict=True)
        ]
    )


def _stood(setting: _Setting, broke: Floats, service: ServiceSurvived | None) -> Floats:
    """P(the service was stood), (loads, draws)."""
    if service is None or service.times == 0:
        return np.ones_like(broke)
    if service.load is None:
        return np.asarray((1 - broke) ** service.times)
    work = carried(setting.face, service.load, setting.criterion)
    if work is None:
        return np.ones_like(broke)
    built, _ = draw_capacity(setting.face, service.load, work, setting.common, setting.rng)
    return np.broadcast_to((1 - exceeds_each(service.load.force_n, built)) ** service.times, broke.shape)


def _case(setting: _Setting, load: LoadCase, work: Carried | None, drawn: Drawn | None) -> CaseResult:
    if work is None or drawn is None:
        return CaseResult(load, exceeds_built=0.0, exceeds_designed=0.0, reasons={"as_built_n": NOTHING_PULLS})
    face, middle = setting.face, float(work.reach_mm[work.middle])
    reasons = {} if work.whole is not None else {"as_designed_n": NO_CONTACT}
    case = CaseResult(
        load,
        knock_down=work.kept,
        peak=peak_for(face, face.built(), load, load.force_n.median, middle, setting.criterion),
        reasons=reasons,
    )
    if len(work.reach_mm) > 1 or face.unknown.any() or _reaches_whole(face):
        return _by_draws(case, drawn)
    return _closed_form(case, setting, work)


def _reaches_whole(face: FaceWelds) -> bool:
    """Whether the bonded area's uncertainty goes past the fully bonded face, where it is cut off."""
    return (face.known_fraction or 0.0) * math.exp(
        2 * Z90 * face.bonded_relative_sd
    ) > 1 and face.bonded_relative_sd > 0


def _by_draws(case: CaseResult, drawn: Drawn) -> CaseResult:
    ranges: list[Range | None] = []
    reasons = dict(case.reasons)
    for name, capacity in zip(("as_built_n", "as_designed_n"), drawn, strict=True):
        low, high = (0.0, 0.0) if capacity is None else np.quantile(capacity, [0.05, 0.95])
        ranges.append(Range(float(low), float(high)) if 0 < high < _ENDLESS_N else None)
        if high >= _ENDLESS_N:
            reasons[name] = NO_UPPER_END
    chances = [None if one is None else float(exceeds_each(case.load.force_n, one).mean()) for one in drawn]
    return replace(
        case,
        as_built_n=ranges[0],
        as_designed_n=ranges[1],
        exceeds_built=chances[0],
        exceeds_designed=chances[1],
        method="draws",
        reasons=reasons,
    )


def _closed_form(case: CaseResult, setting: _Setting, work: Carried) -> CaseResult:
    face, load = setting.face, case.load
    spread = common_log_sd(face, work.built_scale, work.built_edge)
    geometry = Range.around(1 / float(work.built[1, 0]), math.hypot(spread, face.bonded_relative_sd))
    built, whole = setting.strength.times(geometry), None
    if work.whole is not None:
        spread = common_log_sd(face, work.whole_scale, work.whole_edge)
        whole = setting.strength.times(Range.around(1 / float(work.whole[0]), spread))
    return replace(
        case,
        as_built_n=built,
        as_designed_n=whole,
        exceeds_built=exceeds_lognormal(load.force_n, built),
        exceeds_designed=None if whole is None else exceeds_lognormal(load.force_n, whole),
        method="closed form",
    )


def _with_rivals(case: CaseResult, place: int, rivals: Rivals | None) -> CaseResult:
    if rivals is None:
        return replace(case, reasons=case.reasons | {"explains": NO_LOAD_BROKE_IT})
    return replace(case, broke=rivals.broke[place], explains=rivals.explains[place], whole_too=rivals.whole_too[place])
