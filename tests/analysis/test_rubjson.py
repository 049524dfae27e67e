"""An outer surface's numbers in the result, the angle between scratches and layer lines, and its label map."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.common.classes import OUTSIDE, RUBBED
from analysis.measures.rubbing import RubMeasure
from analysis.measures.rubjson import between_deg, rub_json, rub_labels

NONE = np.zeros((20, 30), bool)


@given(st.floats(0, 180), st.floats(0, 180))
def test_angle_between_directions_without_sense(one: float, other: float) -> None:
    """0 to 90 degrees, the same both ways round, and the arc cosine of the directions' product."""
    product = abs(np.cos(np.radians(one - other)))
    assert between_deg(one, other) == pytest.approx(between_deg(other, one))
    assert np.cos(np.radians(between_deg(one, other))) == pytest.approx(product, abs=1e-9)


def test_every_null_has_its_reason() -> None:
    """No patch: no scratches and no angle, each with the reason; no lines: nothing, with that reason."""
    why = {"scratch_deg": "no rubbed patch was found"}
    entries, reasons = rub_json(RubMeasure(0.0, None, 12.0, 0.2, None, NONE, why, 0.1))
    assert (entries["rub_area_mm2"], entries["layer_line_deg"]) == (0.0, 12.0)
    assert reasons == {"scratch_deg": why["scratch_deg"], "scratch_to_lines_deg": why["scratch_deg"]}
    assert entries["rub_outline_px"] == []

    entries, reasons = rub_json(RubMeasure(None, None, None, None, None, NONE, {}))
    assert {key for key, value in entries.items() if value is None} == set(reasons)


def test_patch_is_outlined_and_labelled() -> None:
    """The label map is RUBBED on the patch and nowhere else; its outline keeps its corners and loses its steps."""
    mask = NONE.copy()
    mask[4:12, 8:24] = True
    ring = np.array([[8, 4], [12, 4], [24, 4], [24, 12], [8, 12]], float)
    rub = RubMeasure(5.0, 100.0, 10.0, 0.2, ring, mask, slopes_along_to_across=0.1)
    entries, reasons = rub_json(rub)
    assert entries["scratch_to_lines_deg"] == 90.0
    assert entries["rub_outline_px"] == [[8, 4], [24, 4], [24, 12], [8, 12]]
    assert reasons == {}
    labels = rub_labels(rub)
    assert ((labels == RUBBED) == mask).all()
    assert ((labels == OUTSIDE) == ~mask).all()
