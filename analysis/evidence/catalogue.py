"""The catalogue of evidence: what can be seen, and how probable each sight is under each mode.

The one data file is `evidence.toml`. It holds probabilities, never weights: weights follow from them, so that
the weight of "yes" and the weight of "no" can't contradict each other.
"""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

MODES = ("layer_delamination", "under_extrusion", "overload", "interference_rub")

# No sight is certain or impossible: a probability of 0 or 1 could never be outweighed by anything else.
LOWEST_P, HIGHEST_P = 0.01, 0.99


class CatalogueError(ValueError):
    """The data file contradicts itself; the message names the entry and what to mend."""


@dataclass(frozen=True)
class Observation:
    """One thing that can be seen or measured.

    `bins` names the possible outcomes: ("yes", "no") for an answer, value ranges for a measure. `likelihood[mode]`
    holds P(outcome | mode) in the same order and sums to 1. `edges` are the inner limits of a measure's ranges, in
    the measure's own unit.
    """

    code: str
    words: str
    look_for: str
    kind: str  # "answer" or "measure"
    group: str
    bins: tuple[str, ...]
    likelihood: Mapping[str, tuple[float, ...]]
    reason: str
    source: str
    status: str
    edges: tuple[float, ...] = ()
    unit: str = ""
    causes: Mapping[str, tuple[float, float]] | None = None  # cause -> P(yes | cause), P(yes | no such cause)
    because: str = ""  # what a "yes" adds to a sentence after "because"
    excludes: tuple[str, ...] = ()  # observations that can't be true of the same break as well
    after: tuple[str, ...] = ()  # proposed only once one of these was seen

    def weights_db(self, outcome: str = "yes") -> dict[str, float]:
        """Weight of one outcome for each mode, dB against the mean of the four modes (the common reference)."""
        if outcome == "cant_tell":
            return dict.fromkeys(MODES, 0.0)
        index = self.bins.index(outcome)
        return weights_from({mode: self.likelihood[mode][index] for mode in MODES})


@dataclass(frozen=True)
class Cause:
    """A contributing cause: reported beside the modes, never instead of them."""

    code: str
    words: str
    reason: str
    because: str = ""


@dataclass(frozen=True)
class ModeWords:
    """How sentences about a mode begin, and what makes it the cause of a break rather than a finding beside it.

    Where `ties` names observations, the mode's marks contribute to another mode's break only if one of these was
    seen; else they are an incidental finding, which `mend` says what to do about.
    """

    head: str
    ties: tuple[str, ...] = ()
    mend: str = ""


@dataclass(frozen=True)
class Catalogue:
    """Everything in the data file, checked."""

    modes: Mapping[str, str]  # code -> words
    meanings: Mapping[str, str]
    marks: Mapping[str, tuple[str, ...]]  # mode -> the groups of evidence that show the mode itself
    told: Mapping[str, ModeWords]
    groups: Mapping[str, str]
    prior: Mapping[str, float]
    prior_name: str
    prior_reason: str
    settings: Mapping[str, float]
    learning: Mapping[str, float]
    observations: Mapping[str, Observation]
    causes: Mapping[str, Cause]

    def answers(self) -> tuple[Observation, ...]:
        """The observations that a person answers, in the order of the file."""
        return tuple(o for o in self.observations.values() if o.kind == "answer")


def weights_from(likelihood: Mapping[str, float]) -> dict[str, float]:
    """10 log10 of each mode's likelihood over the mean of all modes: dB, positive speaks for the mode."""
    mean = sum(likelihood.values()) / len(likelihood)
    return {mode: 10.0 * math.log10(p / mean) for mode, p in likelihood.items()}


@cache
def load_catalogue() -> Catalogue:
    """Read and check the data file that ships with the program."""
    return parse_catalogue(resources.files("analysis.evidence").joinpath("evidence.toml").read_text(encoding="utf-8"))


