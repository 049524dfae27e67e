"""How the intervals change with marks: narrower as far as that was checked on unseen faces, wider on contradiction."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analysis.common.caveats import warning
from analysis.measures.areas import Areas
from analysis.measures.intervals import Z90, Spread
from analysis.welds.adapting import Adaptation

# By marks set, the reader's standard deviation over what it is without any (`python -m tests.bench.marked`).
CHECKED = ((0, 1.0), (2, 1.0), (4, 1.0), (8, 1.0))
AGREES = 0.2  # judgement: a reading that gives its marks 80 % has understood them
WIDEST = 1.6  # judgement: where half of the marks contradict the reading, the photo is not understood


def reader_factor(found: Adaptation) -> float:
    """What the reader's standard deviation is multiplied by after these marks."""
    counts, factors = np.array(CHECKED).T
    agreeing = float(np.interp(min(found.bonded, found.bare) * 2, counts, factors))  # one kind alone checks nothing
    lost = float(np.clip((found.disagreement - AGREES) / (0.5 - AGREES), 0, 1))
    return agreeing + lost * (WIDEST - agreeing)


def after_marks(spread: Spread, areas: Areas, found: Adaptation | None) -> Spread:
    """The spread with the reader's part multiplied; outline and scale are known no better by marks."""
    if found is None or not found.count:
        return spread
    factor = reader_factor(found)
    over = float(areas.known.sum()) / max(float(areas.nominal[areas.known].sum()), 1e-6)
    rest = Z90 * float(np.hypot(spread.parts["outline"], spread.parts["scale"]))
    halves = [
        float(np.sqrt(max(half**2 - part**2, 0.0) * factor**2 + part**2))
        for half, part in ((spread.share_half, rest), (spread.fraction_half, rest * over))
    ]
    return replace(spread, share_half=halves[0], fraction_half=halves[1], parts=spread.parts | {"marks": factor})


def mark_warnings(found: Adaptation | None) -> list[str]:
    """What is to be said of the marks' own weakness."""
    if found is None:
        return []
    said = []
    if found.off:
        said.append(warning("marks_off", count=found.off))
    if found.disagreement > AGREES:
        said.append(warning("marks_disagree"))
    if found.count and not min(found.bonded, found.bare):
        said.append(warning("marks_one_kind", kind="bonded" if found.bonded else "bare"))
    return said
