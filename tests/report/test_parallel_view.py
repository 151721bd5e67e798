"""Arms without two nulls: what is drawn stands as the geometry says."""

from __future__ import annotations

import math
import re

import pytest

from groovewright.geometry import alignment_for_mounting, yaw_deg
from groovewright.job import Described, Looked, fold, plan
from groovewright.job.records import Arm
from groovewright.quantities import CannotBeDoneError
from groovewright.report.handover import handover
from groovewright.report.handover_html import handover_html
from groovewright.report.parallel_view import parallel_view
from groovewright.report.picture import inline_svg
from groovewright.report.plan_view import plan_view
from groovewright.web.stage_page import stage_report, stage_view


def said(drawing):
    return inline_svg(drawing)


@pytest.mark.parametrize(("offset", "turn"), [(0.0, 0.0), (3.0, 0.0), (-2.0, 1.5), (0.0, -2.0)])
def test_the_yaw_that_is_said_is_that_of_the_line(offset, turn):
    # derivation in geometry/parallel.py: at radius r the groove is turned by asin(offset / r)
    wanted = turn - math.degrees(math.asin(offset / 146.05))
    text = said(parallel_view(line_offset_mm=offset, body_yaw_deg=turn))
    if abs(wanted) < 0.05:
        assert "At 146.1 mm the cartridge is square" in text or "At 146.0 mm the cartridge is square" in text
    else:
        way = "in" if wanted > 0 else "out"
        assert f"the cartridge points {way} by {abs(wanted):.1f}°" in text
    where = "in front of" if offset > 0 else "behind" if offset < 0 else "through"
    assert f"line of travel passes {'' if not offset else f'{abs(offset):.1f} mm '}{where}" in text
    assert ("belongs here" in text) == (offset != 0.0)


def test_a_line_far_beside_the_record_is_not_drawn():
    with pytest.raises(CannotBeDoneError, match="does not reach"):
        parallel_view(line_offset_mm=200.0)


def test_a_straight_arm_that_stops_short_of_the_spindle_is_square_at_one_radius():
    aim = alignment_for_mounting(222.0, 208.0, 0.0)
    null = math.sqrt(222.0**2 - 208.0**2)  # a right angle between arm and radius
    assert aim.null_outer_mm == pytest.approx(null, abs=1e-6)
    assert abs(float(yaw_deg(222.0, 208.0, 0.0, null))) < 1e-9
    text = said(plan_view(aim, radius_mm=aim.null_outer_mm))
    assert "the cartridge is square" in text
    assert f"square at {null:.1f} mm" in text
    assert not re.search(r">(outer|inner) [\d.]+ mm<", text)


@pytest.mark.parametrize(
    ("arm", "words"),
    [
        (Arm("Alder Straight", kind="straight-underhung", pivot_to_spindle_mm=222.0), "square at"),
        (Arm("Rail One", kind="parallel"), "line of travel"),
    ],
)
def test_every_arm_has_its_drawing_on_the_page_before_and_after_a_look(arm, words):
    for log in ((Described("arm", arm),), (Described("arm", arm), Looked(1.5, 3.0))):
        state = fold(log)
        for stage in ("intake", "square"):
            view = stage_view(state, stage_report(stage, state))
            assert len(view.drawings) == 1, stage
            assert words in str(view.drawings[0]), stage


@pytest.mark.parametrize("kind", ["straight-underhung", "parallel"])
def test_the_handover_paper_of_such_an_arm_has_its_drawing(kind):
    arm = Arm("Rail One", kind=kind, pivot_to_spindle_mm=None if kind == "parallel" else 222.0)
    state = fold((Described("arm", arm), Looked(0.1, 0.2)))
    text = handover_html(handover(state, plan(state)))
    assert ("line of travel" if kind == "parallel" else "square at") in text
