"""Nothing on a sheet lies on anything else, leaves the paper, or enters a zone kept for markers."""

import math
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from groovewright.geometry import CRITERIA, align, alignment_for_mounting, alignment_for_nulls
from groovewright.quantities import NAMED_RANGES, GrooveRange
from groovewright.sheets import (
    A4,
    LETTER,
    PrintCorrection,
    SheetLabel,
    arc_sheet,
    stroboscope_sheet,
    svg_text,
    two_point_sheet,
)
from groovewright.sheets.placement import overlapping

LONG = SheetLabel(
    "The long arm of the Alder Twelve with the Juniper S headshell",
    "exact least squares over the owner's own records",
    "grooves 57.6 to 146.5 mm",
    "Maximiliane Alexandra Sample of Lantern Lane and Fernhill",
)
COMMAND = re.compile(r"([MLAZ])([^MLAZ]*)")
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def random_sheets(count):
    """Arms of 140 to 360 mm, 29 mm of grooves or more, any closed form, paper and printer; fixed seed."""
    random = np.random.default_rng(20260911)
    for k in range(count):
        outer = random.uniform(82.0, 147.0)
        grooves = GrooveRange(random.uniform(50.0, min(66.0, outer - 29.0)), outer)
        criterion = ("lofgren-a", "lofgren-b", "stevenson")[k % 3]
        yield (
            align(criterion, random.uniform(140.0, 360.0), grooves),
            (A4, LETTER)[k % 2],
            PrintCorrection(*random.uniform(98.0, 102.0, 2)) if k % 5 == 0 else PrintCorrection(),
            LONG if k % 4 == 0 else SheetLabel("Fernhill F9", "Löfgren A", "", "A. Sample"),
        )


def strokes(svg):
    """Return the straight pieces of every line, polygon and arc but the marks, as (x1, y1, x2, y2)."""
    pieces = []
    for node in ET.fromstring(svg):
        tag = node.tag.split("}")[1]
        if (node.get("id") or "").startswith("marks-"):
            continue
        if tag == "line":
            pieces.append([float(node.get(key)) for key in ("x1", "y1", "x2", "y2")])
        elif tag in ("circle", "ellipse"):
            rx, ry = (float(node.get(key) or node.get("r")) for key in ("rx", "ry"))
            angle = np.linspace(0.0, 2.0 * math.pi, 25)
            x = float(node.get("cx")) + rx * np.cos(angle)
            y = float(node.get("cy")) + ry * np.sin(angle)
            pieces.extend(np.column_stack((x[:-1], y[:-1], x[1:], y[1:])).tolist())
        elif tag == "path" and "A" not in node.get("d"):
            pieces.extend(_polygon_pieces(node.get("d")))
    return np.array(pieces)


def _polygon_pieces(path):
    here = start = None
    for letter, numbers in COMMAND.findall(path):
        values = [float(part) for part in NUMBER.findall(numbers)]
        there = tuple(values) if letter != "Z" else start
        if letter == "M":
            start = there
        else:
            yield [*here, *there]
        here = there


def points_along(pieces, step=0.6):
    """Return points at most `step` mm apart on every piece."""
    lengths = np.hypot(pieces[:, 2] - pieces[:, 0], pieces[:, 3] - pieces[:, 1])
    counts = np.maximum(2, np.ceil(lengths / step).astype(int) + 1)
    part = np.concatenate([np.linspace(0.0, 1.0, n) for n in counts])
    repeated = np.repeat(pieces, counts, axis=0)
    return repeated[:, :2] + part[:, None] * (repeated[:, 2:] - repeated[:, :2])


def inside(points, corners, slack):
    """Return the points that lie inside a convex polygon by more than `slack`."""
    (left, top), (right, bottom) = np.min(corners, axis=0), np.max(corners, axis=0)
    x, y = points.T
    points = points[(x > left) & (x < right) & (y > top) & (y < bottom)]
    result = np.ones(len(points), dtype=bool)
    for (ax, ay), (bx, by) in zip(corners, (*corners[1:], corners[0]), strict=True):
        length = math.hypot(bx - ax, by - ay)
        distance = ((bx - ax) * (points[:, 1] - ay) - (by - ay) * (points[:, 0] - ax)) / length
        result &= distance > slack  # the corners go clockwise, y down
    return points[result]


def meetings(named, gap):
    """Return the names of the polygons that come nearer to each other than `gap`."""
    polygons = np.array([corners for _, corners in named])
    low, high = polygons.min(axis=1) - 0.5, polygons.max(axis=1) + 0.5
    near = (low[:, None] <= high[None]).all(axis=2) & (low[None] <= high[:, None]).all(axis=2)
    return [
        (named[i][0], named[j][0])
        for i, j in np.argwhere(np.triu(near, 1))
        if overlapping(named[i][1], named[j][1], gap)
    ]


