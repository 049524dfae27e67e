"""What the pages of materials, spools and tests print."""

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import Request
from sqlmodel import Session

from analysis.materials.coupons import evaluate
from analysis.materials.designation import Designation, decode
from analysis.materials.finding import find_material
from analysis.materials.fitness import heat_ceiling, heat_floor
from analysis.materials.library import AGENTS, NEEDS, QUANTITIES, STATUSES, Figure, Material, Rating
from analysis.materials.strength import Span, interface_mpa, upright_gross_mpa
from server.links import address
from server.materials.known import Known, price_eur_kg, spool_code
from server.materials.torn import (
    all_tests,
    counting,
    interlayer_of_spool,
    result_of,
    section_warnings,
    stress_mpa,
)
from server.naming import upper_first
from server.pages import day
from server.records import CouponTest, Spool
from server.wording import words

LISTED = ("glass_c", "hdt_045_c", "hdt_180_c", "continuous_c")


@dataclass(frozen=True)
class Cell:
    """A figure as printed, with how well it is known in one word; empty where it isn't."""

    text: str
    status: str = ""
    mark: str = ""


@dataclass(frozen=True)
class Row:
    """One material in the list."""

    name: str
    address: str
    own: bool
    here: str
    cells: list[Cell]


@dataclass(frozen=True)
class FigureLine:
    """One figure on a material's page."""

    name: str
    value: str
    status: str
    source: str
    note: str


@dataclass(frozen=True)
class TestView:
    """One test of bars as its page section prints it."""

    title: str
    facts: list[tuple[str, str]]
    bars: list[tuple[int, str, str, str, bool, str]]
    result: list[tuple[str, str]]
    notes: list[str]
    counts: str
    correct: str


def figure_words(figure: Figure) -> str:
    """Write a figure with its unit."""
    span = f"{figure.low:g}" if figure.low == figure.high else f"{figure.low:g} to {figure.high:g}"
    return f"{span} {figure.unit}".strip()


def span_words(span: Span | None, unit: str = "MPa") -> str:
    """Write a computed range with no more figures than it deserves."""
    return f"{span[0]:.2g} to {span[1]:.2g} {unit}" if span else "not known"


def rows(request: Request, known: Known) -> list[Row]:
    """Return the list of materials, own ones first."""
    return [_row(request, known, material) for material in known.materials.values()]


def _row(request: Request, known: Known, material: Material) -> Row:
    cells = [_cell(material.figure(name)) for name in LISTED]
    across = interface_mpa(material)
    cells.append(Cell(span_words(across, ""), "computed", "computed") if across else Cell(""))
    return Row(
        material.words,
        address(request, "material", code=material.code),
        material.code.startswith("own-"),
        here_words(known, material.code),
        cells,
    )


def _cell(figure: Figure | None) -> Cell:
    if figure is None:
        return Cell("")
    span = f"{figure.low:g}" if figure.low == figure.high else f"{figure.low:g}–{figure.high:g}"
    return Cell(span, figure.source.status, STATUSES[figure.source.status])


def here_words(known: Known, code: str) -> str:
    """Say whether a material is on the shelf, or how long it takes to get."""
    spools = known.on_shelf(code)
    if spools:
        return f"on the shelf ({len(spools)})" if len(spools) > 1 else "on the shelf"
    supply = known.supplies.get(code)
    if supply and supply.days_to_get is not None:
        return f"{supply.days_to_get} day{'s' if supply.days_to_get != 1 else ''} to get"
    return "not on the shelf"


def figure_lines(material: Material) -> list[FigureLine]:
    """Return every figure that is known of a material; and what isn't, as a line without a value."""
    lines = []
    for name, (label, _) in QUANTITIES.items():
        figure = material.figure(name)
        lines.append(_line(label, figure_words(figure) if figure else "", figure))
    for name in NEEDS:
        rating = material.rating(name)
        lines.append(_line(NEEDS[name], rating.code if rating else "", rating))
    return lines


