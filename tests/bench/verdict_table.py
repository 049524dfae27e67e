"""Scores of verdicts, each with its bootstrap interval, and who was taken for whom."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analysis.evidence.catalogue import MODES
from analysis.evidence.observations import Seen, from_measures
from analysis.evidence.scores import bootstrap_interval, brier_sum, calibration_error, log_score
from analysis.evidence.verdict import UNDETERMINED, weigh

PROFILES = ("easy", "typical", "hard")
SURE = 0.8  # a verdict that gives its mode this much has to be right
LEVEL = 0.90


@dataclass(frozen=True)
class Told:
    """One face's verdict beside its true mode."""

    name: str
    profile: str
    truth: str
    primary: str
    probabilities: Mapping[str, float]

    @property
    def best(self) -> str:
        """The most probable mode, named or not."""
        return max(MODES, key=lambda mode: self.probabilities[mode])

    @property
    def row(self) -> list[float]:
        """Probabilities in the order of MODES."""
        return [self.probabilities[mode] for mode in MODES]


def told_of(folder: Path, result: Mapping[str, Any] | None, answers: Sequence[Seen] = ()) -> Told:
    """The verdict on one face, from its measures and perhaps answers; a refused face is undetermined, all even."""
    truth = json.loads((folder / "truth.json").read_text())
    verdict = weigh([*(from_measures(result) if result else []), *answers])
    return Told(
        folder.name, truth["profile"], truth["labels"]["primary"], verdict.primary, dict(verdict.probabilities)
    )


def _accuracy(cases: Sequence[Told]) -> float | None:
    return sum(c.primary == c.truth for c in cases) / len(cases)


def _best_guess(cases: Sequence[Told]) -> float | None:
    return sum(c.best == c.truth for c in cases) / len(cases)


def _undetermined(cases: Sequence[Told]) -> float | None:
    return sum(c.primary == UNDETERMINED for c in cases) / len(cases)


def _when_sure(cases: Sequence[Told]) -> float | None:
    sure = [c for c in cases if max(c.row) >= SURE]
    return sum(c.best == c.truth for c in sure) / len(sure) if sure else None


def _brier(cases: Sequence[Told]) -> float | None:
    return brier_sum([c.row for c in cases], [MODES.index(c.truth) for c in cases])


def _log(cases: Sequence[Told]) -> float | None:
    return log_score([c.row for c in cases], [MODES.index(c.truth) for c in cases])


def _ece(cases: Sequence[Told]) -> float | None:
    return calibration_error([max(c.row) for c in cases], [c.best == c.truth for c in cases])[0]


# name, score, goal; "undetermined" counts as wrong in the first row and nowhere else.
ROWS: tuple[tuple[str, Callable[[Sequence[Told]], float | None], str], ...] = (
    ("mode named rightly", _accuracy, ">= 0.90 / 0.80 / 0.60"),
    ("  undetermined", _undetermined, ""),
    ("  best guess right", _best_guess, ""),
    ("right where 80 % or more", _when_sure, ">= 0.85 over all"),
    ("Brier score (sum form)", _brier, "<= 0.30 over all"),
    ("log score, nat", _log, ""),
    ("ECE, five equal bins", _ece, "<= 0.10 over all"),
)
ANSWERED_GOAL = ">= 0.95 over all"


def verdict_table(cases: Sequence[Told], title: str, goals: bool = True) -> list[str]:
    """One line a score by profile and over all, with 90 % bootstrap intervals over faces, then the confusion table."""
    if not cases:
        return [f"{title}: no faces"]
    parts = [[c for c in cases if c.profile == p] for p in PROFILES] + [list(cases)]
    heads = [f"{name} ({len(part)})" for name, part in zip((*PROFILES, "all"), parts, strict=True)]
    lines = [title, f"{'':26s}" + "".join(f"{h:>20s}" for h in heads) + "   goal easy / typical / hard"]
    for place, (name, score, goal) in enumerate(ROWS):
        shown = goal if goals else (ANSWERED_GOAL if place == 0 else "")
        lines.append(f"{name:26s}" + "".join(f"{_cell(part, score):>20s}" for part in parts) + f"   {shown}")
    sure = sum(max(c.row) >= SURE for c in cases)
    lines.append(f"80 % or more was said of {sure} of {len(cases)}; in brackets the {LEVEL:.0%} bootstrap interval")
    return lines + confusion(cases)


def _cell(part: Sequence[Told], score: Callable[[Sequence[Told]], float | None]) -> str:
    value = score(part) if part else None
    if value is None:
        return "-"
    interval = bootstrap_interval(part, score, LEVEL)
    return f"{value:.3f} " + (f"[{interval[0]:.2f} {interval[1]:.2f}]" if interval else "[ -    - ]")


def confusion(cases: Sequence[Told]) -> list[str]:
    """True mode down, what was said across."""
    said = (*MODES, UNDETERMINED)
    lines = [f"{'true mode, said across':26s}" + "".join(f"{name:>20s}" for name in said)]
    for truth in sorted({c.truth for c in cases}, key=MODES.index):
        counts = [sum(c.truth == truth and c.primary == name for c in cases) for name in said]
        lines.append(f"{truth:26s}" + "".join(f"{count:20d}" for count in counts))
    return lines
