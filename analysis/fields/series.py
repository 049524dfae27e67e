"""A focus series laid on its middle slice: neighbours look most alike, so each slice is laid on the one before it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from analysis.fields.detail import Detail, detail_of
from analysis.fields.drift import Tiles, drift
from analysis.fields.place import Bytes, FieldsRefused, NoOverlap, Place, ResidualTooLarge

MOST_BREATHING = 0.03  # change of enlargement from slice to slice that a lens makes; more is another enlargement
MOST_RESIDUAL_PX = 2.0  # of the finest view
_FEWEST = 4
_LOOSE_SHARE = 0.01
Tell = Callable[[str, float], None]


def lay_series(slices: Sequence[Bytes], names: Sequence[str], tell: Tell) -> tuple[list[Place], list[float]]:
    """Places of the slices in the middle one, and the residual between each slice and the next, px.

    Raises
    ------
    FieldsRefused
        Slices of different sizes.
    NoOverlap
        A slice doesn't show what its neighbour shows.
    ResidualTooLarge
        Two neighbours show the same, but not from the same side, or enlarged otherwise.
    """
    steps, residuals = [], []
    before: Detail | None = None
    shape: tuple[int, ...] = ()
    for number, name in enumerate(names):
        tell("laying the slices on each other", number / len(names))
        srgb = slices[number]
        if shape and srgb.shape != shape:
            raise FieldsRefused(
                f"{name} has {srgb.shape[1]} × {srgb.shape[0]} px, {names[0]} has {shape[1]} × {shape[0]}. "
                "A focus series is taken with one setting: choose slices of one size."
            )
        shape = srgb.shape
        detail = detail_of(srgb, max(shape))
        if before is not None:
            tiles, factor = _neighbours(before, detail, (names[number - 1], name))
            steps.append(tiles.placed.enlarged(factor))
            residuals.append(tiles.residual_px() * factor)
        before = detail
    return _from_the_middle(steps), residuals


def _from_the_middle(steps: Sequence[Place]) -> list[Place]:
    """Places in the middle slice from the place of each slice in the one before."""
    chain = [Place()]
    for step in steps:
        chain.append(chain[-1].after(step))
    home = chain[len(chain) // 2].back()
    return [home.after(place) for place in chain]


def _neighbours(first: Detail, second: Detail, names: tuple[str, str]) -> tuple[Tiles, float]:
    """The second slice on the first: tiles of the finest view, and px per px of that view."""
    place, factor = Place(), first.factors[0]
    for level, (a, b) in enumerate(zip(first.views, second.views, strict=True)):
        place = place.enlarged(factor / first.factors[level])
        factor = first.factors[level]
        for _ in range(2):
            tiles = drift(a, b, place, max(_LOOSE_SHARE * max(a.shape), 2.0), scale_free=True)
            if int(tiles.agree.sum()) < _FEWEST:
                raise NoOverlap(
                    f"{names[1]} doesn't show what {names[0]} shows before it, as far as can be seen. Choose one "
                    "series, in the order of its focus, and take smaller steps."
                )
            place = tiles.placed
    grown = abs(place.turn) - 1
    if abs(grown) > MOST_BREATHING:
        raise ResidualTooLarge(
            f"{names[1]} is enlarged by {grown:.1%} against {names[0]}, more than a lens does by its focus. "
            "Choose slices taken with one setting."
        )
    if tiles.residual_px() > MOST_RESIDUAL_PX:
        raise ResidualTooLarge(
            f"{names[0]} and {names[1]} stay {tiles.residual_px() * factor:.1f} px apart. "
            "Keep the piece and the lens in their axis while the focus is moved."
        )
    return tiles, factor
