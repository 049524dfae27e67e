"""The rendered pairs that the project carries: right halves are laid within half a road, wrong ones refused.

Invented data: that these fit shows that the fitting holds against lens, tilt, light and grease of the rendering, not
that real photographs fit.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analysis.halves.mating import fit_mate
from analysis.imaging.photo import Photo, read_photo
from analysis.imaging.scale import scale_from_um_per_px
from analysis.outlines.outline import Outline

FACES = Path(__file__).parents[1] / "faces"
PAIRS = sorted(path.parent.name for path in FACES.glob("*/mate.jpg"))


@cache
def half(name: str, which: str) -> tuple[dict[str, Any], Outline, Photo]:
    """Truth, true outline and picture of one half; `which` photo or mate."""
    truth = json.loads((FACES / name / "truth.json").read_text())
    here = truth[which]
    outline = Outline(np.array(here["outline_px"]), tuple(np.array(h) for h in here["holes_px"]), "drawn", 1.0, 1.0)
    return truth, outline, read_photo(FACES / name / f"{which}.jpg")


@pytest.mark.skipif(not PAIRS, reason="no rendered pair is here")
@pytest.mark.parametrize("mate", PAIRS)
@pytest.mark.parametrize("name", PAIRS)
def test_right_halves_fit_and_wrong_ones_are_refused(name: str, mate: str) -> None:
    """Mean distance of the laid outline from its true place at most half a road; any other half is refused."""
    truth, outline, photo = half(name, "photo")
    other, outline_mate, photo_mate = half(mate, "mate")
    scales = (scale_from_um_per_px(t["um_per_px"]) for t in (truth["photo"], other["mate"]))
    fit = fit_mate(outline, outline_mate, *scales, truth["line_width_mm"], photo, photo_mate)

    if name != mate:
        assert fit.fit == "refused"
        return
    assert fit.fit == "fits"
    assert fit.affine is not None
    off = fit.affine - np.array(truth["mate_transform"]["affine_photo_to_mate"])
    ring = np.column_stack([outline.outer_px, np.ones(len(outline.outer_px))])
    apart_mm = float(np.hypot(*(ring @ off.T).T).mean()) * other["mate"]["um_per_px"] / 1000
    assert apart_mm <= truth["line_width_mm"] / 2
