"""The PDF adapter: text and pictures come out, nothing else gets in, and where no PDF can be made that is said."""

import io
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

from server.summary import pdf
from server.summary.pdf import NoPdf, Resource, make_pdf

PAGE = "<html><head><title>Ti</title></head><body><h1>Bond 48 % µm² “ü” Привет</h1>{}</body></html>"


def picture() -> bytes:
    buffer = io.BytesIO()
    Image.new("RGB", (40, 30), (200, 60, 0)).save(buffer, "JPEG")
    return buffer.getvalue()


def opened(made: pdf.Pdf) -> PdfReader:
    return PdfReader(io.BytesIO(made.data))


class TestMakePdf:
    """With the engine that is here."""

    def test_text_can_be_read_again(self) -> None:
        """Letters, not outlines or blanks; special signs too."""
        made = make_pdf(PAGE.format(""), {})

        assert "Bond 48 % µm² “ü” Привет" in opened(made).pages[0].extract_text()
        assert made.pages == 1

    @pytest.mark.parametrize(("paper", "size_pt"), [("A4", (595.28, 841.89)), ("Letter", (612, 792))])
    def test_paper(self, paper: str, size_pt: tuple[float, float]) -> None:
        """A4 is 210 × 297 mm (ISO 216); Letter is 8.5 × 11 in, 72 pt an inch."""
        box = opened(make_pdf(PAGE.format(""), {}, paper)).pages[0].mediabox

        assert (float(box.width), float(box.height)) == pytest.approx(size_pt, abs=1)

    def test_own_pictures_come_in_and_others_do_not(self, tmp_path: Path) -> None:
        """A page that names a file or a foreign host gets nothing from there, and the PDF is made all the same."""
        (tmp_path / "secret.jpg").write_bytes(picture())
        wanted = ("/own.jpg", f"file://{tmp_path}/secret.jpg", "http://127.0.0.1:9/x.jpg", "/other.jpg")
        tags = "".join(f'<img src="{address}">' for address in wanted)

        made = make_pdf(PAGE.format(tags), {"/own.jpg": Resource(picture(), "image/jpeg")})

        assert len(opened(made).pages[0].images) == 1

    def test_the_page_counts_are_told(self) -> None:
        """What the caller decides by is what a reader counts."""
        made = make_pdf(PAGE.format("<p style='page-break-after: always'>a</p>" * 4), {})

        assert made.pages == len(opened(made).pages) > 1


class TestNoPdf:
    """Where none can be made."""

    def test_no_font_is_said_and_not_printed_blank(self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
        """An engine without fonts prints empty pages and calls it done."""
        pdf.has_fonts.cache_clear()
        monkeypatch.setattr(pdf, "font_folders", lambda: [tmp_path])
        try:
            with pytest.raises(NoPdf, match=r"no fonts.*print page"):
                make_pdf(PAGE.format(""), {})
        finally:
            pdf.has_fonts.cache_clear()

    def test_no_engine_is_said(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Both engines missing leads to the browser's print, in words."""

        def missing(*_: Any) -> pdf.Pdf:
            raise ImportError("not here")

        monkeypatch.setattr(pdf, "ENGINES", (missing, missing))
        with pytest.raises(NoPdf, match="from the browser"):
            make_pdf(PAGE.format(""), {})

    def test_the_second_engine_steps_in(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """A first engine that can't be loaded is passed over."""

        def missing(*_: Any) -> pdf.Pdf:
            raise OSError("no library")

        monkeypatch.setattr(pdf, "ENGINES", (missing, lambda *_: pdf.Pdf(b"second", 1)))

        assert make_pdf(PAGE.format(""), {}).data == b"second"

    def test_weasyprint_gives_the_same_text(self) -> None:
        """Same text and picture from the second engine, where it is installed."""
        pytest.importorskip("weasyprint", reason="the second engine is not installed here", exc_type=ImportError)
        page = PAGE.format('<img src="/own.jpg"><img src="file:///etc/hostname"><img src="http://127.0.0.1:9/x.jpg">')
        made = pdf._weasy(page, {"/own.jpg": Resource(picture(), "image/jpeg")}, "A4")

        assert "Bond 48 %" in opened(made).pages[0].extract_text()
        assert len(opened(made).pages[0].images) == 1