def assert_tidy(drawing, svg_sheet=None):
    """Fail where lettering, lines, zones or the paper's edge meet."""
    svg = svg_text(drawing)
    points = points_along(strokes(svg))
    if svg_sheet is not None:
        points = np.vstack((points, svg_sheet(svg).arc_points(400)))
    paper = drawing.paper
    corners = np.array([corner for box in drawing.texts for corner in box.corners])
    for everything in (points, corners):
        assert everything.min() >= 5.0
        assert everything[:, 0].max() <= paper.width_mm - 5.0
        assert everything[:, 1].max() <= paper.height_mm - 5.0
    words = [(box.text, box.corners) for box in drawing.texts]
    for text, corners in words:
        assert inside(points, corners, 0.05).tolist() == [], text
    for name, corners in drawing.zones.items():
        assert inside(points, corners, 0.1).tolist() == [], name
    assert meetings([*words, *drawing.zones.items()], -0.2) == []


def test_200_random_arms_give_tidy_two_point_sheets():
    for alignment, paper, correction, label in random_sheets(200):
        assert_tidy(two_point_sheet(alignment=alignment, label=label, paper=paper, correction=correction))


def test_200_random_arms_give_tidy_arc_sheets(read_svg):
    for alignment, paper, correction, label in random_sheets(200):
        assert_tidy(arc_sheet(alignment=alignment, label=label, paper=paper, correction=correction), read_svg)


@pytest.mark.parametrize("nulls", [(45.0, 80.0), (60.0, 118.0), (60.0, 90.0), (66.0, 121.0), (90.0, 90.0)])
@pytest.mark.parametrize("paper", [A4, LETTER], ids=["a4", "letter"])
def test_extreme_nulls_give_tidy_two_point_sheets(nulls, paper):
    assert_tidy(two_point_sheet(alignment=alignment_for_nulls(380.0, *nulls), label=LONG, paper=paper))


def test_nulls_of_a_40_cm_record_give_a_tidy_sheet_without_the_drawn_key():
    drawing = two_point_sheet(alignment=alignment_for_nulls(380.0, 80.0, 172.0), label=LONG)
    assert_tidy(drawing)
    words = " ".join(box.text for box in drawing.texts)
    assert "Front points out (counter-clockwise): slide back." in words


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["a4", "letter"])
@pytest.mark.parametrize("measured", [(90.0, 90.0), (90.0, 110.0), (110.0, 90.0), (110.0, 110.0)])
def test_the_worst_printer_that_is_accepted_still_gets_tidy_sheets(paper, measured, read_svg):
    correction, alignment = PrintCorrection(*measured), alignment_for_nulls(222.0, 65.998, 120.891)
    options = {"paper": paper, "correction": correction}
    assert_tidy(two_point_sheet(alignment=alignment, label=LONG, **options))
    assert_tidy(arc_sheet(alignment=alignment, label=LONG, **options), read_svg)
    assert_tidy(stroboscope_sheet(flash_hz=100.0, **options))


def test_an_arm_with_one_null_gets_tidy_sheets(read_svg):
    alignment = alignment_for_mounting(222.0, 205.0, 0.0)
    for paper in (A4, LETTER):
        assert_tidy(two_point_sheet(alignment=alignment, label=LONG, paper=paper))
        assert_tidy(arc_sheet(alignment=alignment, label=LONG, paper=paper), read_svg)


@pytest.mark.parametrize("criterion", CRITERIA)
@pytest.mark.parametrize("record", ["17cm", "25cm", "lp", "lp-din"])
def test_every_criterion_and_record_has_both_sheets_on_both_papers(criterion, record, read_svg):
    alignment = align(criterion, 222.0, NAMED_RANGES[record])
    for paper in (A4, LETTER):
        assert_tidy(two_point_sheet(alignment=alignment, label=LONG, paper=paper))
        assert_tidy(arc_sheet(alignment=alignment, label=LONG, paper=paper), read_svg)


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["a4", "letter"])
@pytest.mark.parametrize("flash_hz", [100.0, 120.0, 300.0, 97.3])
def test_stroboscope_sheets_are_tidy(paper, flash_hz):
    assert_tidy(stroboscope_sheet(flash_hz=flash_hz, paper=paper))
    assert_tidy(stroboscope_sheet(flash_hz=flash_hz, paper=paper, correction=PrintCorrection(98.0, 101.5)))


def test_each_grid_of_the_usual_sheet_has_clear_zones_before_and_behind_it():
    drawing = two_point_sheet(alignment=alignment_for_nulls(222.0, 65.998, 120.891), label=LONG)
    for name in ("inner-front", "inner-back", "outer-front", "outer-back"):
        a, b, c, _ = (np.array(corner) for corner in drawing.zones[name])
        assert np.hypot(*(b - a)) == pytest.approx(40.0, abs=0.01)
        assert np.hypot(*(c - b)) == pytest.approx(15.0, abs=0.01)


def test_overlap_of_turned_rectangles_is_found_and_a_gap_between_them_too():
    square = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))
    diamond = ((15.0, 5.0), (20.0, 0.0), (25.0, 5.0), (20.0, 10.0))
    assert not overlapping(square, diamond, 4.9)
    assert overlapping(square, diamond, 5.1)
    assert overlapping(square, tuple((x - 6.0, y) for x, y in diamond), 0.0)
