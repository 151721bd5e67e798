"""The small drawings, measured from outside: the SVG's own points, the schemes' contrast, no text cut off."""

import math
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from groovewright.geometry import align, alignment_for_nulls, yaw_deg
from groovewright.geometry.headshell import Headshell, length_and_offset
from groovewright.quantities import LP, CannotBeDoneError, Reading
from groovewright.report.balance import balance_view
from groovewright.report.body import stand_at
from groovewright.report.error_chart import NARROW, error_chart, error_from_yaws
from groovewright.report.picture import DARK, LIGHT, inline_svg, svg_file, svg_for_typesetter
from groovewright.report.pins import pins_view
from groovewright.report.plan_view import plan_view, plan_view_for_yaws
from groovewright.report.point_view import TIMES, point_view
from groovewright.report.ways import (
    move_lines,
    move_view,
    scale_check,
    sheet_on_platter,
    turn_to_square,
    way_to_slide,
)

AIM = align("lofgren-a", 222.0)
NUMBER = r"-?\d+(?:\.\d+)?"
PICTURES = {
    "plan": plan_view(AIM, radius_mm=AIM.null_outer_mm),
    "plan-long-arm": plan_view(align("stevenson", 310.0), radius_mm=70.0, slide_mm=-4.0, turn_deg=5.0),
    "plan-short-arm": plan_view(align("lofgren-b", 190.0), radius_mm=146.0),
    "point": point_view("outer point", yaw_deg=-12.3, yaw_sd_deg=10.2, radius_mm=120.9),
    "way-in": way_to_slide(points_in=True),
    "way-out": way_to_slide(points_in=False),
    "turn": turn_to_square(),
    "move": move_view(slide_mm=-12.3, turn_deg=-12.3),
    "leave": move_view(slide_mm=0.0, turn_deg=0.0),
    "platter": sheet_on_platter(),
    "scale": scale_check(),
    "pins": pins_view(),
    "balance": balance_view(
        force_gf=1.85, force_sd_gf=0.03, target_gf=1.8, force_min_gf=1.6, force_max_gf=2.0
    ),
    "balance-far": balance_view(force_gf=9.99, force_sd_gf=0.5, force_min_gf=1.6, force_max_gf=1.61),
    "error": error_chart(AIM, LP, Reading(0.1, 0.2), Reading(0.4, 0.3)),
    "error-narrow": error_chart(AIM, LP, Reading(-3.1, 0.2), Reading(8.4, 0.9), width_mm=NARROW),
}


def lines_of(drawing, color):
    """Return the two ends of every straight line of this colour."""
    root = ET.fromstring(svg_for_typesetter(drawing))
    return [
        np.array([[float(node.get(f"{axis}{end}")) for axis in "xy"] for end in (1, 2)])
        for node in root.iter("{http://www.w3.org/2000/svg}line")
        if node.get("stroke") == color
    ]


def clockwise_from_down(ends):
    along = ends[1] - ends[0]
    return math.degrees(math.atan2(-along[0], along[1]))


@pytest.mark.parametrize("name", PICTURES)
def test_no_lettering_leaves_its_picture(name):
    drawing = PICTURES[name]
    for box in drawing.texts:
        for x, y in box.corners:
            assert -0.01 <= x <= drawing.paper.width_mm + 0.01, box.text
            assert -0.01 <= y <= drawing.paper.height_mm + 0.01, box.text


@pytest.mark.parametrize("name", PICTURES)
def test_a_picture_takes_its_colours_from_the_page_and_stands_for_itself_in_words(name):
    root = ET.fromstring(inline_svg(PICTURES[name]))
    assert root.get("role") == "img"
    assert len(root.get("aria-label")) > 20
    own = {"none", *(f"var(--{key}, {value})" for key, value in LIGHT.items())}
    leads = {"#ffffff", "#cf2a27", "#2457c5", "#1f8a3b"} if name == "pins" else set()
    for node in root.iter():
        for key in ("fill", "stroke"):
            assert node.get(key) is None or node.get(key) in own | leads
        assert node.get("style") is None


def test_a_picture_as_a_file_has_fixed_colours_and_its_own_letters():
    for scheme in (LIGHT, DARK):
        text = svg_file(PICTURES["plan"], scheme)
        assert "var(" not in text
        assert scheme["signal"] in text
        assert "data:font/woff;base64," in text


