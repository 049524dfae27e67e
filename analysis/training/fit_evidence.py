"""Estimate the tables of the measured observations from readings of faces with truth.

`python -m analysis.training.fit_evidence` prints the tables for `analysis/evidence/evidence.toml` from the readings
stored beside this file. `--collect FACES RESULTS [FACES RESULTS ...]` writes these anew: folders of faces and, beside
each, the NAME.json that `python -m tests.bench.verdicts FACES --save RESULTS` left, measured with networks that never
saw the faces.

What is estimated: P(range | mode), of the value as it is measured, with its uncertainty. A reading lies in several
ranges with the shares that the verdict uses; the tables are those under which all readings are most probable, on top
of `WEIGHT` imagined faces a mode that fall as judged (a Dirichlet prior), so that no range is left at nought and few
faces move little. They are held to what is plausible of real parts: a larger reading never speaks less for the mode
that large readings speak for (a monotone likelihood ratio, `ORDER`, by `STEP_DB` a range at least). Rendered faces
aren't real parts: the judged faces stay in for that as well.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from analysis.evidence.catalogue import HIGHEST_P, LOWEST_P, load_catalogue
from analysis.evidence.observations import FRACTURE, LIMITS, range_shares

Table = npt.NDArray[np.float64]
BROKEN = ("layer_delamination", "under_extrusion", "overload")  # the modes that rendered fracture faces have
READINGS = Path(__file__).with_name("evidence_readings.txt")

# What was judged before anything was rendered; ranges as in the evidence file.
JUDGED: dict[str, dict[str, tuple[float, ...]]] = {
    "bonded_contact": {
        "layer_delamination": (0.32, 0.33, 0.21, 0.10, 0.04),
        "under_extrusion": (0.06, 0.14, 0.32, 0.36, 0.12),
        "overload": (0.02, 0.03, 0.08, 0.22, 0.65),
    },
    "wall_gap_share": {
        "layer_delamination": (0.62, 0.27, 0.08, 0.03),
        "under_extrusion": (0.12, 0.23, 0.33, 0.32),
        "overload": (0.66, 0.24, 0.07, 0.03),
    },
    "longest_gap": {
        "layer_delamination": (0.70, 0.22, 0.08),
        "under_extrusion": (0.20, 0.25, 0.55),
        "overload": (0.72, 0.20, 0.08),
    },
}
# The modes in the order in which a larger reading speaks for them.
ORDER: dict[str, tuple[str, ...]] = {
    "bonded_contact": ("layer_delamination", "under_extrusion", "overload"),
    "wall_gap_share": ("overload", "layer_delamination", "under_extrusion"),
    "longest_gap": ("overload", "layer_delamination", "under_extrusion"),
}
WEIGHT = 20.0  # imagined faces a mode that fall as judged
STEP_DB = 1.0  # Good: about the smallest change of belief that a person notices


@dataclass(frozen=True)
class Case:
    """One measured face: its true mode and, for each observation that was read, value and standard deviation."""

    name: str
    mode: str
    readings: Mapping[str, tuple[float, float]]

    def shares(self, code: str) -> tuple[float, ...]:
        """Probability of each range, as the verdict takes it."""
        return range_shares(*self.readings[code], load_catalogue().observations[code].edges, *LIMITS[code])


def collect(faces: Path, results: Path) -> list[Case]:
    """Every fracture face that was measured and not refused."""
    cases = []
    settings = load_catalogue().settings
    for path in sorted(results.glob("*.json")):
        result = json.loads(path.read_text())
        mode = json.loads((faces / path.stem / "truth.json").read_text())["labels"]["primary"]
        if result and mode in BROKEN:
            found = {code: FRACTURE[code](result, settings) for code in JUDGED}
            readings = {code: (r.value, r.sd) for code, r in found.items() if r is not None}
            cases.append(Case(path.stem, mode, readings))
    return cases


def write_readings(cases: Iterable[Case], path: Path = READINGS) -> None:
    """One line a face: name, mode, then code=value,sd in the unit of the evidence file."""
    lines = ["# Measured on rendered faces by analysis/training/fit_evidence.py: name mode code=value,sd"]
    for case in cases:
        told = [f"{code}={value:.4f},{sd:.4f}" for code, (value, sd) in case.readings.items()]
        lines.append(" ".join([case.name, case.mode, *told]))
    path.write_text("\n".join(lines) + "\n")


def read_readings(path: Path = READINGS) -> list[Case]:
    """What `write_readings` wrote."""
    cases = []
    for line in path.read_text().splitlines()[1:]:
        name, mode, *told = line.split()
        pairs = (entry.split("=") for entry in told)
        numbers = {code: tuple(float(v) for v in pair.split(",")) for code, pair in pairs}
        cases.append(Case(name, mode, {code: (value, sd) for code, (value, sd) in numbers.items()}))
    return cases


def fit_tables(shares: Sequence[Table], judged: Table, weight: float = WEIGHT, step_db: float = STEP_DB) -> Table:
    """P(range | mode), (modes, ranges), modes in the order in which a larger reading speaks for them.

    Parameters
    ----------
    shares : sequence of (faces, ranges)
        For each mode the readings of its faces; no faces are an array of shape (0, ranges).
    judged : (modes, ranges)
        The tables before anything was measured.
    """
    judged = np.asarray(judged, float)

    def unlikely(x: Table) -> float:
        table = _from_logs(x, judged.shape)
        read = sum(float(np.log(rows @ p).sum()) for rows, p in zip(shares, table, strict=True))
        return -(read + weight * float((judged * np.log(table)).sum()))

    def steps(x: Table) -> Table:
        """How far each ratio of neighbouring modes rises from range to range, less what it has to; 0 or more."""
        logs = x.reshape(judged.shape)
        return np.asarray((np.diff(np.diff(logs, axis=0), axis=1) - np.log(10) * step_db / 10).ravel())

    found = minimize(
        unlikely, np.log(judged).ravel(), constraints={"type": "ineq", "fun": steps}, options={"maxiter": 500}
    )
    return _from_logs(found.x, judged.shape)


def _from_logs(x: Table, shape: tuple[int, ...]) -> Table:
    logs = x.reshape(shape)
    table = np.exp(logs - logs.max(1, keepdims=True))
    return np.asarray(table / table.sum(1, keepdims=True))


def rounded(table: Table) -> tuple[float, ...]:
    """To three digits, within what the evidence file allows, summing to 1 (the fullest range takes up the rest)."""
    told = np.clip(np.round(table, 3), LOWEST_P, HIGHEST_P)
    told[told.argmax()] += 1 - told.sum()
    return tuple(round(float(value), 3) for value in told)


def fit(cases: Sequence[Case], weight: float = WEIGHT) -> dict[str, dict[str, tuple[float, ...]]]:
    """Tables of all measured observations as they stand in the evidence file."""
    tables: dict[str, dict[str, tuple[float, ...]]] = {}
    for code, order in ORDER.items():
        judged = np.array([JUDGED[code][mode] for mode in order])
        read = [[c.shares(code) for c in cases if c.mode == mode and code in c.readings] for mode in order]
        table = fit_tables([np.array(rows).reshape(-1, judged.shape[1]) for rows in read], judged, weight)
        tables[code] = {mode: rounded(row) for mode, row in zip(order, table, strict=True)}
        # A part that was rubbed was printed like any other: its weld and its gaps say nothing for or against a rub.
        tables[code]["interference_rub"] = rounded(table.mean(0))
    return tables


def main() -> None:
    """Read, fit, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--collect", type=Path, nargs="+", help="FACES RESULTS, in pairs")
    parser.add_argument("--weight", type=float, default=WEIGHT, help="imagined faces a mode that fall as judged")
    args = parser.parse_args()
    if args.collect:
        pairs = zip(args.collect[::2], args.collect[1::2], strict=True)
        write_readings(case for faces, results in pairs for case in collect(faces, results))
    cases = read_readings()
    print(f"# estimated on {len(cases)} faces, shrunk towards {args.weight:g} judged ones a mode")
    for code, modes in fit(cases, args.weight).items():
        print(f"\n# {code}")
        for mode, table in modes.items():
            print(f"p.{mode} = [{', '.join(f'{v:.3f}' for v in table)}]")


if __name__ == "__main__":
    main()
