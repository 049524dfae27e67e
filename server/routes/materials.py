"""Materials, what a designation says, own tests of a spool, and what fits the place of a part."""

from typing import Any

from fastapi import Request
from fastapi.responses import Response
from sqlmodel import col, select

from analysis.materials.environments import load_presets
from server.access import get_or_404
from server.database import SessionDep
from server.errors import not_found
from server.formpage import FormPage, MaybeSent, show_form
from server.forms.materials import CouponCorrectionForm, CouponForm, OwnMaterialForm, PlaceForm, SupplyForm
from server.forms.record import offer
from server.history.part import form_warnings
from server.links import address
from server.materials import page
from server.materials.known import Known, read_known
from server.materials.placepage import place_page
from server.naming import revision_name
from server.pages import go, show
from server.records import CouponTest, OwnMaterial, Part, Revision, Spool, Supply, UsePlace

CORRECTED = "This test has been corrected already; correct the newest entry."


def materials(request: Request, session: SessionDep, designation: str = "") -> Response:
    context = {
        "title": "Materials",
        "trail": [("Shelf", address(request, "shelf"))],
        "designation": designation[:200],
        "read": page.read_designation(request, designation),
        "rows": page.rows(request, read_known(session)),
    }
    return show(request, "materials/list.html", context)


def material(request: Request, session: SessionDep, code: str) -> Response:
    known = read_known(session)
    found = known.materials.get(code)
    if found is None:
        raise not_found("material")
    figures, missing = page.missing_first_last(page.figure_lines(found))
    agents, agents_missing = page.missing_first_last(page.agent_lines(found))
    own = session.get(OwnMaterial, int(code.removeprefix("own-"))) if code.startswith("own-") else None
    context = {
        "title": found.words,
        "trail": [("Shelf", address(request, "shelf")), ("Materials", address(request, "materials"))],
        "kind": found.kind,
        "strength": page.strength_facts(found),
        "heat": page.heat_facts(found),
        "figures": figures,
        "agents": agents,
        "missing": missing + agents_missing,
        "supply": page.supply_facts(known, code),
        "spools": [(page.spool_line(one), address(request, "spool", spool_id=one.id)) for one in _spools(known, code)],
        "supply_edit": address(request, "supply_edit", code=code),
        "own": own,
        "edit": address(request, "own_material_edit", own_id=own.id) if own else "",
        "copy": f"{address(request, 'own_material_new')}?like={code}",
    }
    return show(request, "materials/material.html", context)


def _spools(known: Known, code: str) -> list[Spool]:
    return known.spools.get(code, [])


def own_material_new(request: Request, session: SessionDep, sent: MaybeSent, like: str = "") -> Response:
    pattern = read_known(session).materials.get(like)
    filled: dict[str, Any] = {}
    intro = ""
    if pattern and sent is None:
        intro = f"Filled in from {pattern.words}. Change what your own data sheet or test says otherwise."
        filled = {name: (figure.low, figure.high) for name, figure in pattern.figures.items()}
        filled |= {name: rating.code for name, rating in pattern.ratings.items()}
        filled |= {"designation": pattern.decodes, "kind": pattern.kind, "source": f"taken over from {pattern.words}"}
    form = OwnMaterialForm(sent, **filled)
    if sent is None or not form.validate():
        return show_form(request, _page(request, "New material of your own", "materials", intro), form)
    own = OwnMaterial(**_own_fields(form))
    session.add(own)
    session.commit()
    return go(request, "material", code=f"own-{own.id}")


def own_material_edit(request: Request, session: SessionDep, own_id: int, sent: MaybeSent) -> Response:
    own = get_or_404(session, OwnMaterial, own_id)
    kept = {name: tuple(span) for name, span in own.figures.items()} | own.ratings
    form = OwnMaterialForm(sent, **{**kept, **own.model_dump(exclude={"figures", "ratings"})})
    if sent is None or not form.validate():
        return show_form(request, _page(request, f"Edit {own.name}", "materials"), form)
    for name, value in _own_fields(form).items():
        setattr(own, name, value)
    session.add(own)
    session.commit()
    return go(request, "material", code=f"own-{own.id}")


def _own_fields(form: OwnMaterialForm) -> dict[str, Any]:
    figures = {name: list(form[name].data) for name in form.FIGURES if form[name].data}
    ratings = {name: form[name].data for name in form.RATINGS if form[name].data}
    plain = {name: form[name].data for name in ("name", "designation", "kind", "source", "note")}
    return {**plain, "figures": figures, "ratings": ratings}


def supply_edit(request: Request, session: SessionDep, code: str, sent: MaybeSent) -> Response:
    known = read_known(session)
    if code not in known.materials:
        raise not_found("material")
    supply = known.supplies.get(code) or Supply(material=code)
    form = SupplyForm(sent, obj=supply)
    if sent is None or not form.validate():
        title = f"Getting {known.materials[code].words}"
        return show_form(request, _page(request, title, "material", code=code), form)
    form.populate_obj(supply)
    session.add(supply)
    session.commit()
    return go(request, "material", code=code)