def agent_lines(material: Material) -> list[FigureLine]:
    """Return what is known of each agent's attack."""
    lines = []
    for name, label in AGENTS.items():
        rating = material.rating(name)
        lines.append(_line(upper_first(label), words(rating.code, "chem_rating") if rating else "", rating))
    return lines


def _line(label: str, value: str, known: Figure | Rating | None) -> FigureLine:
    if known is None:
        return FigureLine(label, "", "", "", "")
    return FigureLine(label, value, STATUSES[known.source.status], known.source.words, known.note)


def missing_first_last(lines: Sequence[FigureLine]) -> tuple[list[FigureLine], list[str]]:
    """Return the lines that have a value, and the names of those that don't."""
    return [line for line in lines if line.value], [line.name for line in lines if not line.value]


def strength_facts(material: Material) -> list[tuple[str, str]]:
    """Return a material's strengths, with what each may be used for."""
    return [
        ("On the area that is bonded", f"{span_words(interface_mpa(material))}: for a face whose welds were measured"),
        ("Upright bar on its outside section", f"{span_words(upright_gross_mpa(material))}: holds its own voids"),
    ]


def heat_facts(material: Material) -> list[tuple[str, str]]:
    """Return up to which temperature a material surely fits, and above which it surely doesn't."""
    floor, ceiling = heat_floor(material), heat_ceiling(material)
    return [
        ("Fits up to", f"{floor.celsius:g} °C: {floor.words}" if floor else "not known"),
        ("Doesn’t fit above", f"{ceiling.celsius:g} °C: {ceiling.words}" if ceiling else "not known"),
    ]


def supply_facts(known: Known, code: str) -> list[tuple[str, str]]:
    """Return where a material is and what it costs."""
    price, said = price_eur_kg(known, code)
    facts = [("At hand", here_words(known, code))]
    facts.append(("Price", f"{price:.0f} €/kg ({said})" if price is not None else "not known"))
    supply = known.supplies.get(code)
    return [*facts, ("Note", supply.note)] if supply and supply.note else facts


@dataclass(frozen=True)
class Read:
    """A designation as read, and the material that it leads to."""

    text: str
    facts: list[tuple[str, str]]
    warnings: list[str]
    unknown: str
    found: str
    found_address: str


def read_designation(request: Request, text: str) -> Read | None:
    """Return what a designation says; None where nothing was asked."""
    if not text.strip():
        return None
    read = decode(text)
    code, why = find_material(text)
    return Read(
        text.strip()[:200],
        _read_facts(read),
        list(read.warnings),
        ", ".join(part[:60] for part in read.unknown),
        why if code else f"No figures: {why}.",
        address(request, "material", code=code) if code else "",
    )


def _read_facts(read: Designation) -> list[tuple[str, str]]:
    facts = [("Standard spelling", read.plain)] if read.plain else []
    families = zip(read.polymers, read.families, strict=True)
    facts += [("Polymer", f"{symbol}: {family}") for symbol, family in families]
    for filler in read.fillers:
        share = f"{filler.percent:g} % by mass" if filler.percent is not None else "share not given"
        if read.together_percent is not None:
            share = f"together {read.together_percent:g} % by mass"
        facts.append(("Filler", f"{filler.kind}, {filler.form}: {share}"))
    if read.shore:
        facts.append(("Hardness", read.shore))
    if read.data:
        facts.append(("Further data blocks", ", ".join(read.data)))
    return facts


def spool_line(spool: Spool) -> str:
    """Write a spool in one line."""
    left = f"{spool.left_g:.0f} g left" if spool.left_g is not None else ""
    lot = f"lot {spool.lot}" if spool.lot else ""
    return " · ".join(part for part in (spool.material, spool.colour, lot, left) if part)


