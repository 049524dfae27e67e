"""The customer's summary: what is drafted, what is kept, what is printed, and what must never get onto the paper."""

import io
from datetime import date
from typing import Any

import pytest
from fastapi import FastAPI
from PIL import Image
from pypdf import PdfReader
from sqlmodel import Session, select

from analysis.evidence.cautions import CAN_HURT
from server.records import Customer, Face, Measurement, Summary
from server.summary import summaries
from server.summary.pdf import NoPdf
from server.summary.pictures import Picture
from server.summary.words import face_words, percent, sentence
from tests.server.builders import (
    keep,
    make_build,
    make_change,
    make_face,
    make_failure,
    make_fragment,
    make_inspection,
    make_part,
    make_person_verdict,
    make_revision,
    make_service,
    make_site,
    make_verdict,
)  # fmt: skip
from tests.server.conftest import Client
from tests.server.evidence_builders import SECRET_CAMERA, located_jpeg, make_answer, make_measurement, result_of


def whole_case(session: Session, app: FastAPI, sites: int = 0, **part: Any) -> Any:
    """Make a failure with all that a summary can draw on, and a secret in every place that must stay inside."""
    customer = keep(session, Customer(name="Harbour Kitchen", contact="CONTACT-SECRET", note="NOTE-SECRET customer"))
    values = {"name": "Hinge plate", "function": "holds the arm of the stand", "note": "NOTE-SECRET part"}
    made = make_part(session, customer_id=customer.id, **{**values, **part})
    build = make_build(session, make_revision(session, made), note="NOTE-SECRET build")
    service = make_service(session, build)
    make_inspection(session, service, due_on=date(2099, 5, 4), note="NOTE-SECRET inspection")
    failure = make_failure(
        session, service=service, found_on=date(2026, 3, 1), found_place="the yard", finder="FINDER-SECRET"
    )
    piece = make_fragment(session, failure)
    places = [make_site(session, failure, name=f"place {n + 1}") for n in range(sites)]
    for site in places or [None]:
        make_measurement(
            session, app, make_face(session, piece, name="the upper half", site_id=site.id if site else None)
        )
    make_answer(session, failure, "bare_roads_both", "yes", note="NOTE-SECRET answer", seen_by="SEER-SECRET")
    make_change(session, failure, what="print it on its side", why="the load opened the layers")
    return failure


def pdf_of(client: Client, failure: Any) -> tuple[PdfReader, bytes]:
    answer = client.get(f"/failures/{failure.id}/summary.pdf")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    return PdfReader(io.BytesIO(answer.content)), answer.content


def text_of(reader: PdfReader) -> str:
    # An engine may break a line anywhere between words.
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def form_of(client: Client, failure: Any, session: Session) -> dict[str, str]:
    """Return the wording of the page as a browser would send it back."""
    wording = summaries.draft_wording(session, summaries.read_scope(session, failure.id))
    chosen = {f"{key.replace(':', '-')}-chosen": "y" for key in wording["pictures"]}
    return {**wording["sections"], **chosen, "prepared_by": "The Bench", "paper": "A4"}


