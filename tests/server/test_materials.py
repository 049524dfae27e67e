"""Materials, spools with own tests, and the place of a part, as the pages and the interface give them."""

from datetime import date, timedelta
from typing import Any

import pytest
from sqlmodel import Session, select

from analysis.materials.library import load_library
from server.materials.options import material_options
from server.materials.places import judge_part
from server.materials.torn import interlayer_of_spool
from server.records import CouponTest, Observation, OwnMaterial, Part, Spool, Supply, UsePlace
from tests.server.builders import (
    keep,
    make_build,
    make_failure,
    make_own_material,
    make_part,
    make_revision,
    make_service,
    make_spool,
    make_test,
)
from tests.server.conftest import Client

TODAY = date(2026, 11, 1)
BARS = {"geometry": "iso527_1a", "orientation": "upright", "tested_on": "2026-01-05", "tested_by": "O."}


class TestOwnTests:
    def test_three_bars_outrank_the_table_for_their_spool_only(self, session: Session) -> None:
        """The spool that was tested answers by its bars, another of the same material by the table."""
        tested, other = make_spool(session), make_spool(session)
        make_test(session, tested, bonded_low=0.7, bonded_high=0.8)

        by_test, by_table = interlayer_of_spool(session, tested), interlayer_of_spool(session, other)

        assert (by_test.origin, by_table.origin) == ("coupon", "table")
        # Bars of 790, 800, 820 N on 40 mm² are 20.1 MPa on the mean; over 0.75 bonded that is 26.8 MPa.
        assert by_test.span_mpa is not None
        assert by_test.span_mpa[0] < 26.8 < by_test.span_mpa[1]
        assert "3 upright bars" in by_test.why

    def test_two_bars_do_not(self, session: Session) -> None:
        """Too few bars leave the table in force, and the answer says so."""
        spool = make_spool(session)
        make_test(session, spool, (800.0, 810.0))

        strength = interlayer_of_spool(session, spool)

        assert strength.origin == "table"
        assert "too few bars" in strength.why

    def test_a_withdrawn_test_no_longer_counts(self, session: Session) -> None:
        """A correction that withdraws a test gives the table its say again; both entries stay."""
        spool = make_spool(session)
        test = make_test(session, spool)
        make_test(session, spool, replaces_id=test.id, is_withdrawn=True)

        assert interlayer_of_spool(session, spool).origin == "table"
        assert len(session.exec(select(CouponTest)).all()) == 2

    def test_heat_lowers_a_tested_strength_and_beyond_the_known_there_is_none(self, session: Session) -> None:
        """A test at room temperature is brought to the heat by the material's rule; above softening it says nothing."""
        spool = make_spool(session)
        make_test(session, spool)

        cold, warm = interlayer_of_spool(session, spool, 23), interlayer_of_spool(session, spool, 50)
        hot = interlayer_of_spool(session, spool, 90)

        assert cold.span_mpa is not None
        assert warm.span_mpa is not None
        assert warm.span_mpa[1] < cold.span_mpa[1]
        assert hot.span_mpa is None

    def test_a_spool_of_unknown_material_is_helped_by_its_test(self, session: Session) -> None:
        """Where no table helps, the bars do: at the temperature of the test."""
        spool = make_spool(session, material="Wonder 9")
        assert interlayer_of_spool(session, spool).span_mpa is None

        make_test(session, spool)

        assert interlayer_of_spool(session, spool).origin == "coupon"
        assert interlayer_of_spool(session, spool, 60).span_mpa is None

    def test_typed_bars_are_kept_in_newtons_and_as_written(self, client: Client, session: Session) -> None:
        """Kilograms-force and pounds-force are read by their unit (NIST SP 811), the text is kept."""
        spool = make_spool(session)
        bars = "820 N, 10.1 x 4.0 mm; void\n80 kgf 10 x 4 mm\n180 lbf; 10,1×4 mm"

        answer = client.post(f"/shelf/spools/{spool.id}/bars/new", {**BARS, "bars": bars, "bonded": "65 to 75"})

        assert answer.status_code == 303
        test = session.exec(select(CouponTest)).one()
        assert [round(bar["force_n"], 1) for bar in test.bars] == [820.0, 784.5, 800.7]
        assert test.typed == bars
        assert (test.bonded_low, test.bonded_high) == (0.65, 0.75)

    @pytest.mark.parametrize(
        ("bars", "words"),
        [
            ("820, 10 x 4 mm", "in which unit"),
            ("820 kg, 10 x 4 mm", "not in “kg”"),
            ("820 N, 10 x 4", "write mm"),
            ("820 N, 0.4 x 0.16 in", "write mm"),
            ("820 N\n", "write it as"),
            ("820 N, 10 x 4 mm\nten", "Line 2"),
        ],
    )
    def test_a_bar_without_units_is_refused(self, client: Client, session: Session, bars: str, words: str) -> None:
        """Force and section need their units; the line that is wrong is named and nothing is stored."""
        spool = make_spool(session)

        answer = client.post(f"/shelf/spools/{spool.id}/bars/new", {**BARS, "bars": bars})

        assert answer.status_code == 422
        assert words in answer.text
        assert not session.exec(select(CouponTest)).all()

    def test_the_page_names_the_bar_that_stands_out(self, client: Client, session: Session) -> None:
        """An outlier is named with Grubbs' numbers and counted all the same."""
        spool = make_spool(session)
        make_test(session, spool, (1020.0, 1100.0, 1060.0, 610.0, 1080.0, 1050.0))

        page = client.get(f"/shelf/spools/{spool.id}").text

        assert "Bar 4 stands out" in page
        assert "own test" in page