def parse_catalogue(text: str) -> Catalogue:
    """Catalogue from TOML text; raises CatalogueError naming the entry that is wrong."""
    data = tomllib.loads(text)
    groups = {g["code"]: str(g["words"]) for g in data["group"]}
    causes = {c["code"]: Cause(c["code"], c["words"], c["reason"], c["because"]) for c in data["cause"]}
    entries = [_observation(entry, groups, causes) for entry in data["observation"]]
    observations = {entry.code: entry for entry in entries}
    if len(observations) != len(entries):
        raise CatalogueError("two observations share a code; give each its own")
    _check_names(data, observations)
    modes = {m["code"]: str(m["words"]) for m in data["mode"]}
    if tuple(modes) != MODES:
        raise CatalogueError(f"the modes must be {', '.join(MODES)}, in this order")
    prior = data["prior"]
    return Catalogue(
        modes=modes,
        meanings={m["code"]: str(m["meaning"]) for m in data["mode"]},
        marks={m["code"]: tuple(m["marks"]) for m in data["mode"]},
        told={m["code"]: ModeWords(m["head"], tuple(m.get("ties", ())), m.get("mend", "")) for m in data["mode"]},
        groups=groups,
        prior=check_prior({mode: prior[mode] for mode in MODES}),
        prior_name=prior["name"],
        prior_reason=prior["reason"],
        settings={name: float(value) for name, value in data["settings"].items()},
        learning={name: float(value) for name, value in data["learning"].items()},
        observations=observations,
        causes=causes,
    )


def check_prior(prior: Mapping[str, float]) -> dict[str, float]:
    """The prior scaled to sum 1; every mode must be named and none may be 0 or less, or not a number."""
    if set(prior) != set(MODES):
        raise CatalogueError(f"the prior must name exactly {', '.join(MODES)}")
    for mode, value in prior.items():
        if not (math.isfinite(value) and value > 0):
            raise CatalogueError(f"the prior of {mode} is {value}; give a share above 0, however small")
    total = sum(prior.values())
    return {mode: prior[mode] / total for mode in MODES}


def _observation(entry: Mapping[str, Any], groups: Mapping[str, str], causes: Mapping[str, Cause]) -> Observation:
    code = entry["code"]
    if entry["group"] not in groups:
        raise CatalogueError(f"{code}: no group {entry['group']}; list it under [[group]] first")
    if unknown := set(entry.get("causes", {})) - set(causes):
        raise CatalogueError(f"{code}: no cause {', '.join(sorted(unknown))}; list it under [[cause]] first")
    is_measure = entry["kind"] == "measure"
    bins = tuple(entry["bins"]) if is_measure else ("yes", "no")
    edges = tuple(float(edge) for edge in entry.get("edges", ()))
    if is_measure and (len(edges) != len(bins) - 1 or list(edges) != sorted(set(edges))):
        raise CatalogueError(f"{code}: {len(bins)} ranges need {len(bins) - 1} rising limits")
    shares = {mode: _shares(code, mode, entry["p"][mode], is_measure, len(bins)) for mode in MODES}
    for cause, pair in entry.get("causes", {}).items():
        for value in pair:
            _check_p(f"{code}, cause {cause}", value)
    return Observation(
        code=code,
        words=entry["words"],
        look_for=entry["look_for"],
        kind=entry["kind"],
        group=entry["group"],
        bins=bins,
        likelihood=shares,
        reason=entry["reason"],
        source=entry["source"],
        status=entry["status"],
        edges=edges,
        unit=entry.get("unit", ""),
        causes={c: (float(p[0]), float(p[1])) for c, p in entry.get("causes", {}).items()},
        because=entry.get("because", ""),
        excludes=tuple(entry.get("excludes", ())),
        after=tuple(entry.get("after", ())),
    )


def _check_names(data: Mapping[str, Any], observations: Mapping[str, Observation]) -> None:
    """Every observation that another entry or a mode refers to must exist, and be answered with yes or no."""
    named = [(entry.code, other) for entry in observations.values() for other in (*entry.excludes, *entry.after)]
    named += [(mode["code"], tie) for mode in data["mode"] for tie in mode.get("ties", ())]
    for code, other in named:
        if other not in observations or observations[other].kind != "answer":
            raise CatalogueError(f"{code}: no question {other}; name one that is answered with yes or no")


def _shares(code: str, mode: str, stated: Any, is_measure: bool, count: int) -> tuple[float, ...]:
    shares = tuple(float(value) for value in stated) if is_measure else (float(stated), 1.0 - float(stated))
    if len(shares) != count or abs(sum(shares) - 1.0) > 1e-9:
        raise CatalogueError(f"{code}: the shares under {mode} must be {count} and sum to 1")
    for value in shares:
        _check_p(f"{code}, {mode}", value)
    return shares


def _check_p(where: str, value: float) -> None:
    if not LOWEST_P <= value <= HIGHEST_P:
        raise CatalogueError(f"{where}: {value} is outside {LOWEST_P} to {HIGHEST_P}; nothing is certain")
