"""The groups that are held against each other, and the figures of each."""

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from analysis.life.ages import Ages
from analysis.life.curve import Curve, survival
from analysis.life.logrank import LogRank, log_rank
from analysis.life.rate import mean_life_limits
from analysis.life.weibull import Ageing, Weibull, ageing, fit_weibull
from server.history.search_rules import NO_VERDICT
from server.life.asked import BY_FAILURE, Asked
from server.life.units import Unit, counts
from server.wording import CODES

DRAWN = 5  # curves that can still be told apart
FEW = 10  # fewer failures than this say little
FOR_A_FIT = 3  # failures at different ages that a Weibull fit takes at least
FOR_THE_TEST = 5  # failures that each group has to expect for the chi-square approximation


@dataclass(frozen=True)
class Fit:
    """A Weibull fit with the 95 % limits of its likelihood, and whether age makes a difference."""

    weibull: Weibull
    shape_limits: tuple[float, float]
    scale_limits: tuple[float, float]
    ageing: Ageing | None


@dataclass(frozen=True)
class Group:
    """Builds that are looked at together; `key` is what the address takes to ask for this group alone."""

    name: str
    key: str
    ages: Ages
    curve: Curve
    fit: Fit | None

    @property
    def failures(self) -> int:
        """Failures that count."""
        return self.ages.failures

    @property
    def mean_life(self) -> tuple[float, float | None]:
        """Limits (95 %) of the mean days to a failure if age made no difference."""
        return mean_life_limits(self.ages)


@dataclass(frozen=True)
class Grouped:
    """The groups with most failures, how many more there are, and whether those shown differ."""

    groups: list[Group]
    more: int
    compared: LogRank | None

    @property
    def test_is_rough(self) -> bool:
        """Whether a group expects too few failures for the p to be more than a hint."""
        return self.compared is not None and min(self.compared.expected) < FOR_THE_TEST


@dataclass(frozen=True)
class Names:
    """What printers and spools are called."""

    printers: Mapping[int, str]
    spools: Mapping[int, str]


def group_units(units: list[Unit], asked: Asked, names: Names) -> Grouped:
    """Return the units by what they are grouped by; the groups with most failures, then with most units, come first."""
    lives = list(_by_failure(units, asked) if asked.group in BY_FAILURE else _by_build(units, asked, names))
    lives.sort(key=lambda life: (-life[2].failures, -len(life[2]), life[0].casefold()))
    shown = sorted(lives[:DRAWN], key=lambda life: life[0].casefold())
    groups = [Group(name, key, ages, survival(ages), _fit(ages)) for name, key, ages in shown]
    # Kinds of failure are borne by the same units, so that no test of separate groups fits them.
    test = len(groups) > 1 and asked.group not in BY_FAILURE
    return Grouped(groups, max(0, len(lives) - DRAWN), log_rank([group.ages for group in groups]) if test else None)


def _ages(units: list[Unit], failed: Callable[[Unit], bool]) -> Ages:
    return Ages.each((unit.days for unit in units), (failed(unit) for unit in units))


def _by_build(units: list[Unit], asked: Asked, names: Names) -> Iterator[tuple[str, str, Ages]]:
    groups: dict[tuple[str, str], list[Unit]] = defaultdict(list)
    for unit in units:
        groups[_named(unit, asked.group, names)].append(unit)
    for (name, key), own in groups.items():
        yield name, key, _ages(own, lambda unit: bool(unit.broke and counts(unit.broke, asked)))


def _named(unit: Unit, group: str, names: Names) -> tuple[str, str]:
    made = unit.made
    if group == "material":
        return made.material or "material not known", made.material or ""
    if group == "printer":
        return names.printers.get(made.printer_id or 0, "printer not known"), str(made.printer_id or "")
    if group == "spool":
        return names.spools.get(made.spool_id or 0, "spool not known"), str(made.spool_id or "")
    if group == "revision":
        return f"revision {made.revision}", str(made.revision)
    return "all builds", ""


def _by_failure(units: list[Unit], asked: Asked) -> Iterator[tuple[str, str, Ages]]:
    """The same units once for each kind of failure; a failure of another kind ends the watch without one of this."""
    found: Counter[str] = Counter()
    for unit in units:
        if unit.broke and counts(unit.broke, asked):
            found.update(_kinds(unit, asked.group))
    for kind, _ in found.most_common(DRAWN + 20):
        name = {**CODES["mode"], NO_VERDICT: "no verdict yet"}.get(kind, kind) if asked.group == "mode" else kind
        yield name, kind, _ages(units, lambda unit, kind=kind: _of_kind(unit, asked, kind))  # type: ignore[misc]


def _of_kind(unit: Unit, asked: Asked, kind: str) -> bool:
    return bool(unit.broke and counts(unit.broke, asked) and kind in _kinds(unit, asked.group))


def _kinds(unit: Unit, group: str) -> set[str]:
    if unit.broke is None:
        return set()
    if group == "mode":
        return {unit.broke.mode or NO_VERDICT}
    return {name.casefold() for name in unit.broke.places} or {"site not logged"}


def _fit(ages: Ages) -> Fit | None:
    if len(set(ages.reached[ages.failed])) < FOR_A_FIT:
        return None
    fitted, unaged = fit_weibull(ages), fit_weibull(ages, shape=1.0)
    if fitted is None or unaged is None or not math.isfinite(fitted.scale):
        return None
    return Fit(fitted, fitted.shape_limits(), fitted.scale_limits(), ageing(fitted, unaged))
