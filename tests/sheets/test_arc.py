"""The arc sheet: every point of the arc at the effective length from the pivot, through both nulls."""

import numpy as np
import pytest

from groovewright.geometry import alignment_for_nulls
from groovewright.quantities import CannotBeDoneError
from groovewright.sheets import A4, LETTER, PrintCorrection, SheetLabel, arc_sheet, pdf_bytes, svg_text

PIXEL_MM = 25.4 / 1200
CASES = [
    (A4, PrintCorrection(), 222.0, 65.998, 120.891),
    (LETTER, PrintCorrection(), 222.0, 65.998, 120.891),
    (A4, PrintCorrection(99.4, 99.7), 222.0, 65.998, 120.891),
    (LETTER, PrintCorrection(101.7, 98.3), 140.0, 60.0, 118.0),
    (A4, PrintCorrection(), 305.0, 55.0, 78.0),
]
CASE_NAMES = ["a4", "letter", "a4-corrected", "letter-corrected-short-arm", "12-inch-17-cm-record"]


def sheet(paper, correction, pivot, inner, outer):
    return arc_sheet(
        alignment=alignment_for_nulls(pivot, inner, outer),
        label=SheetLabel("Fernhill F9", "Löfgren A"),
        paper=paper,
        correction=correction,
    )


def pivot_of(svg, scale, pivot_mm, length_mm):
    """The one point at d from the spindle and L from the inner null, on the side where the arm stands.

    Intersection of two circles, from the SVG's own datums.
    """
    spindle, null = svg.centre("spindle") * scale, svg.centre("null-inner") * scale
    apart = np.hypot(*(null - spindle))
    outward = (null - spindle) / apart
    along = (pivot_mm**2 - length_mm**2 + apart**2) / (2.0 * apart)
    back = np.array([outward[1], -outward[0]])
    return spindle + along * outward + np.sqrt(pivot_mm**2 - along**2) * back


@pytest.mark.parametrize(("paper", "correction", "pivot_mm", "inner", "outer"), CASES, ids=CASE_NAMES)
def test_the_arc_keeps_the_effective_length_from_the_pivot_once_it_is_printed(
    paper, correction, pivot_mm, inner, outer, read_svg
):
    svg = read_svg(svg_text(sheet(paper, correction, pivot_mm, inner, outer)))
    scale = np.array([correction.measured_x_mm, correction.measured_y_mm]) / 100.0
    length_mm = np.sqrt(pivot_mm**2 + inner * outer)  # Vieta on r^2 - 2 L sin(b) r + L^2 - d^2 = 0
    pivot = pivot_of(svg, scale, pivot_mm, length_mm)
    points = svg.arc_points(101) * scale
    assert np.hypot(*(points - pivot).T) == pytest.approx(np.full(101, length_mm), abs=0.005)
    radii = np.hypot(*(points - svg.centre("spindle") * scale).T)
    assert radii.min() < inner - 20.0
    assert radii.max() > outer + 0.4
    for name, radius in (("null-inner", inner), ("null-outer", outer)):
        null = svg.centre(name) * scale
        assert np.hypot(*(null - pivot)) == pytest.approx(length_mm, abs=0.005)
        assert np.hypot(*(null - svg.centre("spindle") * scale)) == pytest.approx(radius, abs=0.005)


@pytest.mark.parametrize(("paper", "correction", "pivot_mm", "inner", "outer"), CASES[:4], ids=CASE_NAMES[:4])
def test_the_print_shows_arc_and_nulls_within_a_pixel_at_1200_dpi(
    paper, correction, pivot_mm, inner, outer, read_svg, print_pdf
):
    drawing = sheet(paper, correction, pivot_mm, inner, outer)
    svg, page = read_svg(svg_text(drawing)), print_pdf(pdf_bytes(drawing), paper.width_mm, paper.height_mm)
    for name in ("null-inner", "null-outer"):
        assert page.centroid(svg.centre(name), 1.2) == pytest.approx(svg.centre(name), abs=PIXEL_MM)
    points = svg.arc_points(2001)
    radii = np.hypot(*(points - svg.centre("spindle")).T)
    for radius in (27.0, 32.0, 37.0):  # clear of the spindle's target and of the grids
        k = int(np.argmin(abs(radii - radius)))
        point = points[k]
        tangent = points[k + 1] - points[k - 1]
        normal = np.array([-tangent[1], tangent[0]]) / np.hypot(*tangent)
        ink, x, y = page.crop(point, 0.6)
        offset = (x - point[0]) * normal[0] + (y - point[1]) * normal[1]
        near = abs(offset) < 0.35
        assert (ink * offset)[near].sum() / ink[near].sum() == pytest.approx(0.0, abs=PIXEL_MM)


def test_the_facts_name_the_pivot_where_the_lines_meet(read_svg):
    drawing = sheet(*CASES[0])
    svg = read_svg(svg_text(drawing))
    pivot = pivot_of(svg, np.ones(2), 222.0, np.sqrt(222.0**2 + 65.998 * 120.891))
    assert (drawing.facts["pivot_x_mm"], drawing.facts["pivot_y_mm"]) == pytest.approx(
        tuple(pivot), abs=0.005
    )


def test_grids_that_would_lie_on_each_other_are_refused_in_words():
    with pytest.raises(CannotBeDoneError, match="two-point sheet, which can turn the grids apart"):
        sheet(A4, PrintCorrection(), 222.0, 82.0, 88.0)
