"""Own tests of spools: which count, what they say, and how they outrank the table."""

from dataclasses import dataclass

from sqlmodel import Session, col, select

from analysis.materials.coupons import CouponResult, evaluate, section_warning
from analysis.materials.library import Material, load_library
from analysis.materials.strength import ROOM_C, Span, combine, heat_factor, interlayer_mpa, upright_gross_mpa
from server.case.current import not_replaced
from server.materials.known import all_materials, spool_code
from server.records import CouponTest, Spool

SAME_C = 3.0  # tests this close in temperature are taken as one


@dataclass(frozen=True)
class Strength:
    """A strength in MPa with what it rests on; `origin` is coupon, table or ""."""

    span_mpa: Span | None
    why: str
    origin: str = ""


def all_tests(session: Session, spool_id: int) -> list[CouponTest]:
    """Return every entry on tests of a spool, oldest first."""
    return list(
        session.exec(select(CouponTest).where(CouponTest.spool_id == spool_id).order_by(col(CouponTest.id))).all()
    )


def counting(tests: list[CouponTest]) -> list[CouponTest]:
    """Return the tests that count, newest first."""
    return [test for test in reversed(not_replaced(tests)) if not test.is_withdrawn]


def stress_mpa(bar: dict[str, float]) -> float:
    """Return a bar's strength on its outside section, MPa."""
    return bar["force_n"] / (bar["width_mm"] * bar["thickness_mm"])


def result_of(test: CouponTest) -> CouponResult:
    """Return what a test's bars say."""
    return evaluate([stress_mpa(bar) for bar in test.bars])


def section_warnings(test: CouponTest) -> list[str]:
    """Return what is odd about the bars' sections."""
    told = (section_warning(test.geometry, bar["width_mm"], bar["thickness_mm"]) for bar in test.bars)
    return [f"Bar {number}: {words}." for number, words in enumerate(told, 1) if words]


def interlayer_of_spool(session: Session, spool: Spool, temperature_c: float | None = None) -> Strength:
    """Return the strength of the bonded area between layers: by the spool's own upright bars, else by the table."""
    materials = all_materials(session)
    code, found = spool_code(spool, materials)
    material = materials[code] if code else None
    gross, test, left = gross_of_spool(session, spool, material, temperature_c)
    if test and gross:
        return Strength(_bonded(gross, test), f"{_told(test)}; {_share_told(test)}{left}", "coupon")
    if material is None or code is None:
        return Strength(None, left or found)
    if code in load_library().materials:
        span, why = interlayer_mpa(code, temperature_c)
        return Strength(span, f"{why}{left}", "table" if span else "")
    return _own_figures(material, temperature_c)


def gross_of_spool(
    session: Session, spool: Spool, material: Material | None, temperature_c: float | None
) -> tuple[Span | None, CouponTest | None, str]:
    """Return an upright bar's range by the spool's newest test with bars enough, the test, what was left out."""
    left = ""
    for test in counting(all_tests(session, spool.id or 0)):
        if test.orientation != "upright":
            continue
        span = result_of(test).span_mpa
        if span is None:
            left = left or f"; the test of {test.tested_on:%d %b %Y} has too few bars to outrank the table"
            continue
        warmed, why = _at(span, test, material, temperature_c)
        if warmed is not None:
            return warmed, test, why
        left = left or why
    return None, None, left


def _at(
    span: Span, test: CouponTest, material: Material | None, temperature_c: float | None
) -> tuple[Span | None, str]:
    tested_c = test.temperature_c if test.temperature_c is not None else ROOM_C
    if temperature_c is None:
        return span, f"; at the test’s {tested_c:g} °C, no other temperature was given"
    if temperature_c <= tested_c + SAME_C:
        return span, ""
    if material is None or tested_c > ROOM_C + SAME_C:
        return None, f"; how it falls from the test’s {tested_c:g} °C to {temperature_c:g} °C isn’t known"
    factor, rule = heat_factor(material, temperature_c)
    return (combine(span, factor), f"; {rule}") if factor else (None, f"; {rule}")


def _bonded(gross: Span, test: CouponTest) -> Span:
    share = load_library().bonded_share
    low, high = test.bonded_low or share.low, test.bonded_high or share.high
    return combine(gross, (low, high), divide=True)


def _share_told(test: CouponTest) -> str:
    if test.bonded_low is None or test.bonded_high is None:
        share = load_library().bonded_share
        return f"taken to be bonded over {_percent(share.low, share.high)} of the bars’ section (judgement)"
    return f"bonded over {_percent(test.bonded_low, test.bonded_high)} of the bars’ section, as entered"


def _percent(low: float, high: float) -> str:
    return f"{low * 100:.0f} to {high * 100:.0f} %"


def _told(test: CouponTest) -> str:
    return f"Own test of {len(test.bars)} upright bars of this spool on {test.tested_on.day} {test.tested_on:%b %Y}"


def _own_figures(material: Material, temperature_c: float | None) -> Strength:
    gross = upright_gross_mpa(material)
    if gross is None:
        return Strength(None, f"how strong {material.words} is across its layers is not known; test upright bars of it")
    factor, rule = heat_factor(material, temperature_c) if temperature_c is not None else ((1.0, 1.0), "at 23 °C")
    if factor is None:
        return Strength(None, f"{material.words}: {rule}")
    share = load_library().bonded_share
    span = combine(combine(gross, (share.low, share.high), divide=True), factor)
    return Strength(span, f"{material.words}: own figures for flat and upright bars; {rule}", "own")
