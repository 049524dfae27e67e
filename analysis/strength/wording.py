"""What an assessment says, in sentences for reading."""

from __future__ import annotations

from analysis.strength.assessment import Assessment, CaseResult

UPPER_BOUND = (
    "A capacity without the notch effect of bare patches is an upper bound: at the edge of a bare patch the stress is "
    "higher than told here."
)
INTERFACE = (
    "On bonded area the strength of the interface itself is used, not that of an upright bar over its gross section, "
    "which holds its voids already."
)
ANCHOR = (
    "How near such a figure comes: one published check of a net section read off micrographs lay 12 % below the test "
    "(Tronvoll, Welo and Elverum 2018, PLA across the layers)."
)
NOT_IN = "Ageing, fatigue, creep and blows are not in: the capacity is taken as one number until the break."
UNLIKELY_WORDS = (
    "None of the loads given was likely to break this face as measured: a greater load, a weaker interface or damage "
    "before the break may be missing here, and what follows rests on the far ends of the ranges."
)
UNLIKELY = 0.01  # judgement: a break less probable than this says first of all that load or strength are off
SURE = 0.65  # judgement: from here on the odds are told as leaning one way


def sentences(found: Assessment) -> tuple[str, ...]:
    """The most important first; caveats last."""
    told = [_capacity(one) for one in found.cases if one.as_built_n is not None]
    told += [_pressed(one) for one in found.cases if _is_pressed(one)]
    told += _of_the_break(found)
    if found.knock_down is not None:
        told.append(_knock_down(found))
    told += list(
        dict.fromkeys([*found.reasons.values(), *(why for one in found.cases for why in one.reasons.values())])
    )
    if any(one.as_built_n is not None for one in found.cases):
        told += [UPPER_BOUND, INTERFACE, ANCHOR, NOT_IN]
    return tuple(told)


def chance_words(p: float) -> str:
    """A probability as per cent, no surer than the model is."""
    if p < 0.01:
        return "under 1 %"
    return "over 99 %" if p > 0.99 else f"{100 * p:.0f} %"


def _force(low: float, high: float) -> str:
    return f"{low:.3g} N" if low == high else f"{float(f'{low:.2g}'):g} to {float(f'{high:.2g}'):g} N"


def _capacity(case: CaseResult) -> str:
    assert case.as_built_n is not None
    load, built, whole = case.load, case.as_built_n, case.as_designed_n
    line = f"“{load.name}”, {_force(load.force_n.low, load.force_n.high)}: "
    line += f"as built the face carries {_force(built.low, built.high)} that way"
    if whole is not None:
        line += f", fully bonded {_force(whole.low, whole.high)}"
    line += f". The load exceeds it with a chance of {chance_words(case.exceeds_built or 0.0)} as built"
    if case.exceeds_designed is not None:
        line += f" and {chance_words(case.exceeds_designed)} fully bonded"
    if case.peak is not None:
        line += f"; what limits it is {case.peak.limited_by}"
    return line + "."


def _is_pressed(case: CaseResult) -> bool:
    return case.peak is not None and case.peak.normal_mpa + case.peak.bending_mpa < 0


def _pressed(case: CaseResult) -> str:
    return (
        f"Under “{case.load.name}” the most stressed place is pressed, not pulled: layers seldom part there and bare "
        "roads bear too, so this capacity is a low guess."
    )


def _of_the_break(found: Assessment) -> list[str]:
    if found.whole_too is None:
        return []
    told = []
    if max(one.broke or 0.0 for one in found.cases) < UNLIKELY:
        told.append(UNLIKELY_WORDS)
    given = [one for one in found.cases if one.explains is not None]
    if len(given) > 1:
        shares = ", ".join(f"“{one.load.name}” {chance_words(one.explains or 0.0)}" for one in given)
        told.append(f"Which of the loads broke it: {shares}, given what the part stood before.")
    chance = chance_words(found.whole_too)
    line = f"Given that it broke, the load would have broken a fully bonded face too with a chance of {chance}"
    if found.whole_too >= SURE:
        line += ": this speaks for an overload."
    elif found.whole_too <= 1 - SURE:
        line += ": this speaks for too little bonding, not for the load."
    else:
        line += ": this can't tell an overload from too little bonding."
    return [*told, line]


def _knock_down(found: Assessment) -> str:
    assert found.knock_down is not None
    fall = found.knock_down
    (weak, least), (_, most) = fall.weakest_axis, fall.strongest_axis
    return (
        f"Against a fully bonded face it keeps {100 * fall.tension.value:.0f} % in tension, {100 * least.value:.0f} to "
        f"{100 * most.value:.0f} % in bending (least about the axis at {weak}°), {100 * fall.shear.value:.0f} % in "
        f"shear and {100 * fall.torque.value:.0f} % in torque."
    )
