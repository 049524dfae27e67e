"""How the intervals change with marks: narrower as far as that was checked on unseen faces, wider on contradiction."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.common.caveats import warning
from analysis.measures.areas import Areas
from analysis.measures.intervals import Z90, Spread
from analysis.welds.adapting import Adaptation

# By marks set, half of each kind: what the share's reader part is multiplied by. The largest ratio of error to interval
# (0.92 quantile) over simulated marks on 36 practice faces and 60 rendered ones, none of them trained on, two sets of
# marks each (`python -m tests.bench.marked`). The fraction's needs no such factor: it narrows with the reader's doubt
# alone, and on the rendered faces by no more than it may.
CHECKED = ((0, 1.0), (2, 0.95), (4, 0.93), (8, 0.85))
AGREES = 0.12  # disagreement that nine in ten sets of right marks stay below; one wrong mark of four gives 0.17
LOST = 0.3  # judgement: from here on nothing that the marks say is believed to have been understood
WIDEST = 1.6  # judgement: what the reader's part is multiplied by then


def reader_factors(found: Adaptation) -> tuple[float, float]:
    """What the reader's standard deviation of share and of fraction is multiplied by after these marks."""
    pairs = 2 * min(found.bonded, found.bare)  # one kind alone checks nothing
    agreeing = float(np.interp(pairs, *np.array(CHECKED).T))
    lost = float(np.clip((found.disagreement - AGREES) / (LOST - AGREES), 0, 1))
    return agreeing + lost * (WIDEST - agreeing), 1.0 + lost * (WIDEST - 1.0)


def after_marks(spread: Spread, areas: Areas, found: Adaptation | None) -> Spread:
    """The spread with the reader's part multiplied; outline and scale are known no better by marks."""
    if found is None or not found.count:
        return spread
    share, fraction = reader_factors(found)
    over = float(areas.known.sum()) / max(float(areas.nominal[areas.known].sum()), 1e-6)
    rest = Z90 * float(np.hypot(spread.parts["outline"], spread.parts["scale"]))
    halves = [
        float(np.sqrt(max(half**2 - part**2, 0.0) * factor**2 + part**2))
        for half, part, factor in ((spread.share_half, rest, share), (spread.fraction_half, rest * over, fraction))
    ]
    return replace(spread, share_half=halves[0], fraction_half=halves[1], parts=spread.parts | {"marks": share})


def mark_warnings(found: Adaptation | None) -> list[str]:
    """What is to be said of the marks' own weakness."""
    if found is None:
        return []
    said = []
    if found.off:
        said.append(warning("marks_off", count=found.off))
    if found.disagreement > (AGREES + LOST) / 2:
        said.append(warning("marks_disagree"))
    if found.count and not min(found.bonded, found.bare):
        said.append(warning("marks_one_kind", kind="bonded" if found.bonded else "bare"))
    return said
