"""A face read anew with what the person marked on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analysis.common.classes import UNKNOWN
from analysis.reading.half import Half
from analysis.welds.adapting import Adaptation, adapt
from analysis.welds.marks import Mark, disc, untold


def with_marks(half: Half, marks: Sequence[Mark]) -> tuple[Half, Adaptation | None]:
    """The half with its marks taken in, and what they did; the very same half where there are none.

    A place that the person calls bonded or bare can be told, whatever the reader held for grease.
    """
    if not marks:
        return half, None
    reading, found = adapt(half.view, half.reading, marks)
    unknown = half.unknown.copy()
    for mark in marks:
        if mark.code != UNKNOWN:
            unknown[disc(half.view, mark)] = False
    unknown |= untold(half.view, half.reading, marks)
    return replace(half, reading=reading, unknown=np.asarray(unknown & half.view.inside)), found