def luminance(color):
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(color[k : k + 2], 16) / 255.0 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("scheme", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["paper", "pale"])
@pytest.mark.parametrize("text", ["ink", "fine", "signal"])
def test_text_keeps_the_contrast_that_wcag_asks_for(scheme, ground, text):
    lighter, darker = sorted((luminance(scheme[ground]), luminance(scheme[text])), reverse=True)
    assert (lighter + 0.05) / (darker + 0.05) >= 4.5


@pytest.mark.parametrize("radius_mm", [60.325, 66.0, 93.0, 120.9, 146.05])
def test_pivot_and_stylus_lie_at_the_given_distances_and_the_groove_runs_across_the_radius(radius_mm):
    stand = stand_at(222.0, 239.3, radius_mm)
    assert math.hypot(*stand.pivot) == pytest.approx(222.0, abs=1e-9)
    assert math.hypot(*stand.stylus) == pytest.approx(radius_mm, abs=1e-9)
    assert math.dist(stand.pivot, stand.stylus) == pytest.approx(239.3, abs=1e-9)
    groove = (-math.sin(math.radians(stand.groove_deg)), math.cos(math.radians(stand.groove_deg)))
    assert np.dot(groove, stand.stylus) == pytest.approx(0.0, abs=1e-9)
    assert np.dot(groove, np.subtract(stand.stylus, stand.pivot)) > 0.0


@pytest.mark.parametrize(("slide_mm", "turn_deg"), [(0.0, 0.0), (3.0, -2.0), (-2.5, 4.0)])
@pytest.mark.parametrize("radius_mm", [AIM.null_inner_mm, 90.0, AIM.null_outer_mm])
def test_the_cartridge_in_the_plan_view_is_turned_against_the_groove_by_its_yaw(
    slide_mm, turn_deg, radius_mm
):
    drawing = plan_view(AIM, radius_mm=radius_mm, slide_mm=slide_mm, turn_deg=turn_deg)
    length, offset = length_and_offset(AIM, Headshell(), slide_mm, turn_deg)
    wanted = float(yaw_deg(222.0, length, offset, radius_mm))
    (body,) = lines_of(drawing, LIGHT["signal"])
    root = ET.fromstring(svg_for_typesetter(drawing))
    spindle = next(
        np.array([float(node.get("cx")), float(node.get("cy"))])
        for node in root.iter("{http://www.w3.org/2000/svg}circle")
        if float(node.get("r")) > 30.0
    )
    outward = body[0] - spindle
    groove = np.array([[0.0, 0.0], [-outward[1], outward[0]]])
    assert clockwise_from_down(body) - clockwise_from_down(groove) == pytest.approx(wanted, abs=0.02)
    assert drawing.facts["yaw_deg"] == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize(("outer", "inner"), [(0.0, 0.0), (1.5, -0.8), (-6.0, 4.0), (10.0, 10.0)])
def test_the_plan_view_for_two_yaws_stands_at_these_yaws(outer, inner):
    for radius, wanted in ((AIM.null_outer_mm, outer), (AIM.null_inner_mm, inner)):
        drawing = plan_view_for_yaws(AIM, radius_mm=radius, yaw_outer_deg=outer, yaw_inner_deg=inner)
        assert drawing.facts["yaw_deg"] == pytest.approx(wanted, abs=1e-6)


def test_yaws_that_no_slide_and_turn_give_are_refused():
    with pytest.raises(CannotBeDoneError, match="no slide and turn"):
        plan_view_for_yaws(AIM, radius_mm=AIM.null_outer_mm, yaw_outer_deg=45.0, yaw_inner_deg=-45.0)


def test_a_radius_that_the_arm_does_not_reach_is_refused():
    with pytest.raises(CannotBeDoneError, match="does not reach"):
        plan_view(AIM, radius_mm=5.0)


@pytest.mark.parametrize(
    ("yaw", "words"), [(1.2, "points in by 1.2°"), (-0.4, "points out by 0.4°"), (0.02, "is square")]
)
def test_a_point_shows_the_yaw_enlarged_the_right_way_round_and_says_it(yaw, words):
    drawing = point_view("inner point", yaw_deg=yaw, yaw_sd_deg=0.3)
    assert words in drawing.description
    body = next(
        e for e in lines_of(drawing, LIGHT["signal"]) if np.ptp(e[:, 0]) > 1e-9 or abs(np.ptp(e[:, 1])) < 10.0
    )
    assert clockwise_from_down(body) == pytest.approx(TIMES * yaw, abs=0.05)
    if yaw > 0.1:
        assert body[1][0] < body[0][0], "in is towards the spindle, which the picture shows at the left"


