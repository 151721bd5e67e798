"""The PDF: page size, the entry that keeps a printer from scaling, fonts, the same bytes each time."""

import io
import subprocess
import sys

import pypdf
import pytest

from groovewright.geometry import alignment_for_nulls
from groovewright.sheets import (
    A4,
    LETTER,
    SheetLabel,
    arc_sheet,
    pdf_bytes,
    stroboscope_sheet,
    two_point_sheet,
)
from groovewright.sheets.pdf import without_print_scaling

ALIGNMENT = alignment_for_nulls(222.0, 66.0, 121.0)
LABEL = SheetLabel("Fernhill F9", "Löfgren A", "", "Ольга А.")


def drawings(paper):
    return [
        two_point_sheet(alignment=ALIGNMENT, label=LABEL, paper=paper),
        arc_sheet(alignment=ALIGNMENT, label=LABEL, paper=paper),
        stroboscope_sheet(flash_hz=100.0, paper=paper),
    ]


@pytest.mark.parametrize(
    ("paper", "points"), [(A4, (595.2756, 841.8898)), (LETTER, (612.0, 792.0))], ids=["a4", "letter"]
)
def test_the_page_has_the_papers_size_and_asks_not_to_be_scaled(paper, points):
    for drawing in drawings(paper):
        reader = pypdf.PdfReader(io.BytesIO(pdf_bytes(drawing)), strict=True)
        assert len(reader.pages) == 1
        box = reader.pages[0].mediabox
        assert (float(box.width), float(box.height)) == pytest.approx(points, abs=0.001)  # 0.35 micrometre
        # ISO 32000-2:2020, 12.2
        assert reader.root_object["/ViewerPreferences"]["/PrintScaling"] == "/None"


def test_every_letter_is_set_in_the_houses_own_font():
    for drawing in drawings(A4):
        page = pypdf.PdfReader(io.BytesIO(pdf_bytes(drawing))).pages[0]
        fonts = {font.get_object()["/BaseFont"] for font in page["/Resources"]["/Font"].values()}
        assert {name.split("+")[1] for name in fonts} == {"GroovewrightSans-Regular", "GroovewrightSans-Bold"}


def test_the_words_can_be_searched():
    text = pypdf.PdfReader(io.BytesIO(pdf_bytes(drawings(A4)[0]))).pages[0].extract_text()
    for words in ("Fernhill F9", "Löfgren A", "for Ольга А.", "outer 121.00 mm"):
        assert words in text


def test_the_same_drawing_gives_the_same_bytes_in_another_process():
    program = (
        "import hashlib;"
        "from groovewright.geometry import alignment_for_nulls as a;"
        "from groovewright.sheets import SheetLabel, pdf_bytes, two_point_sheet as t;"
        "d = t(alignment=a(222.0, 66.0, 121.0), label=SheetLabel('Fernhill F9', 'A', '', 'A. S.'));"
        "print(hashlib.sha256(pdf_bytes(d)).hexdigest())"
    )
    digests = {
        subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
        for _ in range(2)
    }
    assert len(digests) == 1


def test_a_pdf_of_another_build_is_not_taken_for_done():
    with pytest.raises(RuntimeError, match="plain trailer"):
        without_print_scaling(b"%PDF-1.7\nnothing more")
