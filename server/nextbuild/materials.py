"""Which materials the next build could be made of: the spools on the shelf and the table, judged for the place."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from analysis.materials.library import Material, load_library
from analysis.materials.strength import interlayer_mpa
from analysis.nextbuild.situation import Fitness, MaterialOption
from analysis.strength.ranges import Range
from server.records import Build, Service, Spool
from server.verdict.scope import Scope

DAYS_TO_GET = 4.0  # judgement: an ordinary order; shown as such
Span = tuple[float, float]


@dataclass(frozen=True)
class Present:
    """The material of the broken build: its code in the table ("" where it isn't found there) and what is known."""

    code: str
    name: str
    in_plane_ratio: Span | None
    highest_c: float | None


def code_of(name: str) -> str:
    """The table's code for a spool's name, "" where it isn't there."""
    plain = name.upper().replace(" ", "").replace("-", "")
    materials = load_library().materials.values()
    found = [one for one in materials if one.decodes.upper().replace("-", "") == plain]
    return found[0].code if found else ""


def present_of(session: Session, build: Build | None) -> Present:
    """The broken build's material, and the highest temperature that its place is known to reach."""
    spool = session.get(Spool, build.spool_id) if build and build.spool_id else None
    name = spool.material if spool else ""
    code = code_of(name)
    material = load_library().materials.get(code)
    return Present(code, name, _in_plane_ratio(material), _highest(session, build))


def options_of(session: Session, scope: Scope, present: Present, needed_on: date | None) -> tuple[MaterialOption, ...]:
    """Every material of the table, with the spool on the shelf where there is one."""
    shelf = {code_of(spool.material): spool for spool in session.exec(select(Spool).order_by(col(Spool.id))).all()}
    library = load_library().materials
    return tuple(_option(material, present, shelf) for material in library.values())


def _option(material: Material, present: Present, shelf: Mapping[str, Spool]) -> MaterialOption:
    fitness, why = _fitness(material, present)
    needs = material.rating("hardened_nozzle")
    chamber, nozzle, price = (material.figure(name) for name in ("chamber_c", "nozzle_c", "price_eur_kg"))
    return MaterialOption(
        code=material.code,
        name=material.words + (" (hardened nozzle)" if needs is not None and needs.code == "yes" else ""),
        fitness=fitness,
        why=why,
        strength_ratio=_ratio(material.code, present),
        days=0.0 if material.code in shelf else DAYS_TO_GET,
        price_per_kg=None if price is None else (price.low + price.high) / 2,
        nozzle_c=None if nozzle is None else nozzle.low,
        needs_chamber=None if chamber is None else chamber.low >= 50,
        is_present=material.code == present.code,
    )


def _fitness(material: Material, present: Present) -> tuple[Fitness, str]:
    if present.highest_c is None:
        return "marginal", "How hot its place gets is not entered, so heat was not judged."
    glass = material.figure("hdt_045_c") or material.figure("glass_c")
    if glass is None:
        return "not_known", "At what heat it softens is not known."
    if present.highest_c >= glass.low:
        return "doesnt_fit", f"Its place reaches {present.highest_c:g} °C, and it softens from {glass.low:g} °C."
    return "fits", ""


def _ratio(code: str, present: Present) -> Range | None:
    if not present.code or code == present.code:
        return None
    theirs, _ = interlayer_mpa(code, present.highest_c)
    ours, _ = interlayer_mpa(present.code, present.highest_c)
    return None if theirs is None or ours is None else Range(*theirs).over(Range(*ours))


def _in_plane_ratio(material: Material | None) -> Span | None:
    ratio = material.figure("z_ratio") if material else None
    return None if ratio is None or ratio.low <= 0 else (1 / ratio.high, 1 / ratio.low)


def _highest(session: Session, build: Build | None) -> float | None:
    if build is None:
        return None
    stays = session.exec(select(Service).where(Service.build_id == build.id)).all()
    return max((stay.highest_c for stay in stays if stay.highest_c is not None), default=None)