def arrow_tip_is_lower(drawing):
    """Return whether the broad vertical arrow at the right points down, from its outline's widest row."""
    paths = re.findall(r'<path d="(M[^"]+)Z" fill="' + LIGHT["signal"], svg_for_typesetter(drawing))
    points = [np.array(re.findall(NUMBER, path), dtype=float).reshape(-1, 2) for path in paths]
    arrow = max(points, key=lambda outline: outline[:, 0].max())
    tip = arrow[np.argsort(np.abs(arrow[:, 0] - arrow[:, 0].mean()))[0]]
    return tip[1] > arrow[:, 1].mean()


def test_front_in_at_the_inner_point_means_slide_forward_and_front_out_means_back():
    """The sign check of the trade (common practice), forward being down, towards the cartridge's front."""
    assert "slide forward" in PICTURES["way-in"].title
    assert arrow_tip_is_lower(PICTURES["way-in"])
    assert "slide back" in PICTURES["way-out"].title
    assert not arrow_tip_is_lower(PICTURES["way-out"])


def test_a_move_is_said_and_drawn_the_same_way():
    assert move_lines(-1.26, 0.72) == ["Slide 1.3 mm back", "Turn the front 0.7° in"]
    assert move_lines(0.04, -0.04) == ["Leave it as it stands"]
    assert arrow_tip_is_lower(move_view(slide_mm=2.0, turn_deg=0.0))
    assert not arrow_tip_is_lower(move_view(slide_mm=-2.0, turn_deg=0.0))


def test_every_pin_has_its_colour_in_words_its_signal_and_its_letters():
    """White left signal, blue left return, red right signal, green right return: common practice."""
    texts = [box.text for box in PICTURES["pins"].texts]
    for color, meaning, letters in (
        ("white", "left signal", "L +"),
        ("blue", "left return", "L −"),
        ("red", "right signal", "R +"),
        ("green", "right return", "R −"),
    ):
        assert color in texts
        assert meaning in texts
        assert letters in texts
    assert any("read the letters on the cartridge" in text for text in texts)


def test_the_beam_tips_to_the_heavy_side_and_the_force_is_given_in_both_units():
    heavy = balance_view(force_gf=2.0, force_sd_gf=0.02, target_gf=1.8)
    light = balance_view(force_gf=1.6, force_sd_gf=0.02, target_gf=1.8)
    assert heavy.facts["tilt_deg"] > 0.0 > light.facts["tilt_deg"]
    assert "19.6 mN" in heavy.description, "2.0 gf x 9.80665 mN/gf (3rd CGPM, 1901)"


@pytest.mark.parametrize(
    ("length_off_mm", "angle_off_deg"), [(0.0, 0.0), (1.0, 0.0), (0.0, 0.8), (-1.5, 1.2)]
)
def test_the_error_from_two_yaws_is_that_of_the_whole_geometry(length_off_mm, angle_off_deg):
    length, angle = AIM.effective_length_mm + length_off_mm, AIM.offset_angle_deg + angle_off_deg
    outer, inner = (float(yaw_deg(222.0, length, angle, r)) for r in (AIM.null_outer_mm, AIM.null_inner_mm))
    radius = np.linspace(60.325, 146.05, 40)
    error, _ = error_from_yaws(AIM, radius, Reading(outer, 0.1), Reading(inner, 0.1))
    assert error == pytest.approx(yaw_deg(222.0, length, angle, radius), abs=0.02)


def test_the_band_of_the_error_covers_95_percent_of_simulated_readings():
    rng = np.random.default_rng(11)
    truth = alignment_for_nulls(222.0, AIM.null_inner_mm, AIM.null_outer_mm)
    radius = np.array([60.325, 90.0, 130.0, 146.05])
    draws = rng.normal(0.0, [0.3, 0.2], size=(4000, 2))
    exact = yaw_deg(222.0, truth.effective_length_mm, truth.offset_angle_deg, radius)
    hits = []
    for outer, inner in draws:
        error, sd = error_from_yaws(AIM, radius, Reading(outer, 0.3), Reading(inner, 0.2))
        hits.append(np.abs(error - exact) <= 1.96 * sd)
    assert np.mean(hits, axis=0) == pytest.approx(0.95, abs=0.02)