class TestOwnMaterials:
    def test_figures_need_their_unit(self, client: Client, session: Session) -> None:
        """100 without C or F is refused beside its field; so is a strength without MPa or psi."""
        sent = {"name": "mine", "source": "sheet", "glass_c": "100", "in_plane_mpa": "40"}

        answer = client.post("/materials/own/new", sent)

        assert answer.status_code == 422
        assert 'id="glass_c-error"' in answer.text
        assert 'id="in_plane_mpa-error"' in answer.text
        assert not session.exec(select(OwnMaterial)).all()

    def test_kept_in_house_units_and_shown_with_its_source(self, client: Client, session: Session) -> None:
        """Fahrenheit is kept as Celsius; the page shows the figure, the source, and what isn't known."""
        sent = {"name": "mine", "source": "sheet of May", "glass_c": "140 to 158 F", "chem_oil": "ok"}

        assert client.post("/materials/own/new", sent).status_code == 303
        own = session.exec(select(OwnMaterial)).one()
        page = client.get(f"/materials/own-{own.id}").text

        assert own.figures == {"glass_c": [60.0, 70.0]}
        assert "60 to 70 °C" in page
        assert "sheet of May" in page
        assert "Not known: " in page

    def test_a_spool_can_be_of_it(self, client: Client, session: Session) -> None:
        """A spool that names an own material takes its figures, whatever its label says."""
        figures = {"in_plane_mpa": [40, 44], "z_ratio": [0.6, 0.7]}
        own = make_own_material(session, kind="amorphous", figures=figures)
        spool = make_spool(session, material="Wonder 9", own_material_id=own.id)

        strength = interlayer_of_spool(session, spool)

        assert strength.origin == "own"
        assert client.get(f"/shelf/spools/{spool.id}").status_code == 200

    def test_the_form_can_begin_from_the_table(self, client: Client) -> None:
        """A copy comes filled in with the table's figures, written so that they read back."""
        assert "65 to 75 C" in client.get("/materials/own/new?like=petg").text
        assert client.get("/materials/own/new?like=nothing").status_code == 200


