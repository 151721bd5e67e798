"""The two-point sheet: every datum where the geometry has it, in the file and on the paper."""

import numpy as np
import pytest

from groovewright.geometry import alignment_for_mounting, alignment_for_nulls
from groovewright.quantities import CannotBeDoneError, InputError
from groovewright.sheets import (
    A4,
    LETTER,
    PrintCorrection,
    SheetLabel,
    arc_sheet,
    pdf_bytes,
    svg_text,
    two_point_sheet,
)

INNER, OUTER = 65.998, 120.891
"""Lofgren A for 60.325 to 146.05 mm, as the trade quotes it (common practice)."""
LABEL = SheetLabel("Fernhill F9", "Löfgren A", "grooves 60.325 to 146.05 mm", "A. Sample")
PIXEL_MM = 25.4 / 1200
CASES = [
    (A4, PrintCorrection()),
    (LETTER, PrintCorrection()),
    (A4, PrintCorrection(99.4, 99.7)),
    (LETTER, PrintCorrection(100.8, 98.9)),
]
CASE_NAMES = ["a4", "letter", "a4-corrected", "letter-corrected"]


def sheet(paper, correction, inner=INNER, outer=OUTER, pivot=222.0):
    return two_point_sheet(
        alignment=alignment_for_nulls(pivot, inner, outer), label=LABEL, paper=paper, correction=correction
    )


def as_printed(correction):
    """What the printer whose bars were measured makes of one drawn millimetre."""
    return np.array([correction.measured_x_mm, correction.measured_y_mm]) / 100.0


@pytest.mark.parametrize(("paper", "correction"), CASES, ids=CASE_NAMES)
def test_each_datum_is_where_the_geometry_has_it_once_it_is_printed(paper, correction, read_svg):
    svg = read_svg(svg_text(sheet(paper, correction)))
    scale = as_printed(correction)
    spindle = svg.centre("spindle") * scale
    for name, radius in (("null-inner", INNER), ("null-outer", OUTER)):
        assert np.hypot(*(svg.centre(name) * scale - spindle)) == pytest.approx(radius, abs=0.005)
    (x1, y1), (x2, y2) = svg.ends("scale-x") * scale
    assert (abs(x2 - x1), y2 - y1) == pytest.approx((100.0, 0.0), abs=0.005)
    (x1, y1), (x2, y2) = svg.ends("scale-y") * scale
    assert (x2 - x1, abs(y2 - y1)) == pytest.approx((0.0, 100.0), abs=0.005)


@pytest.mark.parametrize(("paper", "correction"), CASES, ids=CASE_NAMES)
def test_the_spindle_target_is_the_hole_of_a_record_once_it_is_printed(paper, correction, read_svg):
    node = read_svg(svg_text(sheet(paper, correction))).by_id["spindle"]
    radii = [float(node.get(key) or node.get("r")) for key in ("rx", "ry")]
    # 7.24 mm: JIS S 8502:1973
    assert np.array(radii) * as_printed(correction) == pytest.approx([3.62, 3.62], abs=0.005)


def test_no_datum_needs_a_transform_to_be_read(read_svg):
    svg = read_svg(svg_text(sheet(A4, PrintCorrection(99.4, 99.7))))
    turned = [node.tag for node in svg.root.iter() if node.get("transform")]
    assert set(turned) <= {"{http://www.w3.org/2000/svg}text"}
    assert not any(node.tag.endswith("}g") for node in svg.root.iter())


@pytest.mark.parametrize(("paper", "correction"), CASES, ids=CASE_NAMES)
def test_the_print_shows_each_datum_within_a_pixel_at_1200_dpi(paper, correction, read_svg, print_pdf):
    drawing = sheet(paper, correction)
    svg, page = read_svg(svg_text(drawing)), print_pdf(pdf_bytes(drawing), paper.width_mm, paper.height_mm)
    for name in ("null-inner", "null-outer"):
        assert page.centroid(svg.centre(name), 1.2) == pytest.approx(svg.centre(name), abs=PIXEL_MM)
    assert page.centroid(svg.centre("spindle"), 4.5) == pytest.approx(svg.centre("spindle"), abs=PIXEL_MM)
    for x, y in svg.ends("scale-x"):
        assert page.centroid((x, y + 2.9), 0.5, 0.3)[0] == pytest.approx(x, abs=PIXEL_MM)
    for x, y in svg.ends("scale-y"):
        assert page.centroid((x - 2.9, y), 0.3, 0.5)[1] == pytest.approx(y, abs=PIXEL_MM)


@pytest.mark.parametrize(("paper", "correction"), CASES[::3], ids=["a4", "letter-corrected"])
def test_the_print_shows_the_spindle_circle_at_its_radius(paper, correction, read_svg, print_pdf):
    drawing = sheet(paper, correction)
    svg, page = read_svg(svg_text(drawing)), print_pdf(pdf_bytes(drawing), paper.width_mm, paper.height_mm)
    centre, scale = svg.centre("spindle"), as_printed(correction)
    ink, x, y = page.crop(centre, 4.2)
    dx, dy = (x - centre[0]) * scale[0], (y - centre[1]) * scale[1]
    radius = np.hypot(dx, dy)
    off_axes = (np.minimum(abs(dx), abs(dy)) > 0.5) & (abs(radius - 3.62) < 0.35)
    assert (ink * radius)[off_axes].sum() / ink[off_axes].sum() == pytest.approx(3.62, abs=PIXEL_MM)


