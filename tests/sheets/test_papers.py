"""Papers and what is accepted as the measure of a printed bar."""

import pytest

from groovewright.quantities import InputError
from groovewright.sheets import A4, LETTER, PAPERS, PrintCorrection


def test_papers_have_the_sizes_of_their_standards():
    assert (A4.width_mm, A4.height_mm) == (210.0, 297.0)  # ISO 216
    assert (LETTER.width_mm, LETTER.height_mm) == pytest.approx((8.5 * 25.4, 11.0 * 25.4))  # ANSI/ASME Y14.1
    assert PAPERS == {"a4": A4, "letter": LETTER}


def test_a_bar_that_printed_short_is_drawn_longer_by_as_much():
    correction = PrintCorrection(99.4, 102.0)
    assert correction.scale_x * 99.4 == pytest.approx(100.0)
    assert correction.scale_y * 102.0 == pytest.approx(100.0)
    assert PrintCorrection().is_none
    assert not PrintCorrection(measured_y_mm=99.9).is_none


@pytest.mark.parametrize(("value", "words"), [
    (85.0, "across: printed 100 mm bar is 85 mm; allowed is 90 mm to 110 mm.*measure the bar again"),
    (115.0, "allowed is 90 mm to 110 mm"),
    (3.94, "Is 3.94 in inches"),
    (9.94, "Is 9.94 in centimetres"),
    (0.0994, "Is 0.0994 in metres"),
    (0.0, "allowed is 90 mm"),
    (-99.4, "allowed is 90 mm"),
    (float("nan"), "not a finite number"),
    (float("inf"), "not a finite number"),
])  # fmt: skip
def test_what_no_printer_does_is_refused_in_words(value, words):
    with pytest.raises(InputError, match=words):
        PrintCorrection(measured_x_mm=value)