class TestPdf:
    """The download, opened again."""

    def test_all_sections_numbers_and_the_picture_are_there(
        self, client: Client, app: FastAPI, session: Session
    ) -> None:
        """One to two pages with every heading, the measured numbers and the measured face."""
        reader, _ = pdf_of(client, whole_case(session, app))

        text = text_of(reader)
        for _, heading in summaries.SECTIONS:
            assert heading in text
        for said in (
            "Hinge plate",
            "Harbour Kitchen",
            "1 Mar 2026",
            "35.1 mm²",
            "20 % (16–24 %)",
            "1.9 mm",
            "print it on its side",
            "4 May 2099",
        ):
            assert said.casefold() in text.casefold()
        assert 1 <= len(reader.pages) <= 2
        assert sum(len(page.images) for page in reader.pages) == 1

    @pytest.mark.parametrize("sites", [2, 3, 4])
    def test_several_break_sites_fit(self, client: Client, app: FastAPI, session: Session, sites: int) -> None:
        """Each place with its picture and its words, still on two pages, dangerous part included."""
        reader, _ = pdf_of(client, whole_case(session, app, sites, can_hurt=True))

        text = text_of(reader)
        assert sum(len(page.images) for page in reader.pages) == sites
        assert all(f"Place {n + 1}" in text for n in range(sites))
        assert len(reader.pages) <= 2

    def test_nothing_from_inside_gets_out(self, client: Client, app: FastAPI, session: Session) -> None:
        """No EXIF, no place, no note, no file name, no other customer; in the text, the bytes and the pictures."""
        assert Image.open(io.BytesIO(located_jpeg())).getexif().get_ifd(0x8825)[1] == "N"  # the secret is there to leak
        keep(session, Customer(name="OTHER-SECRET Ltd"))
        failure = whole_case(session, app)

        reader, raw = pdf_of(client, failure)

        page = client.get(f"/failures/{failure.id}/summary/print").text
        streams = b"".join(picture.data for sheet in reader.pages for picture in sheet.images)
        for shown in (text_of(reader), page, str(reader.metadata), raw.decode("latin-1"), streams.decode("latin-1")):
            assert "SECRET" not in shown
            assert SECRET_CAMERA not in shown
        for sheet in reader.pages:
            for picture in sheet.images:
                assert not Image.open(io.BytesIO(picture.data)).getexif()
        assert set(reader.metadata or {}) <= {"/Title", "/Producer", "/Creator", "/CreationDate", "/ModDate"}
        assert "/Metadata" not in reader.trailer["/Root"]

    def test_a_rendered_picture_says_so(self, client: Client, app: FastAPI, session: Session) -> None:
        """A computed picture is never passed off as a photograph."""
        failure = make_failure(session)
        make_measurement(session, app, make_face(session, make_fragment(session, failure)), is_rendered=True)

        assert "Rendered picture, not a photograph." in text_of(pdf_of(client, failure)[0])

    def test_an_empty_case_prints_what_is_not_known(self, client: Client, session: Session) -> None:
        """No photo, no answer, no account: still one honest page."""
        reader, _ = pdf_of(client, make_failure(session))

        assert len(reader.pages) == 1
        assert "No broken face was measured." in text_of(reader)

    def test_a_long_wording_is_set_smaller_to_stay_on_two_pages(
        self, client: Client, app: FastAPI, session: Session
    ) -> None:
        """Nearly full texts with a picture fit once the type is smaller."""
        failure = whole_case(session, app)
        form = {
            **form_of(client, failure, session),
            "found": "A sentence about the broken face of it. " * 35,
            "means": "What it means in words. " * 50,
        }
        client.post(f"/failures/{failure.id}/summary", form)

        assert len(pdf_of(client, failure)[0].pages) <= 2

    def test_without_an_engine_the_page_says_what_to_do(
        self, client: Client, session: Session, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """No traceback: a plain message that leads to the browser's print."""

        def refuse(*_: Any) -> None:
            raise NoPdf("Open the print page and save it as PDF from the browser.")

        monkeypatch.setattr(summaries, "make_pdf", refuse)
        failure = make_failure(session)
        answer = client.get(f"/failures/{failure.id}/summary.pdf")

        assert answer.status_code == 503
        assert "save it as PDF from the browser" in answer.text
        assert client.get(f"/failures/{failure.id}/summary/print").status_code == 200


class TestCautions:
    """Rule: a part that can hurt someone."""

    def test_cautions_can_not_be_edited_away(self, client: Client, app: FastAPI, session: Session) -> None:
        """Even an empty wording prints every caution and the advice of a licensed professional."""
        failure = whole_case(session, app, can_hurt=True, hurt_how="the stand folds")
        client.post(f"/failures/{failure.id}/summary", {"paper": "A4"})

        text = text_of(pdf_of(client, failure)[0])

        assert "licensed professional" in text
        for said in (*CAN_HURT, "the stand folds"):
            assert said in text

    def test_a_missing_piece_that_can_harm_is_a_warning(self, client: Client, session: Session) -> None:
        """Where it may be and what it may do stand at the head of the page."""
        failure = make_failure(session)
        make_fragment(
            session, failure, status="missing", can_harm=True, harm_how="jams the hinge", where_may_be="in the joint"
        )

        text = text_of(pdf_of(client, failure)[0])

        assert "jams the hinge" in text
        assert text.index("jams the hinge") < text.index("What the part does")


class TestWording:
    """What is drafted and what is kept."""

    def test_an_edited_wording_is_kept_and_printed(self, client: Client, app: FastAPI, session: Session) -> None:
        """The person's words go onto the paper; the draft's mark goes away."""
        failure = whole_case(session, app)
        assert "Draft" in client.get(f"/failures/{failure.id}/summary/print").text

        answer = client.post(
            f"/failures/{failure.id}/summary", {**form_of(client, failure, session), "means": "It let go <b>there</b>."}
        )

        assert answer.status_code == 303
        printed = client.get(f"/failures/{failure.id}/summary/print").text
        assert "It let go &lt;b&gt;there&lt;/b&gt;." in printed
        assert "Draft" not in printed
        assert "The Bench" in printed

    def test_wordings_are_added_never_replaced(self, client: Client, app: FastAPI, session: Session) -> None:
        """The same words twice add nothing; other words add an entry that names the old one."""
        failure = whole_case(session, app)
        form = form_of(client, failure, session)
        for care in ("keep it dry", "keep it dry", "keep it cool"):
            client.post(f"/failures/{failure.id}/summary", {**form, "care": care})

        first, second = session.exec(select(Summary)).all()
        assert (first.wording["sections"]["care"], second.wording["sections"]["care"]) == (
            "keep it dry",
            "keep it cool",
        )
        assert second.replaces_id == first.id
        assert "keep it dry" in client.get(f"/failures/{failure.id}/summary").text

    def test_a_kept_wording_stays_when_the_record_grows(self, client: Client, app: FastAPI, session: Session) -> None:
        """What went to the customer doesn't change behind the person's back; it can be drafted anew."""
        failure = whole_case(session, app)
        client.post(f"/failures/{failure.id}/summary", form_of(client, failure, session))
        make_change(session, failure, what="five walls")

        assert "Five walls" not in client.get(f"/failures/{failure.id}/summary/print").text
        assert "Five walls" in client.get(f"/failures/{failure.id}/summary?fresh=1").text

    def test_a_kept_picture_stays_when_the_face_is_measured_again(
        self, client: Client, app: FastAPI, session: Session
    ) -> None:
        """The paper shows the measurement that its words speak of; the newer one is on offer beside it."""
        failure = whole_case(session, app)
        old = session.exec(select(Measurement)).one()
        form = form_of(client, failure, session)
        client.post(f"/failures/{failure.id}/summary", form)
        new = make_measurement(session, app, session.exec(select(Face)).one())

        client.post(f"/failures/{failure.id}/summary", {**form, "care": "other words"})

        assert f"/measurements/{old.id}/overlay.jpg" in client.get(f"/failures/{failure.id}/summary/print").text
        assert f'name="measurement-{new.id}-chosen"' in client.get(f"/failures/{failure.id}/summary").text

    def test_too_long_a_text_is_refused_beside_its_field(self, client: Client, session: Session) -> None:
        """The form comes back filled in and nothing is kept."""
        failure = make_failure(session)

        answer = client.post(
            f"/failures/{failure.id}/summary", {"means": "x" * 1501, "does": "kept words", "paper": "A4"}
        )

        assert answer.status_code == 422
        assert "At most 1500 characters" in answer.text
        assert "kept words" in answer.text
        assert session.exec(select(Summary)).all() == []

    def test_more_pictures_than_fit_are_refused(self, client: Client, app: FastAPI, session: Session) -> None:
        """The page says how many fit."""
        failure = whole_case(session, app, 3)
        offered = summaries.pictures_of(session, summaries.read_scope(session, failure.id))
        assert len(offered) == 6

        form = {f"{picture.key.replace(':', '-')}-chosen": "y" for picture in offered}
        answer = client.post(f"/failures/{failure.id}/summary", {**form, "paper": "A4"})

        assert answer.status_code == 422
        assert "6 pictures are chosen; 4 fit" in answer.text

    def test_the_persons_conclusion_goes_before_the_programs(self, session: Session, app: FastAPI) -> None:
        """The draft says what the person concludes, and that the numbers pointed elsewhere."""
        failure = whole_case(session, app)
        make_verdict(session, failure, primary="layer_delamination")
        make_person_verdict(session, failure, mode="overload", reason="it was dropped from the roof")

        means = summaries.draft_wording(session, summaries.read_scope(session, failure.id))["sections"]["means"]

        assert "the plastic itself tore" in means
        assert "It was dropped from the roof." in means


class TestWords:
    """Numbers for a customer."""

    @pytest.mark.parametrize(
        ("share", "words"),
        [(0.004, "less than 1 %"), (0.0, "0 %"), (0.317, "32 %"), (0.996, "more than 99 %"), (1.0, "100 %")],
    )
    def test_percent_never_rounds_to_certainty(self, share: float, words: str) -> None:
        """A little is never written as nothing, nearly all never as all."""
        assert percent(share) == words

    def test_unknown_is_said_as_unknown(self) -> None:
        """A measure that could not be had is not written as 0."""
        nothing = result_of(
            bonded_area_fraction={"value": None}, bonded_share_of_face=None, walls=[], largest_gap_mm=None
        )

        assert face_words("Face 1", nothing) == [
            "Face 1: the photo did not allow a measurement of how well the layers were joined."
        ]

    def test_share_of_the_face_stands_in_where_the_fraction_is_null(self) -> None:
        """A break across the layers has no contact area; the words then say which area is meant."""
        said = face_words("Face 1", result_of(bonded_area_fraction={"value": None}))

        assert said[0] == "Face 1: of the broken face, about 12 % had been joined (between 10 and 15 %)."

    def test_sentences_end_and_begin(self) -> None:
        """Typed notes become sentences without doubling their full stop."""
        assert (sentence(" a b"), sentence("A."), sentence("")) == ("A b.", "A.", "")


def test_an_outer_surface_gives_no_row_about_welds() -> None:
    """The table speaks of broken faces; a rubbed surface has no welds, and its patch stands in the text."""
    outer = Picture("m1", "side", "side", 1, False, result={"surface": "outer", "rub_area_mm2": 17.8})
    assert outer.numbers() is None