def test_the_grid_runs_along_and_square_to_the_groove_at_each_null(print_pdf, read_svg):
    """At a null the groove runs square to the radius, on whatever ray it stands (60 and 90 are split)."""
    drawing = sheet(A4, PrintCorrection(), 60.0, 90.0)
    svg, page = read_svg(svg_text(drawing)), print_pdf(pdf_bytes(drawing), A4.width_mm, A4.height_mm)
    for name in ("null-inner", "null-outer"):
        centre = svg.centre(name)
        outward = (centre - svg.centre("spindle")) / np.hypot(*(centre - svg.centre("spindle")))
        groove = np.array([-outward[1], outward[0]])
        for along, across in ((groove, outward), (outward, groove)):
            # 10.5 mm along the centre line there is a gap between lines of the other set
            offsets = []
            for reach in (-10.5, 10.5):
                spot = centre + reach * along
                ink, x, y = page.crop(spot, 0.45)
                offset = (x - spot[0]) * across[0] + (y - spot[1]) * across[1]
                near = abs(offset) < 0.4
                offsets.append((ink * offset)[near].sum() / ink[near].sum())
            assert offsets == pytest.approx([0.0, 0.0], abs=PIXEL_MM)


@pytest.mark.parametrize(
    ("inner", "outer", "pivot"),
    [
        (45.0, 80.0, 180.0),
        (60.0, 118.0, 140.0),
        (66.0, 121.0, 305.0),
        (80.0, 172.0, 380.0),
        (90.0, 90.0, 222.0),
    ],
)
def test_extreme_nulls_find_a_place(inner, outer, pivot, read_svg):
    svg = read_svg(svg_text(sheet(A4, PrintCorrection(), inner, outer, pivot)))
    spindle = svg.centre("spindle")
    for name, radius in (("null-inner", inner), ("null-outer", outer)):
        assert np.hypot(*(svg.centre(name) - spindle)) == pytest.approx(radius, abs=0.005)


def test_nulls_that_no_paper_holds_are_refused_in_words():
    with pytest.raises(CannotBeDoneError, match=r"70 and 205 mm don't fit on this paper"):
        sheet(A4, PrintCorrection(), 70.0, 205.0, 400.0)


def test_a_correction_that_leaves_too_little_paper_is_refused_in_words():
    sheet(A4, PrintCorrection(), 80.0, 172.0, 380.0)
    with pytest.raises(CannotBeDoneError, match=r"80 and 172 mm don't fit on this paper"):
        sheet(A4, PrintCorrection(90.5, 90.5), 80.0, 172.0, 380.0)


def test_an_underhung_arm_without_offset_gets_one_grid(read_svg):
    alignment = alignment_for_mounting(222.0, 205.0, 0.0)
    drawing = two_point_sheet(alignment=alignment, label=LABEL)
    svg = read_svg(svg_text(drawing))
    # tangent from the pivot's circle: r^2 = d^2 - L^2 where the arm stands square to the radius (Pythagoras)
    distance = np.hypot(*(svg.centre("null-outer") - svg.centre("spindle")))
    assert distance == pytest.approx(np.sqrt(222.0**2 - 205.0**2), abs=0.005)
    assert "null-inner" not in svg.by_id
    assert "slide back" not in [box.text for box in drawing.texts]


def test_an_arm_without_a_null_is_refused_in_words():
    alignment = alignment_for_mounting(222.0, 239.0, 0.0)
    for make in (two_point_sheet, arc_sheet):
        with pytest.raises(CannotBeDoneError, match="no null radius"):
            make(alignment=alignment, label=LABEL)


def test_the_sheet_says_whose_it_is_and_for_which_printer():
    texts = " ".join(box.text for box in sheet(LETTER, PrintCorrection(99.4, 99.7)).texts)
    for words in (
        "Fernhill F9",
        "Löfgren A, grooves 60.325 to 146.05 mm",
        "for A. Sample",
        "inner 66.00 mm",
        "outer 120.89 mm",
        "measured 99.4 across, 99.7 down",
        "US Letter",
        "Stylus guard on",
        "front points out counter-clockwise slide back",
        "front points in clockwise slide forward",
    ):
        assert words in texts


def test_a_name_that_the_lettering_lacks_is_refused_in_words():
    label = SheetLabel(arm="arm 漢")
    with pytest.raises(InputError, match=r"arm: the sheet's lettering has no '漢' \(U\+6F22\)"):
        two_point_sheet(alignment=alignment_for_nulls(222.0, INNER, OUTER), label=label)


def test_markup_in_a_name_stays_text(read_svg):
    label = SheetLabel(arm="<script>&\"'")
    svg = read_svg(svg_text(two_point_sheet(alignment=alignment_for_nulls(222.0, INNER, OUTER), label=label)))
    assert label.arm in [node.text for node in svg.root.iter() if node.tag.endswith("}text")]
