"""The material of the broken build, as far as the plan needs to know it."""

from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from analysis.materials.library import Material
from analysis.nextbuild.situation import MaterialOption
from analysis.strength.ranges import Range
from server.materials.known import all_materials, spool_code
from server.materials.options import material_options
from server.materials.places import judge_part
from server.records import Build, Part, Spool


@dataclass(frozen=True)
class Present:
    """The broken build's material, its in-plane over upright strength, the heat of its place and where that is from."""

    name: str
    in_plane_ratio: Range | None
    highest_c: float | None
    heat_from: str
    options: tuple[MaterialOption, ...]


def present_of(session: Session, part: Part, build: Build | None) -> Present:
    """Read the present material and what it could be replaced by at the part's place."""
    spool = session.get(Spool, build.spool_id) if build and build.spool_id else None
    materials = all_materials(session)
    code = spool_code(spool, materials)[0] if spool else None
    place = judge_part(session, part, date.today()).place
    return Present(
        spool.material if spool else "",
        _in_plane_ratio(materials.get(code) if code else None),
        place.environment.highest_c,
        place.heat_from,
        tuple(material_options(session, part, spool, date.today())),
    )


def _in_plane_ratio(material: Material | None) -> Range | None:
    ratio = material.figure("z_ratio") if material else None
    return None if ratio is None or ratio.low <= 0 else Range(1 / ratio.high, 1 / ratio.low)
