"""Do two fracture faces belong together, and where does each point of one lie on the other?

The mate is the mirrored half on its own photo. The outlines give every way to lay one on the other; where a shape has
several, and whether two equal shapes are one break at all, is decided by what both faces show.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.halves.cues import Cues, agreement, beyond_chance, read_cues
from analysis.halves.search import settle
from analysis.halves.turns import DENSE, POINTS, TURNS, Lay, Rings, lay, make_rings, scan_turns
from analysis.imaging.photo import Photo
from analysis.imaging.scale import Scale
from analysis.outlines.outline import Outline
from analysis.roads.workview import FaceTooSmall, Workview, make_workview

Floats = NDArray[np.float64]
# Judgements, in line widths unless said otherwise, set with a wide margin on both sides of what rendered pairs show
# (right pairs at most 0.08, others at least 0.19 or too much strain).
_FITS, _REFUSED = 0.12, 0.18  # mean distance between the outlines once laid on each other
_LIKELY = 0.25  # a turn is looked at when its first, rough distance is at most this much above the best
_HOPELESS = 1.2  # a best rough distance above this is not looked at any further
_RIGID_SD = 0.002  # stretch allowed to an outline that can't be trusted
_TILT_SD = 0.01  # relative stretch that two cameras' tilts add
_STRAIN_SDS, _SHEAR = 3.0, 0.035  # stretch in standard deviations, and how far the two stretches may differ
# Agreement of the faces in standard errors (see `mating_cues.beyond_chance`), and the lead over the next way to lay
# them. Judgements: on rendered pairs wrong ways reach 2.8 and true ones start at 4.3, white filament aside (1.4).
_AGREE, _DISAGREE, _LEAD = 3.5, 1.0, 2.0
_AGREE_ROUND = 5.0  # where hundreds of turns were tried, chance reaches more
_ROUND_RUN = 15  # degrees: a longer run of equally good turns means a round outline
_AGREE_ALONE = 6.0  # where outlines went astray and the place was sought by the faces; wrong pairs reach 4.2
_WORTH_A_LOOK = 6
_RESCUE_TURNS, _RESCUE_APART = 3, 15  # turns tried then, and degrees between them
# Below the first confidence an outline may have strayed by a road or so; below the second, anywhere.
_UNSURE_OUTLINE, _NO_OUTLINE = 0.7, 0.4


@dataclass(frozen=True)
class Alternative:
    """One way to lay the halves on each other; `agreement` None where no pictures were given."""

    affine: Floats
    residual_mm: float
    agreement: float | None


@dataclass(frozen=True)
class MateFit:
    """Whether two halves belong together.

    affine : 2x3, photo px to px of the mate's photo; None when refused. fit : the answer.
    residual_mm : mean distance of the two outlines after fitting, also when refused.
    agreement : how far the faces agree beyond chance, in standard errors; None without pictures.
    alternatives : every way the outline allows, best first; one for a shape without symmetry.
    reasons : sentences for the person, why the answer is what it is.
    """

    affine: Floats | None
    fit: Literal["fits", "refused", "uncertain"]
    residual_mm: float
    agreement: float | None
    alternatives: tuple[Alternative, ...]
    reasons: tuple[str, ...]


def fit_mate(
    outline: Outline,
    outline_mate: Outline,
    scale: Scale,
    scale_mate: Scale,
    line_width_mm: float,
    photo: Photo | Workview | None = None,
    photo_mate: Photo | Workview | None = None,
) -> MateFit:
    """Mirror, turn, shift and slightly stretch one half onto the other.

    Parameters
    ----------
    outline, outline_mate : Outline
        Of each photo, in its own px.
    scale, scale_mate : Scale
        Their uncertainty widens the stretch that is allowed.
    line_width_mm : float
        Nominal road width; tolerances are shares of it.
    photo, photo_mate : Photo or Workview, optional
        The pictures; a view that was made already spares making it again. They are looked at only when the outlines
        can belong together. Without them a symmetric shape stays uncertain.

    Returns
    -------
    MateFit
        Never raises for a pair that doesn't fit: that is the answer "refused".
    """
    rings = make_rings(outline, scale.mm_per_px, POINTS, mirrored=False)
    mate = make_rings(outline_mate, scale_mate.mm_per_px, DENSE, mirrored=True)
    strain_sd = float(np.hypot(np.hypot(scale.relative_sd, scale_mate.relative_sd), _TILT_SD))
    off = scan_turns(rings, mate, 2 * line_width_mm)
    best = lay(rings, mate, float(off.argmin()) * 2 * np.pi / TURNS, line_width_mm, strain_sd)
    if off.min() > _HOPELESS * line_width_mm:
        return _refused_by_outline(best, outline, outline_mate, line_width_mm, strain_sd)
    cues = _both_cues((outline, outline_mate), (scale, scale_mate), line_width_mm, (photo, photo_mate))
    turns, is_round = _likely_turns(rings, mate, off, line_width_mm, cues)
    lays = [best, *(lay(rings, mate, turn, line_width_mm, strain_sd) for turn in turns)]
    good = [one for one in lays if not _outline_refusal(one, line_width_mm, strain_sd)]
    if not good:
        best = min(lays, key=lambda one: one.residual_mm)
        rescued = None if cues is None else _rescue(rings, mate, off, line_width_mm, cues, outline)
        return rescued or _refused_by_outline(best, outline, outline_mate, line_width_mm, strain_sd)
    ways = [_way(one, rings, mate, cues, is_round) for one in good]
    ways.sort(key=lambda way: (-(way.agreement or 0.0), way.residual_mm))
    ways = _distinct(ways, outline, scale_mate.mm_per_px, line_width_mm)
    return _judge(tuple(ways), ways[0].residual_mm <= _FITS * line_width_mm, is_round)


def _both_cues(
    outlines: tuple[Outline, Outline],
    scales: tuple[Scale, Scale],
    line_width_mm: float,
    pictures: tuple[Photo | Workview | None, Photo | Workview | None],
) -> tuple[Cues, Cues] | None:
    """Cues of both halves; None where a picture is missing or too small to read."""
    cues = []
    for outline, scale, picture in zip(outlines, scales, pictures, strict=True):
        if isinstance(picture, Photo):
            place = (picture.srgb, picture.px_per_pixel, scale.um_per_px, line_width_mm)
            try:
                picture = make_workview(*place, outline.outer_px, outline.holes_px)
            except FaceTooSmall:
                return None
        if picture is None:
            return None
        cues.append(read_cues(picture))
    return cues[0], cues[1]


def _likely_turns(
    rings: Rings, mate: Rings, off: Floats, line_width_mm: float, cues: tuple[Cues, Cues] | None
) -> tuple[Floats, bool]:
    """First turns in radians worth a closer look, and whether the outline is round, so that only the faces tell."""
    likely = off <= off.min() + _LIKELY * line_width_mm
    longest = TURNS if likely.all() else max(np.diff(np.flatnonzero(np.r_[~likely, ~likely]))) - 1
    angle = np.arange(TURNS) * 2 * np.pi / TURNS
    if longest <= _ROUND_RUN or cues is None:
        lowest = likely & (off <= np.roll(off, 1)) & (off <= np.roll(off, -1))
        turns = angle[lowest]
        return turns[np.argsort(off[lowest])[:_WORTH_A_LOOK]], longest > _ROUND_RUN
    shown = np.full(TURNS, -np.inf)
    for k in np.flatnonzero(likely):
        shown[k] = agreement(*cues, _to_photos(rings, mate, _turned(angle[k])), stride=3)
    peaks = np.flatnonzero(likely & (shown >= np.roll(shown, 1)) & (shown >= np.roll(shown, -1)))
    return angle[peaks[np.argsort(-shown[peaks])[:_WORTH_A_LOOK]]], True


def _rescue(
    rings: Rings, mate: Rings, off: Floats, line_width_mm: float, cues: tuple[Cues, Cues], outline: Outline
) -> MateFit | None:
    """Halves whose outlines nearly fit: shadow or ground may have led one of them astray, and the faces know better.

    None where the faces don't agree clearly; then the outlines' refusal stands.
    """
    ways: list[Alternative] = []
    left = off.copy()
    for _ in range(_RESCUE_TURNS):
        k = int(left.argmin())
        if left[k] > off.min() + _LIKELY * line_width_mm:
            break
        left[(k + np.arange(-_RESCUE_APART, _RESCUE_APART + 1)) % TURNS] = np.inf
        one = lay(rings, mate, k * 2 * np.pi / TURNS, line_width_mm, _RIGID_SD)
        affine = settle(*cues, _to_photos(rings, mate, one.affine_mm))
        ways.append(Alternative(affine, one.residual_mm, beyond_chance(*cues, affine)))
    ways.sort(key=lambda way: -(way.agreement or 0.0))
    ways = _distinct(ways, outline, mate.mm_per_px, line_width_mm)
    first, second = (ways[k].agreement or 0.0 if k < len(ways) else 0.0 for k in (0, 1))
    if first < _AGREE_ALONE or first - second < _LEAD:
        return None
    why = "The faces agree clearly, though the outlines lie apart in places: check both outlines."
    return MateFit(ways[0].affine, "fits", ways[0].residual_mm, first, tuple(ways), (why,))


def _way(one: Lay, rings: Rings, mate: Rings, cues: tuple[Cues, Cues] | None, is_round: bool) -> Alternative:
    """The lay in photo px, its turn polished by the faces where the outline leaves it free."""
    affine = _to_photos(rings, mate, one.affine_mm)
    if cues is None:
        return Alternative(affine, one.residual_mm, None)
    if is_round:
        best = agreement(*cues, affine)
        for step_deg in (1.0, 0.5, 0.25):
            for sign in (-1.0, 1.0):
                turned = _to_photos(rings, mate, _compose(one.affine_mm, _turned(np.deg2rad(sign * step_deg))))
                shown = agreement(*cues, turned)
                if shown > best:
                    best, affine = shown, turned
    return Alternative(affine, one.residual_mm, beyond_chance(*cues, affine))


def _judge(ways: tuple[Alternative, ...], close: bool, is_round: bool) -> MateFit:
    """From the ways that the outline allows to an answer."""
    first = ways[0]
    several = len(ways) > 1 or is_round

    def answer(fit: Literal["fits", "refused", "uncertain"], why: str) -> MateFit:
        affine = None if fit == "refused" else first.affine
        return MateFit(affine, fit, first.residual_mm, first.agreement, ways, (why,))

    if first.agreement is None:
        if several:
            return answer("uncertain", "The outline fits in more than one way, and the faces weren't compared.")
        return answer("fits" if close else "uncertain", "The outlines fit in one way only; the faces weren't compared.")
    lead = first.agreement - (ways[1].agreement or 0.0) if len(ways) > 1 else np.inf
    if first.agreement < _DISAGREE:
        return answer("refused", "The outlines agree, but the two faces show nothing in common: not the same break.")
    if several and lead < _LEAD:
        return answer("uncertain", "The outline fits in more than one way and the faces don't tell which is right.")
    if first.agreement < (_AGREE_ROUND if is_round else _AGREE):
        return answer("uncertain", "The outlines agree; the faces show too little in common to be sure.")
    if not close:
        return answer("uncertain", "The faces agree, but the outlines are further apart than two halves should be.")
    return answer("fits", "Outlines and faces agree.")


def _outline_refusal(one: Lay, line_width_mm: float, strain_sd: float) -> str:
    """Why the outlines can't be those of one break; empty when they can."""
    most = max(abs(stretch) for stretch in one.strain)
    if one.residual_mm > _REFUSED * line_width_mm:
        return f"The outlines stay {one.residual_mm:.2f} mm apart on average, however they are turned."
    if most > _STRAIN_SDS * strain_sd:
        return f"The outlines differ in size by {most:.0%}, more than the two scales allow."
    if one.strain[0] - one.strain[1] > _SHEAR:
        return "The outlines differ in their proportions."
    return ""