def spool(request: Request, session: SessionDep, spool_id: int) -> Response:
    found = get_or_404(session, Spool, spool_id)
    trail = [("Shelf", address(request, "shelf"))]
    context = page.spool_context(request, session, found, read_known(session))
    return show(
        request,
        "materials/spool.html",
        {**context, "trail": trail, "life": f"{address(request, 'life')}?spool={spool_id}"},
    )


def coupon_new(request: Request, session: SessionDep, spool_id: int, sent: MaybeSent) -> Response:
    found = get_or_404(session, Spool, spool_id)
    form = CouponForm(sent)
    if sent is None or not form.validate():
        title = f"Torn bars of {found.material}"
        return show_form(request, _coupon_page(request, title, spool_id), form)
    session.add(CouponTest(spool_id=spool_id, **_coupon_fields(form)))
    session.commit()
    return go(request, "spool", spool_id=spool_id)


def coupon_correct(request: Request, session: SessionDep, test_id: int, sent: MaybeSent) -> Response:
    test = get_or_404(session, CouponTest, test_id)
    replaced = session.exec(select(CouponTest.id).where(col(CouponTest.replaces_id) == test_id)).first()
    bonded = (test.bonded_low * 100, test.bonded_high * 100) if test.bonded_low and test.bonded_high else None
    given = test.model_dump(include={"geometry", "orientation", "temperature_c", "tested_on", "printed_how", "note"})
    form = CouponCorrectionForm(sent, **given, bars=test.typed, bonded=bonded)
    if sent is None or replaced or not form.validate():
        warnings = (CORRECTED,) if replaced else ()
        return show_form(request, _coupon_page(request, "Correct this test", test.spool_id, warnings), form)
    more = {"is_withdrawn": form.is_withdrawn.data, "correction_reason": form.correction_reason.data}
    session.add(CouponTest(spool_id=test.spool_id, replaces_id=test_id, **_coupon_fields(form), **more))
    session.commit()
    return go(request, "spool", spool_id=test.spool_id)


def _coupon_fields(form: CouponForm) -> dict[str, Any]:
    names = ("geometry", "orientation", "temperature_c", "tested_on", "printed_how", "note", "tested_by")
    shares = [share / 100 for share in form.bonded.data] if form.bonded.data else [None, None]
    return {
        **{name: form[name].data for name in names},
        "bars": form.bars.bars,
        "typed": form.bars.data,
        "bonded_low": shares[0],
        "bonded_high": shares[1],
    }


def _coupon_page(request: Request, title: str, spool_id: int, warnings: tuple[str, ...] = ()) -> FormPage:
    back = address(request, "spool", spool_id=spool_id)
    hints = (
        "Print the bars with the settings of the part, upright, and pull each until it breaks.",
        "Three bars are the least for a spread; five or more make the limit worth something.",
        "Write down every bar. One that stands out is named, and stays in unless there is a reason to leave it out.",
    )
    return FormPage(title, back, (("Shelf", address(request, "shelf")), ("Spool", back)), "", hints, warnings)


def place(request: Request, session: SessionDep, part_id: int) -> Response:
    part = get_or_404(session, Part, part_id)
    return show(request, "materials/place.html", place_page(request, session, part))


def place_new(request: Request, session: SessionDep, part_id: int, sent: MaybeSent, like: str = "") -> Response:
    part = get_or_404(session, Part, part_id)
    preset, filled, intro = load_presets().get(like), {}, ""
    if preset and sent is None:
        filled = {"preset": like, "highest_c": preset.high_c, "water": preset.water, "how_known": preset.source}
        filled |= dict.fromkeys(preset.agents, True)
        intro = (
            f"Filled in from “{preset.words}”, reported with {preset.low_c:g} to {preset.high_c:g} °C: the high end is "
            "taken. Put your own number in its place where you have measured."
        )
    form = PlaceForm(sent, **filled)
    revisions = session.exec(select(Revision).where(Revision.part_id == part_id).order_by(col(Revision.number))).all()
    offer(form.revision_id, "the part, whatever its revision", ((one.id, revision_name(one)) for one in revisions))
    if sent is None or not form.validate():
        back = address(request, "place", part_id=part_id)
        trail = (("Parts", address(request, "parts")), (part.name, address(request, "part", part_id=part_id)))
        warnings = form_warnings(part)
        title = f"The place of {part.name}"
        return show_form(request, FormPage(title, back, trail, intro, warnings=warnings), form)
    names = ("preset", "highest_c", "water", "how_known", "revision_id", "entered_by")
    said = {name: form[name].data for name in names}
    typed = str(sent.get("highest_c") or "")[:40]
    session.add(UsePlace(part_id=part_id, agents=form.agents(), highest_typed=typed, **said))
    session.commit()
    return go(request, "place", part_id=part_id)


def _page(request: Request, title: str, back: str, intro: str = "", **path: Any) -> FormPage:
    trail = (("Shelf", address(request, "shelf")), ("Materials", address(request, "materials")))
    return FormPage(title, address(request, back, **path), trail, intro)
