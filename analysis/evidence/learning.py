"""The log's own counts against the file's probabilities: shrunk towards the file, never silently in force.

For each observation and mode the file's probabilities p over the outcomes are taken as a Dirichlet distribution that
is worth `strength` cases (Beta for yes and no). With n cases of the log under that mode, of which n_k showed outcome k,
the mean after them is (strength * p_k + n_k) / (strength + n): with no case the file's own, with many the log's share
(Gelman et al., Bayesian Data Analysis, 3rd ed., sec. 3.4; Beta sec. 2.4).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from analysis.evidence.catalogue import HIGHEST_P, LOWEST_P, MODES, Catalogue, Observation
from analysis.evidence.observations import Seen
from analysis.evidence.verdict import weigh

Counts = Mapping[str, Mapping[str, Sequence[float]]]  # observation, mode -> cases by outcome


@dataclass(frozen=True)
class Case:
    """One break whose mode a person stated, with all that was seen of it."""

    mode: str
    seen: tuple[Seen, ...]
    key: tuple[int, int | None] = (0, None)  # the caller's own reference


def count_cases(cases: Sequence[Case], book: Catalogue) -> dict[str, dict[str, list[float]]]:
    """How many cases of each mode showed each outcome of each observation.

    A case counts once per observation: "can't tell" counts nowhere, two readings of one measure count half each, and
    a measure counts by the probability that it lies in each range.
    """
    counts = {code: {mode: [0.0] * len(entry.bins) for mode in MODES} for code, entry in book.observations.items()}
    for case in cases:
        for code, told in _outcomes(case.seen, book).items():
            row = counts[code][case.mode]
            for place in range(len(row)):
                row[place] += sum(one[place] for one in told) / len(told)
    return counts


def learned(book: Catalogue, counts: Counts, strength: float) -> Catalogue:
    """The catalogue with its probabilities moved towards the log's counts; causes, groups and settings stay.

    Raises ValueError where `strength` is not above 0: the file would count for nothing.
    """
    if not strength > 0:
        raise ValueError(f"a strength of {strength} cases gives the file no say; give a number above 0")
    moved = {
        code: replace(entry, likelihood=_moved(entry, counts[code], strength)) if code in counts else entry
        for code, entry in book.observations.items()
    }
    return replace(book, observations=moved)


@dataclass(frozen=True)
class Comparison:
    """How the file's and the log's weights do on the log's cases, each case kept out of the counts that judge it."""

    cases: int
    file_right: int
    log_right: int
    file_given: float  # mean probability given to the person's mode
    log_given: float


def compare(cases: Sequence[Case], prior: Mapping[str, float], book: Catalogue, strength: float) -> Comparison:
    """Weigh every case with both sets of weights; the log's are re-estimated without the case itself."""
    all_counts, own = count_cases(cases, book), [count_cases([case], book) for case in cases]
    right, given = [0, 0], [0.0, 0.0]
    for case, its in zip(cases, own, strict=True):
        without = {
            code: {mode: [a - b for a, b in zip(row, its[code][mode], strict=True)] for mode, row in rows.items()}
            for code, rows in all_counts.items()
        }
        for place, weights in enumerate((book, learned(book, without, strength))):
            verdict = weigh(case.seen, prior, weights)
            right[place] += verdict.primary == case.mode
            given[place] += verdict.probabilities[case.mode]
    total = max(1, len(cases))
    return Comparison(len(cases), right[0], right[1], given[0] / total, given[1] / total)


def _outcomes(seen: Sequence[Seen], book: Catalogue) -> dict[str, list[tuple[float, ...]]]:
    """Each observation's readings as shares of its outcomes."""
    found: dict[str, list[tuple[float, ...]]] = {}
    for entry in seen:
        observation = book.observations.get(entry.code)
        if observation is None or entry.answer == "cant_tell":
            continue
        shares = entry.shares or tuple(float(name == entry.answer) for name in observation.bins)
        found.setdefault(entry.code, []).append(shares)
    return found


def _moved(entry: Observation, rows: Mapping[str, Sequence[float]], strength: float) -> dict[str, tuple[float, ...]]:
    return {mode: _shrunk(entry.likelihood[mode], rows[mode], strength) for mode in MODES}


def _shrunk(file: Sequence[float], counts: Sequence[float], strength: float) -> tuple[float, ...]:
    total = strength + sum(counts)
    means = [(strength * p + max(0.0, n)) / total for p, n in zip(file, counts, strict=True)]
    # No sight is certain or impossible, however often the log saw it.
    held = [min(HIGHEST_P, max(LOWEST_P, mean)) for mean in means]
    return tuple(value / sum(held) for value in held)