def _refused_by_outline(best: Lay, outline: Outline, mate: Outline, line_width_mm: float, strain_sd: float) -> MateFit:
    why = _outline_refusal(best, line_width_mm, strain_sd)
    confidence = min(outline.confidence, mate.confidence)
    unsure = confidence < (_UNSURE_OUTLINE if best.residual_mm <= _HOPELESS * line_width_mm else _NO_OUTLINE)
    if confidence < _UNSURE_OUTLINE:
        why += " One of the outlines was hard to find: draw it by hand and compare again."
    return MateFit(None, "uncertain" if unsure else "refused", best.residual_mm, None, (), (why,))


def _distinct(ways: list[Alternative], outline: Outline, mm_per_px: float, line_width_mm: float) -> list[Alternative]:
    """Drop ways that land within a road width of a better one."""
    kept: list[Alternative] = []
    ring = outline.outer_px
    for way in ways:
        placed = ring @ way.affine[:, :2].T + way.affine[:, 2]
        others = (ring @ k.affine[:, :2].T + k.affine[:, 2] for k in kept)
        if all(np.hypot(*(placed - other).T).mean() * mm_per_px > line_width_mm for other in others):
            kept.append(way)
    return kept


def _to_photos(rings: Rings, mate: Rings, affine_mm: Floats) -> Floats:
    """From the millimetre frames of both halves to photo px -> mate photo px."""
    return _compose(_inverse(mate.to_mm()), _compose(affine_mm, rings.to_mm()))


def _turned(angle_rad: float) -> Floats:
    cos, sin = np.cos(angle_rad), np.sin(angle_rad)
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0]])


def _compose(after: Floats, before: Floats) -> Floats:
    return np.column_stack([after[:, :2] @ before[:, :2], after[:, :2] @ before[:, 2] + after[:, 2]])


def _inverse(affine: Floats) -> Floats:
    back = np.linalg.inv(affine[:, :2])
    return np.column_stack([back, -back @ affine[:, 2]])
