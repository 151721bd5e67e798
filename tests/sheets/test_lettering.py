"""Lettering: widths against an independent font library, wrapping, and what every SVG carries."""

import base64
import io
import re

import pytest
from fontTools.ttLib import TTFont

from groovewright.geometry import alignment_for_nulls
from groovewright.quantities import InputError
from groovewright.sheets import SheetLabel, svg_text, two_point_sheet
from groovewright.sheets.lettering import (
    FONTS,
    LATIN,
    check_printable,
    fitted,
    font_face_css,
    font_file,
    latin_file,
    text_width_mm,
    wrapped,
)


@pytest.mark.parametrize("bold", [False, True], ids=["regular", "bold"])
def test_every_letter_is_as_wide_as_fonttools_reads_it(bold):
    font = TTFont(font_file(bold=bold))
    em = font["head"].unitsPerEm
    for code, name in font.getBestCmap().items():
        assert text_width_mm(chr(code), size_mm=1.0, bold=bold) == pytest.approx(font["hmtx"][name][0] / em)


@pytest.mark.parametrize("bold", [False, True], ids=["regular", "bold"])
def test_digits_are_tabular_and_latin_greek_and_cyrillic_are_there(bold):
    assert len({text_width_mm(digit, size_mm=10.0, bold=bold) for digit in "0123456789"}) == 1
    letters = TTFont(font_file(bold=bold)).getBestCmap()
    assert all(ord(letter) in letters for letter in "ÄÖÜßéèçñøåłžőşŵαωΩЖяїђ°±µ−×⅓½→…")
    assert set(TTFont(latin_file(bold=bold)).getBestCmap()) >= {
        ord(letter) for letter in LATIN if ord(letter) in letters
    }


def test_the_fonts_come_with_their_licence_and_a_name_of_their_own():
    assert "SIL OPEN FONT LICENSE Version 1.1" in (FONTS / "OFL.txt").read_text()
    for bold in (False, True):
        names = TTFont(font_file(bold=bold))["name"]
        assert names.getDebugName(1) == "Groovewright Sans"
        assert "Open Font License" in names.getDebugName(13)


def test_text_is_wrapped_within_its_width_and_loses_no_word():
    text = "Turn the platter until the outer dot lies under the stylus. Square the body to the grid."
    lines = wrapped(text, size_mm=3.4, width_mm=60.0)
    assert " ".join(lines) == text
    assert len(lines) == 3
    assert max(text_width_mm(line, size_mm=3.4) for line in lines) <= 60.0


def test_a_long_name_is_made_smaller_first_and_then_cut_off():
    name = "Alder Twelve with the Juniper S"
    width = text_width_mm(name, size_mm=5.0)
    assert fitted(name, size_mm=5.0, width_mm=width, smallest_mm=3.0) == (name, 5.0)
    text, size = fitted(name, size_mm=5.0, width_mm=0.8 * width, smallest_mm=3.0)
    assert (text, size) == (name, pytest.approx(4.0))
    text, size = fitted(name, size_mm=5.0, width_mm=0.4 * width, smallest_mm=3.0)
    assert size == 3.0
    assert text.endswith("…")
    assert text_width_mm(text, size_mm=3.0) <= 0.4 * width


def test_white_space_in_a_name_is_evened_out_and_strange_letters_are_named():
    assert check_printable("  Fernhill\n F9 ", "arm") == "Fernhill F9"
    with pytest.raises(InputError, match=r"owner: the sheet's lettering has no '☃' \(U\+2603\)"):
        check_printable("A. Sample ☃", "owner")
    with pytest.raises(InputError, match=r"arm: .* \(U\+0007\)"):
        check_printable("F9\x07", "arm")


@pytest.mark.parametrize("arm", ["Fernhill F9", "Ольха 12", "Ελάτη"])
def test_an_svg_carries_every_letter_that_it_shows(arm):
    drawing = two_point_sheet(alignment=alignment_for_nulls(222.0, 66.0, 121.0), label=SheetLabel(arm=arm))
    shown = {ord(letter) for box in drawing.texts for letter in box.text}
    carried = re.findall(r"base64,([A-Za-z0-9+/=]+)\)", svg_text(drawing))
    assert len(carried) == 2
    for data in carried:
        assert shown <= set(TTFont(io.BytesIO(base64.b64decode(data))).getBestCmap())


def test_the_style_for_the_same_letters_is_the_same():
    assert font_face_css(["Ольха"]) == font_face_css(["Ольха"])
