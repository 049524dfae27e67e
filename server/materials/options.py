"""The materials that a next build could be made of, with all that a plan has to know of each."""

from datetime import date

from sqlmodel import Session

from analysis.materials.library import Material
from analysis.materials.strength import Span, combine, heat_factor, upright_gross_mpa
from analysis.nextbuild.situation import Fitness, MaterialOption
from analysis.strength.ranges import Range
from server.materials.known import Known, price_eur_kg, spool_code
from server.materials.places import judge_part
from server.materials.torn import gross_of_spool
from server.naming import upper_first
from server.records import Part, Spool

CHAMBER_HELPS_C = 40.0  # a material whose chamber begins here isn't printed well in an open machine; judgement
FITNESS: dict[str, Fitness] = {
    "fits": "fits",
    "marginal": "marginal",
    "doesnt_fit": "doesnt_fit",
    "not_known": "not_known",
}


def material_options(session: Session, part: Part, present: Spool | None, today: date) -> list[MaterialOption]:
    """Return every material, judged for the part's place, with its strength over that of the present spool.

    Strengths are compared as upright bars on their outside section, both at the place's highest temperature (23 °C
    where that isn't known): the shape and the bonded share stay those of the part, so they cancel.
    """
    judged = judge_part(session, part, today)
    heat_c, known = judged.place.environment.highest_c, judged.known
    now_code = spool_code(present, known.materials)[0] if present else None
    now = _across(session, known, now_code, [present] if present else [], heat_c)
    options = []
    for judgement in judged.judgements:
        material = judgement.material
        spools = known.on_shelf(material.code)
        here = _across(session, known, material.code, spools, heat_c)
        same = material.code == now_code
        ratio = Range(1.0, 1.0) if same else _ratio(here, now)
        supply = known.supplies.get(material.code)
        nozzle, chamber = material.figure("nozzle_c"), material.figure("chamber_c")
        options.append(
            MaterialOption(
                code=material.code,
                name=material.words,
                fitness=FITNESS[judgement.fit],
                why=upper_first(judgement.decides.why) + ".",
                strength_ratio=ratio,
                days=0.0 if spools else _days(supply.days_to_get if supply else None),
                price_per_kg=price_eur_kg(known, material.code)[0],
                nozzle_c=nozzle.low if nozzle else None,
                needs_chamber=chamber.low >= CHAMBER_HELPS_C if chamber else None,
                is_present=same,
            )
        )
    return options


def _days(days: int | None) -> float | None:
    return None if days is None else float(days)


def _across(session: Session, known: Known, code: str | None, spools: list[Spool], heat_c: float | None) -> Span | None:
    """Return an upright bar's strength at that heat: by a spool's own test where there is one, else by the table."""
    material: Material | None = known.materials.get(code) if code else None
    for spool in spools:
        span, _, _ = gross_of_spool(session, spool, material, heat_c)
        if span:
            return span
    gross = upright_gross_mpa(material) if material else None
    if gross is None or material is None or heat_c is None:
        return gross
    factor, _ = heat_factor(material, heat_c)
    return combine(gross, factor) if factor else None


def _ratio(here: Span | None, now: Span | None) -> Range | None:
    return Range(*combine(here, now, divide=True)) if here and now else None
