"""The published interface to materials: what is known of them, what a designation says, what fits a part's place."""

from dataclasses import asdict
from datetime import date
from typing import Annotated, Any

from fastapi import Query
from sqlmodel import Session

from analysis.materials.designation import decode
from analysis.materials.finding import find_material
from analysis.materials.fitness import LEAST_MONTHS
from analysis.materials.library import AGENTS, NEEDS, QUANTITIES, Figure, Material, Rating
from analysis.materials.strength import interface_mpa, upright_gross_mpa
from server.access import get_or_404
from server.api_models import DesignationOut, FitOut, FitPointOut, MaterialOut, PlaceOut
from server.database import SessionDep
from server.errors import not_found
from server.materials.known import Known, read_known
from server.materials.places import Judged, judge_part
from server.records import Part
from server.routes.api import answers


@answers(200)
def list_materials(session: SessionDep) -> list[MaterialOut]:
    """Every material, the bench's own first."""
    known = read_known(session)
    return [_out(known, material) for material in known.materials.values()]


@answers(200, e404="No such material")
def read_material(session: SessionDep, code: str) -> MaterialOut:
    """One material with all its figures, each with its source."""
    known = read_known(session)
    if code not in known.materials:
        raise not_found("material")
    return _out(known, known.materials[code])


def _out(known: Known, material: Material) -> MaterialOut:
    supply = known.supplies.get(material.code)
    return MaterialOut(
        code=material.code,
        name=material.words,
        designation=material.decodes,
        kind=material.kind,
        figures={name: _known(material.figure(name)) for name in QUANTITIES},
        ratings={name: _known(material.rating(name)) for name in (*AGENTS, *NEEDS)},
        between_layers_mpa=interface_mpa(material),
        upright_bar_mpa=upright_gross_mpa(material),
        on_shelf=bool(known.on_shelf(material.code)),
        days_to_get=supply.days_to_get if supply else None,
    )


def _known(one: Figure | Rating | None) -> Any:
    return {**asdict(one), "status": one.source.status, "source": one.source.words} if one else None


@answers(200)
def read_designation(text: Annotated[str, Query(max_length=200)]) -> DesignationOut:
    """Read a material designation in standard or trade spelling."""
    read = decode(text)
    code, reason = find_material(text)
    return DesignationOut(**asdict(read), standard=read.plain, material=code, reason=reason)


@answers(200, e404="No such part")
def read_place(session: SessionDep, part_id: int) -> PlaceOut:
    """What the place of a part asks of a material, and the judgement of every one."""
    judged = _judged(session, part_id)
    place = judged.place
    return PlaceOut(
        highest_c=place.environment.highest_c,
        heat_from=place.heat_from,
        agents=list(place.environment.agents),
        water=place.environment.water,
        stood=[one.material.code for one in judged.stood if not one.softened and one.months >= LEAST_MONTHS],
        fits=[
            FitOut(
                material=one.material.code,
                name=one.material.words,
                fit=one.fit,
                why=one.decides.why,
                points=[FitPointOut(**asdict(point)) for point in one.points],
            )
            for one in judged.judgements
        ],
    )


def _judged(session: Session, part_id: int) -> Judged:
    return judge_part(session, get_or_404(session, Part, part_id), date.today())