class TestPages:
    @pytest.mark.parametrize("code", sorted(load_library().materials))
    def test_every_material_has_its_page(self, client: Client, code: str) -> None:
        """Each row of the table can be read with its sources."""
        assert client.get(f"/materials/{code}").status_code == 200

    @pytest.mark.parametrize("code", ["nothing", "own-7", "own-x", "own-", "<b>"])
    def test_no_other_has(self, client: Client, code: str) -> None:
        """A code that isn't there is not found, in words."""
        assert client.get(f"/materials/{code}").status_code == 404
        assert client.get(f"/materials/{code}/supply").status_code == 404

    def test_a_label_is_read(self, client: Client) -> None:
        """The box answers with family, filler, warnings, and what it doesn't know."""
        page = client.get("/materials", params={"designation": "PA66-GF30 zeta"}).text

        assert "glass, fibre: 30 % by mass" in page
        assert "counts carbon atoms" in page
        assert "ZETA" in page

    def test_supply_is_one_row_a_material(self, client: Client, session: Session) -> None:
        """Entered twice it is changed, not doubled; the list says how long it takes."""
        for days in ("5", "3"):
            assert client.post("/materials/pc/supply", {"days_to_get": days}).status_code == 303

        assert [supply.days_to_get for supply in session.exec(select(Supply))] == [3]
        assert "3 days to get" in client.get("/materials").text


def stay(session: Session, material: str, months: float, **overrides: Any) -> tuple[Part, Any]:
    """Make a part whose build of that material has been in service that many months up to TODAY."""
    part = make_part(session)
    spool = make_spool(session, material=material)
    build = make_build(session, make_revision(session, part), spool_id=spool.id)
    fitted = TODAY - timedelta(days=round(months * 30.44))
    return part, make_service(session, build, fitted_on=fitted, **overrides)


def fits(session: Session, part: Part) -> dict[str, str]:
    judged = judge_part(session, part, TODAY)
    return {one.material.code: one.fit for one in judged.judgements}


class TestPlace:
    def test_a_temperature_without_unit_is_refused(self, client: Client, session: Session) -> None:
        """100 alone could be either: it is refused beside its field, and 212 F is kept as 100 °C."""
        part = make_part(session)
        path = f"/parts/{part.id}/place/new"

        refused = client.post(path, {"highest_c": "100", "entered_by": "O."})
        taken = client.post(path, {"highest_c": "212 F", "entered_by": "O.", "chem_oil": "y"})

        assert (refused.status_code, taken.status_code) == (422, 303)
        assert "in C or F" in refused.text
        entry = session.exec(select(UsePlace)).one()
        assert (entry.highest_c, entry.agents, entry.highest_typed) == (100.0, ["chem_oil"], "212 F")

    def test_the_newest_entry_counts_and_a_revisions_own_before_the_parts(self, session: Session) -> None:
        """Places are added to; what was said of a revision goes before what was said of the part."""
        part = make_part(session)
        revision = make_revision(session, part)
        for highest_c, revision_id in ((40.0, None), (50.0, revision.id), (60.0, None)):
            keep(session, UsePlace(part_id=part.id, highest_c=highest_c, revision_id=revision_id, agents=[]))

        assert judge_part(session, part, TODAY).place.environment.highest_c == 50.0

    def test_without_an_entry_the_service_log_tells_how_hot_it_gets(self, session: Session) -> None:
        """The highest temperature that was logged in service stands in, and is named as that."""
        part, _ = stay(session, "PLA", 1, highest_c=70)

        place = judge_part(session, part, TODAY).place

        assert (place.environment.highest_c, place.heat_from) == (70, "highest that was logged in service")
        assert fits(session, part)["pla"] == "doesnt_fit"

    def test_what_stood_for_months_is_a_floor(self, session: Session) -> None:
        """PETG in use for a year backs itself; PLA, which softens earlier, is no better than marginal."""
        part, _ = stay(session, "PETG", 12)
        keep(session, UsePlace(part_id=part.id, highest_c=40, agents=[]))

        found = fits(session, part)

        assert (found["petg"], found["pla"], found["asa"]) == ("fits", "marginal", "fits")

    def test_heat_marks_on_the_broken_part_say_that_it_softened(self, session: Session) -> None:
        """A failure with heat marks takes its material, and what stands no more heat, off the list."""
        part, service = stay(session, "PETG", 12)
        failure = make_failure(session, service=service, found_on=TODAY - timedelta(days=30))
        keep(session, UsePlace(part_id=part.id, highest_c=40, agents=[]))
        keep(session, Observation(failure_id=failure.id, code="heat_marks", answer="yes"))

        found = fits(session, part)

        assert (found["petg"], found["pla"], found["pc"]) == ("doesnt_fit", "doesnt_fit", "fits")

    def test_the_page_says_why(self, client: Client, session: Session) -> None:
        """Each material stands there with its word and the number that decides, and the part leads to the page."""
        part, _ = stay(session, "PETG", 12, highest_c=69)

        page = client.get(f"/parts/{part.id}/place").text

        assert "doesn’t fit" in page
        assert "69 °C is above the heat deflection at 0.45 MPa of 50 to 60 °C (from memory)" in page
        assert f"/parts/{part.id}/place" in client.get(f"/parts/{part.id}").text

    def test_a_usual_place_fills_the_form_in(self, client: Client, session: Session) -> None:
        """The high end of the report, the source, and what is around there."""
        page = client.get(f"/parts/{make_part(session).id}/place/new?like=dishwasher").text

        assert 'value="82 C"' in page
        assert "low-temperature machines" in page


