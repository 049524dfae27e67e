"""Where a signal changes from bare to torn: its level along the edges of torn patches, whatever share they take up.

A split by the histogram fails where nearly all or nearly nothing is torn. The edges of torn patches lie between the
two kinds on any face, so the mean of the signal weighted by its own slope is a level between them (simple image
statistics: J. Kittler, J. Illingworth, J. Foglein, CVGIP 30:125, 1985).
"""

from __future__ import annotations

import numpy as np

from analysis.common.smooth import gauss
from analysis.roads.workview import Bools, Floats

_REACH_ROADS = 2.5
_LEAST = 0.02  # spread below which a signal shows nothing but rounding
_FAR = 6.0  # times the median distance from the median; 4 standard deviations of a normal distribution


def edge_cues(signals: dict[str, Floats], tops: Bools, road_px: float) -> dict[str, Floats]:
    """For each signal, how far each point lies above the face's edge level and above that of its neighbourhood.

    Parameters
    ----------
    signals : (rows, cols) maps by name. tops : (rows, cols) the roads' tops, where shape alone makes no edges.

    Returns
    -------
    `NAME_edge`, `NAME_edge_near` in units of the signal's spread on the tops; `NAME_edge_share`, the share of the
    tops above the level, and `NAME_edge_clear`, how steep the edges are, as constant planes.
    """
    out: dict[str, Floats] = {}
    if tops.sum() < 50:
        tops = np.ones_like(tops)
    for name, values in signals.items():
        middle = float(np.median(values[tops]))
        # a film of grease or a highlight has edges too, but lies far out
        far = _FAR * float(np.median(np.abs(values[tops] - middle))) + 1e-3
        clipped = np.clip(values, middle - far, middle + far)
        spread = float(clipped[tops].std()) + 1e-3
        if spread < _LEAST:
            nothing = np.zeros(values.shape, np.float32)
            out |= {f"{name}_edge{what}": nothing for what in ("", "_near", "_share", "_clear")}
            continue
        sigma = 0.06 * road_px
        soft = gauss(clipped, sigma)
        dy, dx = (gauss(clipped, sigma, order=o) for o in ((1, 0), (0, 1)))
        weight = np.where(tops, (dx * dx + dy * dy) / spread**2, 0).astype(np.float32) + 1e-9 * tops
        total = float(weight.sum())
        level = float((weight * soft).sum()) / total
        few = 0.1 * total / float(tops.sum())
        reach = _REACH_ROADS * road_px
        top = gauss(weight * soft, reach, truncate=2.0) + few * level
        near = top / (gauss(weight, reach, truncate=2.0) + few)
        out[f"{name}_edge"] = np.clip((values - level) / spread, -4, 4).astype(np.float32)
        out[f"{name}_edge_near"] = np.clip((values - near) / spread, -4, 4).astype(np.float32)
        out[f"{name}_edge_share"] = np.full(values.shape, (soft[tops] > level).mean(), np.float32)
        out[f"{name}_edge_clear"] = np.full(values.shape, np.log(total / float(tops.sum()) + 1e-4), np.float32)
    return out
