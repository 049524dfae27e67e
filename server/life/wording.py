"""What the figures mean, in words; never more than they carry."""

import math

from server.life.groups import FEW, FOR_A_FIT, FOR_THE_TEST, Group, Grouped
from server.life.units import REASONS

FEW_WORDS = (
    f"Few failures say little. With fewer than {FEW} in a group its curve, fit and comparison are hints at best "
    "(the number is a judgement). Even the handbook’s example of 10 failures among 20 units (NIST e-Handbook, 8.4.1.3) "
    "can’t tell ageing from chance: its shape is 1.72, and the 95 % interval of that holds 1."
)


def days(value: float | None) -> str:
    """Write a number of days with three figures that count."""
    if value is None:
        return "not known"
    if not math.isfinite(value):
        return "no end in sight"
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def span(limits: tuple[float, float | None], digits: int = 3) -> str:
    """Write an interval; where it has no upper end, say so."""
    low, high = limits
    if high is None or not math.isfinite(high):
        return f"from {_short(low, digits)} up"
    return f"{_short(low, digits)} to {_short(high, digits)}"


def _short(value: float, digits: int) -> str:
    if value >= 10 ** (digits - 1):
        return f"{value:.0f}"
    return f"{value:.{digits}g}"


def shape_words(group: Group) -> str:
    """Say what the shape of a group's fit means, if its interval says anything; "" without a fit."""
    if group.fit is None:
        return ""
    low, high = group.fit.shape_limits
    if low <= 1 <= high:
        return "Ageing can’t be told from chance: the interval holds 1, at which any day is as dangerous as the first."
    told = (
        "Wears out: the longer it is in use, the likelier it fails on a given day."
        if low > 1
        else "Early failures: most fail soon after fitting; what stands the beginning lasts longer."
    )
    if group.failures >= FEW:
        return told
    return f"{told} That rests on {group.failures} failures only, and the next may overturn it."


def group_facts(group: Group) -> list[tuple[str, str]]:
    """Return the figures of a group, each with its interval."""
    low, high = group.mean_life
    rate = (1000 / high if high else 0.0, 1000 / low)
    facts = [
        ("Builds", f"{len(group.ages)}: {group.failures} failed, {len(group.ages) - group.failures} had not"),
        ("In use together", f"{days(group.ages.total)} days"),
        ("Failures in 1000 days", f"{1000 * group.failures / group.ages.total:.2g} (95 %: {span(rate, 2)})"),
        ("Half had failed by", f"{days(group.curve.median)} days" if group.curve.median else "not come to half yet"),
    ]
    if group.fit is None:
        return [*facts, ("Weibull fit", no_fit(group))]
    fit = group.fit
    tenth = ("A tenth failed by", f"{days(fit.weibull.age_at(0.1))} days, by the fit")
    return [
        *facts,
        ("Weibull shape", f"{fit.weibull.shape:.2f} (95 %: {span(fit.shape_limits)})"),
        ("Weibull scale", f"{days(fit.weibull.scale)} days (95 %: {span(fit.scale_limits)}): by then 63 % have failed"),
        *([tenth] if group.failures >= FEW else []),
    ]


def no_fit(group: Group) -> str:
    """Say why a group has no fit."""
    ages = len(set(group.ages.reached[group.ages.failed]))
    return f"none: it takes failures at {FOR_A_FIT} different ages, and there {'is' if ages == 1 else 'are'} {ages}"


def compared_words(grouped: Grouped, by_failure: bool) -> str:
    """Say whether the groups differ, and how far that can be trusted."""
    if by_failure:
        return (
            "These curves are of the same builds, each for one kind of failure, as if the others could not happen. "
            "No test of separate groups fits them."
        )
    found = grouped.compared
    if len(grouped.groups) < 2:
        return ""
    if found is None:
        return "Whether the groups differ can’t be tested: at the age of no failure were builds of two groups watched."
    p = "below 0.001" if found.p < 0.001 else f"{found.p:.3f}" if found.p < 0.1 else f"{found.p:.2f}"
    told = (
        ("That is seldom chance alone." if found.p < 0.05 else "Chance alone often sets them this far apart.")
        if not grouped.test_is_rough
        else (f"But a group expects fewer than {FOR_THE_TEST} failures, and then this p is no more than a hint.")
    )
    return (
        f"Log-rank test of {len(grouped.groups)} groups: chi-square {found.chi2:.2f}, {found.df} "
        f"degree{'s' if found.df > 1 else ''} of freedom, p {p}. {told}"
    )


def lasted_words(lasted: float | None) -> str:
    """Say for how long a build had been in use when it failed."""
    if lasted is None:
        return "days in use not known"
    if lasted < 1:
        return "on the day it was fitted"
    return f"after {lasted:.0f} day{'s' if lasted > 1 else ''} in use"


def left_out_words(left_out: dict[str, int]) -> list[str]:
    """Say what could not be counted, and why."""
    return [f"{n} {REASONS[code].format(s='s' if n > 1 else '')}" for code, n in sorted(left_out.items())]


def few(grouped: Grouped) -> bool:
    """Whether the warning of few failures is due."""
    return any(group.failures < FEW for group in grouped.groups)