class TestOptions:
    def test_of_a_next_build(self, session: Session) -> None:
        """Each material comes with its fit, its strength over the present one's, and whether it is at hand."""
        part, _ = stay(session, "PETG", 12, highest_c=40)
        present = session.exec(select(Spool)).one()
        make_spool(session, material="ASA")
        keep(session, Supply(material="pc", days_to_get=6))

        options = {one.code: one for one in material_options(session, part, present, TODAY)}

        assert options["petg"].is_present
        assert options["petg"].strength_ratio is not None
        assert options["petg"].strength_ratio.median == 1.0
        assert (options["asa"].days, options["pc"].days, options["pps"].days) == (0.0, 6.0, None)
        assert options["tpu"].strength_ratio is None
        assert options["pc"].fitness == "fits"
        assert options["pc"].strength_ratio is not None
        assert options["pc"].strength_ratio.median > 1


class TestInterface:
    def test_materials_with_sources(self, client: Client) -> None:
        """Each figure has its source; what isn't known is null."""
        petg = client.get("/api/materials/petg").json()

        assert petg["figures"]["continuous_c"]["status"] == "read"
        assert petg["figures"]["melting_c"] is None
        assert petg["between_layers_mpa"][0] > petg["upright_bar_mpa"][0]
        assert len(client.get("/api/materials").json()) == len(load_library().materials)
        assert client.get("/api/materials/none").status_code == 404

    def test_designation(self, client: Client) -> None:
        """The same reading as the page's."""
        read = client.get("/api/designation", params={"text": "PA6T/66, MH, 14-190, GF50"}).json()

        assert (read["standard"], read["fillers"][0]["percent"]) == ("PA6T/66-GF", 50.0)
        assert client.get("/api/designation", params={"text": "x" * 201}).status_code == 422

    def test_place(self, client: Client, session: Session) -> None:
        """The judgement of every material for a part's place."""
        part, _ = stay(session, "PETG", 12, highest_c=69)

        place = client.get(f"/api/parts/{part.id}/place").json()

        assert place["highest_c"] == 69
        assert place["stood"] == ["petg"]
        assert {one["material"]: one["fit"] for one in place["fits"]}["pla"] == "doesnt_fit"


def test_queries_of_the_place_do_not_grow_with_service(client: Client, session: Session, count_queries: Any) -> None:
    """Twenty more stays and spools take no more questions to the record."""
    part, service = stay(session, "PETG", 12, highest_c=50)
    few = count_queries(lambda: client.get(f"/parts/{part.id}/place"))
    for _ in range(20):
        make_service(session, make_build(session, make_revision(session, part), spool_id=make_spool(session).id))

    assert count_queries(lambda: client.get(f"/parts/{part.id}/place")) == few
    assert service.id
