"""The tables of measured observations: recovered through the readings' noise, shrunk, and the ones that are in use."""

from pathlib import Path

import numpy as np
import pytest

from analysis.evidence.catalogue import LOWEST_P, load_catalogue
from analysis.evidence.observations import range_shares
from analysis.training.fit_evidence import (
    JUDGED,
    Case,
    fit,
    fit_tables,
    read_readings,
    rounded,
    write_readings,
)

EDGES = (0.25, 0.45, 0.65, 0.85)
TRUE = np.array([[0.4, 0.3, 0.15, 0.1, 0.05], [0.05, 0.15, 0.1, 0.3, 0.4]])
EVEN = np.full((2, 5), 0.2)


def noisy_shares(table: np.ndarray, count: int, sd: float) -> np.ndarray:
    """Readings of values drawn by a table, evenly within a range, each off by a normal error."""
    rng = np.random.default_rng(5)
    ends = np.array([0.0, *EDGES, 1.0])
    places = rng.choice(5, size=count, p=table)
    values = rng.uniform(ends[places], ends[places + 1]) + rng.normal(0, sd, count)
    return np.array([range_shares(float(v), sd, EDGES, 0.0, 1.0) for v in values])


class TestFit:
    def test_noise_is_seen_through(self) -> None:
        """From 2000 readings a mode, spread by 0.04, the true shares come back, better than by their plain mean.

        Not exactly: within a range the values are taken to lie evenly over all that can be, so a narrow range at the
        end loses a little to its neighbour.
        """
        shares = [noisy_shares(table, 2000, 0.04) for table in TRUE]
        found = fit_tables(shares, EVEN, 1.0, step_db=0.0)
        assert found == pytest.approx(TRUE, abs=0.04)
        assert np.abs(found - TRUE).sum() < 0.8 * np.abs([s.mean(0) for s in shares] - TRUE).sum()

    def test_sure_readings_are_counts(self) -> None:
        """With readings that lie in one range each it is the mean of a Dirichlet: (counts + judged) / total."""
        shares = [np.eye(3)[[0, 0, 1, 0]], np.eye(3)[[2, 2, 1]]]
        judged = np.array([[0.5, 0.3, 0.2], [0.2, 0.3, 0.5]])
        expected = [(np.array([3, 1, 0]) + 10 * judged[0]) / 14, (np.array([0, 1, 2]) + 10 * judged[1]) / 13]
        assert fit_tables(shares, judged, 10.0) == pytest.approx(np.array(expected), abs=1e-3)

    def test_a_larger_reading_never_speaks_less(self) -> None:
        """One face read far off doesn't make the least readings speak for the mode of the largest."""
        shares = [np.eye(3)[[1, 1, 1, 1]], np.eye(3)[[0, 2, 2, 2, 2]]]
        found = fit_tables(shares, np.array([[0.4, 0.4, 0.2], [0.2, 0.4, 0.4]]), 3.0)
        ratio = 10 * np.log10(found[1] / found[0])
        assert np.diff(ratio).min() >= 0.99

    def test_without_faces_the_judgement_stands(self) -> None:
        """Nothing measured moves little: only as far as the judged ratios didn't rise from range to range."""
        for code, modes in fit([]).items():
            for mode, table in JUDGED[code].items():
                assert modes[mode] == pytest.approx(table, abs=0.021)

    def test_a_rub_is_told_by_no_fracture_face(self) -> None:
        """Its row is the mean of the others, so that weld and gaps hardly weigh for or against it."""
        for modes in fit(read_readings()).values():
            mean = np.mean([table for mode, table in modes.items() if mode != "interference_rub"], 0)
            assert modes["interference_rub"] == pytest.approx(mean, abs=0.0035)

    def test_what_is_printed_can_be_used(self) -> None:
        """Three digits, nothing below what the evidence file allows, sum 1."""
        told = rounded(np.array([0.002, 0.004, 0.334, 0.33, 0.33]))
        assert min(told) >= LOWEST_P
        assert sum(told) == pytest.approx(1.0, abs=1e-12)


class TestReadings:
    def test_they_come_back_as_written(self, tmp_path: Path) -> None:
        """A face without walls has no reading of them, and stays so."""
        case = Case("face", "overload", {"bonded_contact": (0.9, 0.05)})
        write_readings([case], tmp_path / "readings.txt")
        assert read_readings(tmp_path / "readings.txt") == [case]

    def test_the_tables_in_use_follow_from_the_stored_readings(self) -> None:
        """The evidence file holds what the script prints, so that nobody has to believe it."""
        book = load_catalogue()
        for code, modes in fit(read_readings()).items():
            for mode, table in modes.items():
                assert book.observations[code].likelihood[mode] == pytest.approx(table, abs=0.0015), (code, mode)
