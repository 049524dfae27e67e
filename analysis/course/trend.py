"""A plane laid through the patches' torn shares: which way it rises, how surely, and whether chance does as well.

Two kinds of chance are asked. *Shuffled*: the same patches in any other arrangement (a permutation test: B. F. J.
Manly, Randomization, Bootstrap and Monte Carlo Methods in Biology, from memory). Welds are patchy, though: neighbours
are alike without any course of the break, and shuffling forgets that. *Patchy*: normal fields as patchy as this face,
by a correlation that falls off with distance, fitted to its own patches with the trend still in them, so that a real
trend makes the chance larger and not smaller.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.course.patches import Patches, Reals

DRAWS = 999
WIDER = 2.5
_REACHES = (0.05, 0.08, 0.12, 0.18, 0.25, 0.35)  # correlation lengths tried, of the face's longer side


@dataclass(frozen=True)
class Trend:
    """slope : (2,) rise of the torn share per mm along x and y. explained : share of the patches' variance."""

    slope: Reals
    explained: float

    @property
    def deg(self) -> float:
        """Direction of the rise, degrees clockwise from +x on the photo, 0 to 360."""
        return float(np.degrees(np.arctan2(self.slope[1], self.slope[0])) % 360)


def _frame(patches: Patches, weights: Reals) -> Reals:
    """An orthonormal frame of the planes over the patches, first the constant; (n, 3), for values times root weight."""
    root = np.sqrt(weights)[:, None]
    middle = np.average(patches.xy_mm, axis=0, weights=weights)
    return np.asarray(np.linalg.qr(np.c_[np.ones(len(patches)), patches.xy_mm - middle] * root)[0])


def fit_trend(patches: Patches, weights: Reals | None = None) -> Trend:
    """Weighted least squares of the torn share on x and y; weights are the contact areas unless given."""
    weights = patches.contact_mm2 if weights is None else weights
    root = np.sqrt(weights)
    planes = np.c_[np.ones(len(patches)), patches.xy_mm] * root[:, None]
    slope = np.linalg.lstsq(planes, patches.torn * root, rcond=None)[0][1:]
    return Trend(np.asarray(slope), float(_explained(patches, patches.torn[:, None])[0]))


def _explained(patches: Patches, values: Reals) -> Reals:
    """Share of variance that a plane takes, for each column of `values` (n, draws)."""
    root = np.sqrt(patches.contact_mm2)[:, None]
    parts = _frame(patches, patches.contact_mm2).T @ (values * root)
    about = ((values * root) ** 2).sum(0) - parts[0] ** 2
    return np.asarray((parts[1:] ** 2).sum(0) / np.maximum(about, 1e-12))


def chance_shuffled(patches: Patches, bar: float, draws: int = DRAWS) -> tuple[float, float]:
    """How often shuffled patches show a trend as strong, and the strength that a share `bar` of them reaches."""
    rng = np.random.default_rng(0)
    order = rng.permuted(np.tile(np.arange(len(patches)), (draws, 1)), axis=1)
    return _chance(patches, patches.torn[order].T, bar)


def chance_patchy(patches: Patches, bar: float, draws: int = DRAWS) -> tuple[float, float]:
    """How often a field as patchy as this face shows a trend as strong, and the strength that a share `bar` reaches."""
    reach, part = patchiness(patches)
    apart = _distances(patches)
    like = part * np.exp(-apart / reach) + (1 - part + 1e-6) * np.eye(len(patches))
    drawn = np.linalg.cholesky(like) @ np.random.default_rng(0).standard_normal((len(patches), draws))
    return _chance(patches, drawn, bar)


def _chance(patches: Patches, values: Reals, bar: float) -> tuple[float, float]:
    seen = float(_explained(patches, patches.torn[:, None])[0])
    drawn = _explained(patches, values)
    return float(((drawn >= seen - 1e-12).sum() + 1) / (len(drawn) + 1)), float(np.quantile(drawn, 1 - bar))


def patchiness(patches: Patches) -> tuple[float, float]:
    """Correlation length (mm) of the torn share and the part of its variance that is alike in neighbours, 0 to 1."""
    weights = patches.contact_mm2
    off = patches.torn - np.average(patches.torn, weights=weights)
    first, second = np.triu_indices(len(patches), 1)
    apart = _distances(patches)[first, second]
    longest = float(np.ptp(patches.xy_mm, axis=0).max())
    near = apart < 0.5 * longest
    apart, first, second = apart[near], first[near], second[near]
    products = off[first] * off[second] / max(float(np.average(off**2, weights=weights)), 1e-12)
    counted = np.sqrt(weights[first] * weights[second])
    tried = []
    for reach in longest * np.array(_REACHES):
        fall = np.exp(-apart / reach)
        part = float(np.clip((counted * fall * products).sum() / max((counted * fall**2).sum(), 1e-12), 0, 1))
        tried.append((float((counted * (products - part * fall) ** 2).sum()), float(reach), part))
    return min(tried)[1:]


def _distances(patches: Patches) -> Reals:
    return np.asarray(np.linalg.norm(patches.xy_mm[:, None] - patches.xy_mm[None], axis=-1))


def resampled(patches: Patches, draws: int = DRAWS) -> Reals:
    """How often each patch counts in each draw of a block bootstrap, (draws, n).

    Blocks of two by two patches are drawn with replacement, as neighbouring patches aren't independent (block
    bootstrap: H. R. Kuensch, Ann. Statist. 17:1217, 1989, from memory).
    """
    cell = np.floor(patches.xy_mm / (2 * patches.side_mm)).astype(int)
    _, block = np.unique(cell, axis=0, return_inverse=True)
    block = block.ravel()
    count = int(block.max()) + 1
    drawn = np.random.default_rng(0).integers(0, count, (draws, count))
    often = np.apply_along_axis(np.bincount, 1, drawn, minlength=count)
    return np.asarray(often[:, block], float)


def turned_deg(patches: Patches, often: Reals) -> Reals:
    """By how much each resampled trend's direction is turned from the face's own, -180 to 180, (draws,).

    `WIDER` times the bootstrap's own turn: a few blocks that are alike among themselves can't show all they could
    have been. On rendered faces with a known direction the plain bootstrap's 90 % interval held it in 7 of 10.
    """
    own = fit_trend(patches).deg
    weights = often * patches.contact_mm2
    planes = np.c_[np.ones(len(patches)), patches.xy_mm - patches.xy_mm.mean(0)]
    left = np.einsum("dn,ni,nj->dij", weights, planes, planes) + 1e-9 * np.eye(3)
    right = np.einsum("dn,ni->di", weights * patches.torn, planes)
    slopes = np.linalg.solve(left, right[..., None])[:, 1:, 0]
    turned = (np.degrees(np.arctan2(slopes[:, 1], slopes[:, 0])) - own + 180) % 360 - 180
    return np.asarray(np.clip(WIDER * turned, -180, 180))
