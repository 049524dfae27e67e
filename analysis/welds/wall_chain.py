"""Along a closed wall the road is there or missing, and changes seldom: what the scores say together.

A two-state hidden Markov chain (L. R. Rabiner, Proc. IEEE 77:257, 1989): each place votes for its state, and a change
costs the more the less an end of the road is seen there. Forward and backward sums give each place's probability.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.roads.workview import Floats

VOTE = 0.25  # weight of one place's log odds: neighbouring places see the same things
CHANGE = -5.0  # log odds of a change where it is even whether an end is seen
END = 1.0  # weight of the log odds that an end is seen
# The three were chosen on 60 faces of the project's own renderer that no network had seen.
_ROUND = 120  # places read beyond the start, round the closed wall


def chain(scores: Floats, vote: float = VOTE, change: float = CHANGE, end: float = END) -> npt.NDArray[np.float64]:
    """Probability (n,) that the road is missing, from scores (n, 3): missing, begins, ends, each as log odds."""
    count = len(scores)
    at = np.arange(-_ROUND, count + _ROUND) % count
    odds = vote * np.clip(scores[at, 0].astype(float), -12, 12)
    begins, ends = np.minimum(change + end * np.clip(scores[at, 1:].T.astype(float), -8, 8), 0)
    total = forward_backward(odds, begins, ends)[_ROUND : _ROUND + count]
    return np.asarray(1 / (1 + np.exp(-np.clip(total, -60, 60))))


def forward_backward(
    odds: npt.NDArray[np.float64], begins: npt.NDArray[np.float64], ends: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Log odds (n,) of "missing" in an open chain.

    Parameters
    ----------
    odds : (n,) what each place says for itself. begins, ends : (n,) log weight of a change from there to missing, and
        from missing to there, between the place before and this one; staying weighs 0.
    """
    total = np.zeros(len(odds))
    before = odds[0]
    total[0] = before
    for k in range(1, len(odds)):
        before = odds[k] + np.logaddexp(before, begins[k]) - np.logaddexp(0, before + ends[k])
        total[k] = before
    after = 0.0
    for k in range(len(odds) - 2, -1, -1):
        ahead = odds[k + 1] + after
        after = np.logaddexp(ahead, ends[k + 1]) - np.logaddexp(ahead + begins[k + 1], 0)
        total[k] += after
    return total
