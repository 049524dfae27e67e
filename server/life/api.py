"""The same figures as the page's, for the published interface."""

import math
from typing import Any

from server.api_models import LifeOut
from server.life.groups import FEW, Fit, Group
from server.life.page import Counted
from server.life.units import REASONS
from server.life.wording import no_fit


def life_out(found: Counted) -> LifeOut:
    """Return what is counted, as the published interface gives it."""
    test = found.grouped.compared
    return LifeOut(
        builds=len(found.lives.units),
        groups=[_group(group) for group in found.grouped.groups],
        more_groups=found.grouped.more,
        log_rank={"chi2": test.chi2, "df": test.df, "p": test.p, "rough": found.grouped.test_is_rough}
        if test
        else None,
        few_failures_below=FEW,
        left_out=[
            {"count": n, "why": REASONS[code].format(s="s" if n > 1 else "")}
            for code, n in found.lives.left_out.items()
        ],
        failure_ids=[broke.id for broke, _ in found.lives.listed],
    )


def _group(group: Group) -> dict[str, Any]:
    low, high = group.curve.limits()
    life_low, life_high = group.mean_life
    return {
        "name": group.name,
        "builds": len(group.ages),
        "failures": group.failures,
        "days": group.ages.total,
        "failures_per_1000_days": 1000 * group.failures / group.ages.total,
        "failures_per_1000_days_limits": [1000 / life_high if life_high else 0.0, 1000 / life_low],
        "median_days": group.curve.median,
        "curve": [
            {
                "days": float(at),
                "at_risk": int(risk),
                "failures": int(failed),
                "share": float(share),
                "limits": None if math.isnan(one) else [float(one), float(other)],
            }
            for at, risk, failed, share, one, other in zip(
                group.curve.at, group.curve.at_risk, group.curve.failures, group.curve.share, low, high, strict=True
            )
        ],
        "weibull": _fit(group.fit) if group.fit else None,
        "reason": "" if group.fit else no_fit(group),
    }


def _fit(fit: Fit) -> dict[str, Any]:
    return {
        "shape": fit.weibull.shape,
        "shape_limits": _ends(fit.shape_limits),
        "scale_days": fit.weibull.scale,
        "scale_days_limits": _ends(fit.scale_limits),
        "ageing_p": fit.ageing.p if fit.ageing else None,
    }


def _ends(limits: tuple[float, float]) -> list[float | None]:
    """JSON has no infinity: an end that isn't there is null."""
    return [limit if math.isfinite(limit) else None for limit in limits]