def spool_context(request: Request, session: Session, spool: Spool, known: Known) -> dict[str, object]:
    """Return what the page of a spool prints."""
    code, why = spool_code(spool, known.materials)
    strength = interlayer_of_spool(session, spool)
    tests = all_tests(session, spool.id or 0)
    live = {test.id for test in counting(tests)}
    facts = [
        ("Colour", spool.colour),
        ("Lot", spool.lot),
        ("Opened", day(spool.opened_on) if spool.opened_on else ""),
        ("Dried", ", ".join(part for part in (day(spool.dried_on) if spool.dried_on else "", spool.dried_how) if part)),
        ("Left on it", f"{spool.left_g:.0f} g" if spool.left_g is not None else ""),
        ("Price", f"{spool.price_eur_kg:g} €/kg" if spool.price_eur_kg is not None else ""),
        ("Note", spool.note),
    ]
    return {
        "title": f"Spool of {spool.material}",
        "facts_of_spool": [(name, text) for name, text in facts if text],
        "read": read_designation(request, spool.material),
        "material": known.materials[code].words if code else "",
        "material_address": address(request, "material", code=code) if code else "",
        "why": why,
        "strength": span_words(strength.span_mpa),
        "strength_why": strength.why,
        "from_test": strength.origin == "coupon",
        "tests": [test_view(request, test, test.id in live) for test in reversed(tests)],
        "edit": address(request, "spool_edit", spool_id=spool.id),
        "more": address(request, "coupon_new", spool_id=spool.id),
    }


def _without(test: CouponTest, odd: int) -> str:
    rest = evaluate([stress_mpa(bar) for place, bar in enumerate(test.bars) if place != odd])
    if rest.mean_mpa is None or rest.tolerance_mpa is None:
        return "Without it there would be no limit."
    return f"Without it: mean {rest.mean_mpa:.1f} MPa, tolerance limit {rest.tolerance_mpa:.1f} MPa."


def test_view(request: Request, test: CouponTest, counts: bool) -> TestView:
    """Return a test as it is printed."""
    made = result_of(test)
    facts = [
        ("Bars", f"{words(test.geometry, 'coupon_geometry')}; {words(test.orientation, 'coupon_orientation')}"),
        (
            "Bonded share",
            f"{test.bonded_low * 100:.0f} to {test.bonded_high * 100:.0f} %"
            if test.bonded_low and test.bonded_high
            else "",
        ),
        ("At", f"{test.temperature_c:g} °C" if test.temperature_c is not None else ""),
        ("Printed", test.printed_how),
        ("Tested by", test.tested_by),
        ("Note", test.note),
        ("Corrected because", test.correction_reason),
    ]
    bars = [
        (
            number,
            f"{bar['force_n']:.4g}",
            f"{bar['width_mm']:g} × {bar['thickness_mm']:g}",
            f"{stress_mpa(bar):.1f}",
            made.outlier == number - 1,
            bar["note"],
        )
        for number, bar in enumerate(test.bars, 1)
    ]
    result = [("Mean", f"{made.mean_mpa:.1f} MPa" if made.mean_mpa is not None else "not known")]
    if made.sd_mpa is not None and made.mean_mpa:
        result.append(
            ("Spread", f"{made.sd_mpa:.2g} MPa ({made.sd_mpa / made.mean_mpa * 100:.0f} %), standard deviation")
        )
    if made.tolerance_mpa is not None:
        limit = f"{made.tolerance_mpa:.1f} MPa = mean − {made.k:.2f} × spread; 95 of 100 bars are stronger, 95 % sure"
        result.append(("Tolerance limit", limit))
    if made.span_mpa:
        result.append(("The next bar", f"{span_words(made.span_mpa)}, nine times in ten"))
    notes = [upper_first(made.reason) + "."] if made.reason else []
    if made.outlier is not None and made.grubbs and made.grubbs_limit:
        notes.append(
            f"Bar {made.outlier + 1} stands out: Grubbs’ G = {made.grubbs:.2f} is above {made.grubbs_limit:.2f} (5 %). "
            f"Look at its face; it is counted unless you correct the test. {_without(test, made.outlier)}"
        )
    state = "" if counts else ("withdrawn" if test.is_withdrawn else "replaced by a later entry")
    return TestView(
        f"{day(test.tested_on)}: {len(test.bars)} bars",
        [(name, text) for name, text in facts if text],
        bars,
        result,
        [*section_warnings(test), *notes],
        state,
        address(request, "coupon_correct", test_id=test.id) if counts else "",
    )
