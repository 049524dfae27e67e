"""Could this face have carried that load, as it was built, and had all of its contact held?

Model: capacity along a load = strength of the interface x what the geometry carries for each MPa / notch factor. The
logarithms of strength, notch, scale, outline and bonded area are taken as normal and independent; the same strength,
notch, scale and outline stand behind the face as built and the fully bonded one. A part's capacity is one number that
isn't known, the same at every loading until it broke: ageing, fatigue and creep are not in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analysis.strength.assessment import Assessment, CaseResult, ServiceSurvived
from analysis.strength.capacity import Carried, carried, common_log_sd, peak_for
from analysis.strength.draws import Common, Drawn, common_draws, draw_capacity
from analysis.strength.facewelds import NO_CONTACT, NO_SCALE, NO_WELD, FaceWelds
from analysis.strength.interference import Rivals, exceeds_each, exceeds_lognormal, rival_loads
from analysis.strength.knockdown import knock_down
from analysis.strength.loadcase import LoadCase, LoadRefused
from analysis.strength.ranges import Range
from analysis.strength.weldgroup import CRITERIA, Criterion
from analysis.strength.wording import sentences

Floats = NDArray[np.float64]
DRAWS = 40_000
NO_STRENGTH = "No strength across the layers is known for this material, so no capacity in N is offered."
NO_LOAD_BROKE_IT = "None of the loads given can have broken this face: another load, or another cause, is missing here."
NOTHING_PULLS = "This load presses the halves together; no weld is pulled, so it has no capacity by this criterion."


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
        No load, priors that don't fit, or a notch factor below 1.
    """
    loads = (load,) if isinstance(load, LoadCase) else tuple(load)
    shares = _priors(loads, priors)
    if notch is not None and notch.low < 1:
        raise LoadRefused("A notch factor is 1 or more: give the range from 1 for no effect upward.")
    if criterion not in CRITERIA:
        raise ValueError(f"no such criterion: {criterion!r}")
    fall, why_no_fall = knock_down(face)
    reasons = {} if fall is not None else {"knock_down": why_no_fall}
    why = _not_offered(face, weld_mpa)
    if why or weld_mpa is None:
        reasons["capacity"] = why
        cases: tuple[CaseResult, ...] = tuple(CaseResult(one, reasons={"as_built_n": why}) for one in loads)
        rivals = None
    else:
        cases, rivals = _held(face, loads, weld_mpa, notch, service_survived, criterion, shares, seed, draws)
    told = [one.whole_too for one in cases if one.whole_too is not None and (one.explains or 0) > 0.01]
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
    if face.mm_per_px is None:
        return NO_SCALE
    if weld_mpa is None:
        return NO_STRENGTH
    return "" if face.bonded.any() else NO_WELD


def _held(
    face: FaceWelds,
    loads: Sequence[LoadCase],
    weld_mpa: Range,
    notch: Range | None,
    service: ServiceSurvived | None,
    criterion: Criterion,
    priors: Sequence[float],
    seed: int,
    n: int,
) -> tuple[tuple[CaseResult, ...], Rivals | None]:
    strength = weld_mpa if notch is None else weld_mpa.over(notch)
    rng = np.random.default_rng(seed)
    common = common_draws(face, strength, rng, n)
    works = [carried(face, load, criterion) for load in loads]
    drawn = [
        None if work is None else draw_capacity(face, one, work, common, rng)
        for one, work in zip(loads, works, strict=True)
    ]
    broke = _exceeded(loads, [None if one is None else one[0] for one in drawn], n)
    whole = None if face.whole is None else _exceeded(loads, [None if one is None else one[1] for one in drawn], n)
    stood = _stood(face, broke, service, criterion, common, rng)
    rivals = rival_loads(broke, whole, stood, priors)
    cases = tuple(
        _case(face, load, work, draw, strength, criterion) for load, work, draw in zip(loads, works, drawn, strict=True)
    )
    return tuple(_with_rivals(case, i, rivals) for i, case in enumerate(cases)), rivals


def _exceeded(loads: Sequence[LoadCase], capacities: Sequence[Floats | None], n: int) -> Floats:
    """P(load > capacity), (loads, draws); 0 where nothing pulls at the welds."""
    return np.array(
        [
            np.zeros(n) if capacity is None else exceeds_each(load.force_n, capacity)
            for load, capacity in zip(loads, capacities, strict=True)
        ]
    )


def _stood(
    face: FaceWelds,
    broke: Floats,
    service: ServiceSurvived | None,
    criterion: Criterion,
    common: Common,
    rng: np.random.Generator,
) -> Floats:
    """P(the service was stood), (loads, draws)."""
    if service is None or service.times == 0:
        return np.ones_like(broke)
    if service.load is None:
        return np.asarray((1 - broke) ** service.times)
    work = carried(face, service.load, criterion)
    if work is None:
        return np.ones_like(broke)
    built, _ = draw_capacity(face, service.load, work, common, rng)
    return np.broadcast_to((1 - exceeds_each(service.load.force_n, built)) ** service.times, broke.shape)


def _case(
    face: FaceWelds,
    load: LoadCase,
    work: Carried | None,
    drawn: Drawn | None,
    strength: Range,
    criterion: Criterion,
) -> CaseResult:
    if work is None or drawn is None:
        return CaseResult(load, exceeds_built=0.0, exceeds_designed=0.0, reasons={"as_built_n": NOTHING_PULLS})
    centre = (face.outline.section.x_mm, face.outline.section.y_mm)
    middle = float(work.reach_mm[len(work.reach_mm) // 2])
    peak = peak_for(face.built(), load, centre, load.force_n.median, middle, criterion)
    reasons = {} if work.whole_log is not None else {"as_designed_n": NO_CONTACT}
    if len(work.reach_mm) > 1 or face.unknown.any():
        built, whole = _range_of(drawn[0]), None if drawn[1] is None else _range_of(drawn[1])
        chances = [None if d is None else float(exceeds_each(load.force_n, d).mean()) for d in drawn]
        return CaseResult(load, built, whole, chances[0], chances[1], "draws", peak, reasons=reasons)
    spread = common_log_sd(face, work.built_scale, work.built_edge)
    built = _closed(work.built_log[1], strength, spread, face.bonded_relative_sd)
    whole = None
    if work.whole_log is not None:
        whole = _closed(work.whole_log, strength, common_log_sd(face, work.whole_scale, work.whole_edge), 0.0)
    return CaseResult(
        load,
        built,
        whole,
        exceeds_lognormal(load.force_n, built),
        None if whole is None else exceeds_lognormal(load.force_n, whole),
        "closed form",
        peak,
        reasons=reasons,
    )


def _closed(log: Floats, strength: Range, geometry_sd: float, bonded_sd: float) -> Range:
    return strength.times(Range.around(math.exp(float(log[0])), math.hypot(geometry_sd, bonded_sd)))


def _range_of(drawn: Floats) -> Range:
    low, high = np.quantile(drawn, [0.05, 0.95])
    return Range(float(low), float(high))


def _with_rivals(case: CaseResult, place: int, rivals: Rivals | None) -> CaseResult:
    if rivals is None:
        return replace(case, reasons=case.reasons | {"explains": NO_LOAD_BROKE_IT})
    return replace(
        case,
        broke=rivals.broke[place],
        explains=rivals.explains[place],
        whole_too=rivals.whole_too[place],
    )
