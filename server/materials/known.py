"""The table's materials and the bench's own, and which of them a spool is."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlmodel import Session, col, select

from analysis.materials.finding import find_material
from analysis.materials.library import (
    AGENTS,
    NEEDS,
    QUANTITIES,
    Figure,
    Material,
    Rating,
    Source,
    load_library,
)
from server.records import OwnMaterial, Spool, Supply


@dataclass(frozen=True)
class Known:
    """Every material by its code, what is told of supply, and the spools of each."""

    materials: Mapping[str, Material]
    supplies: Mapping[str, Supply]
    spools: Mapping[str, list[Spool]]

    def on_shelf(self, code: str) -> list[Spool]:
        """Return the spools of a material that aren't known to be empty."""
        return [spool for spool in self.spools.get(code, []) if spool.left_g is None or spool.left_g > 0]


def own_code(key: int | None) -> str:
    """Return the code by which an own material stands beside the table's."""
    return f"own-{key}"


def own_as_material(own: OwnMaterial) -> Material:
    """Return an own material in the shape of the table's."""
    source = Source(own.source or "own entry", "own")
    figures = {
        name: Figure(float(low), float(high), QUANTITIES[name][1], source)
        for name, (low, high) in own.figures.items()
        if name in QUANTITIES
    }
    ratings = {name: Rating(code, source) for name, code in own.ratings.items() if name in AGENTS or name in NEEDS}
    return Material(own_code(own.id), own.name, own.designation, own.kind, figures, ratings)


def all_materials(session: Session) -> dict[str, Material]:
    """Return the bench's own materials and then the table's, by code."""
    own = session.exec(select(OwnMaterial).order_by(OwnMaterial.name, col(OwnMaterial.id))).all()
    return {own_code(one.id): own_as_material(one) for one in own} | dict(load_library().materials)


def read_known(session: Session) -> Known:
    """Return all that is known of materials, in three queries."""
    materials = all_materials(session)
    spools: dict[str, list[Spool]] = {}
    for spool in session.exec(select(Spool).order_by(col(Spool.id).desc())):
        code, _ = spool_code(spool, materials)
        if code:
            spools.setdefault(code, []).append(spool)
    supplies = {supply.material: supply for supply in session.exec(select(Supply))}
    return Known(materials, supplies, spools)


def spool_code(spool: Spool, materials: Mapping[str, Material]) -> tuple[str | None, str]:
    """Return the code of the spool's material and how it was found; None and the reason where it can't be told."""
    if spool.own_material_id is not None and own_code(spool.own_material_id) in materials:
        return own_code(spool.own_material_id), "chosen for this spool"
    return find_material(spool.material)


def price_eur_kg(known: Known, code: str) -> tuple[float | None, str]:
    """Return what a kilogram costs and who says so: a spool's own price, then the supply's, then the table's middle."""
    own = [spool.price_eur_kg for spool in known.on_shelf(code) if spool.price_eur_kg is not None]
    if own:
        return min(own), "spool on the shelf"
    supply = known.supplies.get(code)
    if supply and supply.price_eur_kg is not None:
        return supply.price_eur_kg, "entered for this material"
    figure = known.materials[code].figure("price_eur_kg")
    if figure is None:
        return None, "not known"
    return (figure.low + figure.high) / 2, "middle of the table’s range, from memory"
