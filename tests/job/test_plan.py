"""The plan: stages in order, one next move, and what each kind of arm is told about squaring."""

import numpy as np
import pytest

from groovewright.geometry import yaw_deg
from groovewright.job import Described, Looked, Moved, Undone, fold, plan
from groovewright.job.plan import STAGES
from groovewright.job.records import ARM_KINDS, HEADSHELLS, Aim, Arm, Cartridge
from groovewright.job.sheet import job_sheet
from groovewright.job.stages.square import square

STATUSES = ("done", "open", "waiting", "not-needed")
FIXED = {"effective_length_mm": 240.0, "offset_angle_deg": 23.0}


def arm_log(*steps, aim=None, **arm):
    return (Described("arm", Arm(**arm)), Described("aim", aim or Aim()), *steps)


def squaring(*steps, aim=None, **arm):
    return square(fold(arm_log(*steps, aim=aim, **arm)))


def test_stages_stand_in_the_order_of_the_work_and_the_first_open_one_is_next(demo_log):
    planned = plan(fold(demo_log))
    assert [report.stage for report in planned.stages] == list(STAGES)
    assert all(report.status in STATUSES for report in planned.stages)
    first = next(report for report in planned.stages if report.status == "open")
    assert (planned.next_stage, planned.next_move) == (first.stage, first.sentence)


def test_the_demo_has_squaring_next_with_one_move(demo_log):
    planned = plan(fold(demo_log))
    assert planned.next_stage == "square"
    assert planned.next_move.startswith("Slide it")


def test_at_every_point_of_the_demo_there_is_one_next_move(demo_log):
    for length in range(0, len(demo_log) + 1, 3):
        planned = plan(fold(demo_log[:length]))
        assert planned.next_move.endswith((".", "!"))
        assert all(report.sentence.endswith(".") for report in planned.stages)


def test_undo_takes_the_plan_back_to_what_it_was(demo_log):
    before = plan(fold(demo_log[:-1]))
    assert plan(fold((*demo_log, Undone()))).next_move == before.next_move
    assert plan(fold(demo_log)).next_move != before.next_move


def test_an_empty_log_asks_for_the_arm():
    planned = plan(fold(()))
    assert planned.next_stage == "intake"
    assert "arm" in planned.next_move


@pytest.mark.parametrize("kind", ARM_KINDS)
@pytest.mark.parametrize("headshell", HEADSHELLS)
def test_every_arm_is_told_something_sensible_at_every_point(kind, headshell):
    steps = (Looked(0.2, -1.0), Moved(-2.0, -1.0), Looked("square", "slightly-out"), Looked(None, 0.1))
    for known in ({}, {"pivot_to_spindle_mm": 222.0}, {"pivot_to_spindle_mm": 222.0, **FIXED}):
        for count in range(len(steps) + 1):
            report = squaring(*steps[:count], kind=kind, headshell=headshell, **known)
            assert report.status in STATUSES
            assert report.sentence.endswith(".")
            assert "nan" not in report.sentence
            assert not any(word in value.split() for word in ("nan", "inf") for _, value in report.rows)


@pytest.mark.parametrize("headshell", ["slotted", "bayonet"])
def test_an_arm_with_slots_is_squared_over_two_points(headshell):
    arm = {"kind": "pivoted", "headshell": headshell, "pivot_to_spindle_mm": 222.0}
    first = squaring(**arm)
    assert first.status == "open"
    assert "sheet" in first.sentence
    # common practice: square at the outer point, out at the inner one, so there is too much overhang
    after = squaring(Looked(0.0, -1.5), **arm)
    assert " back" in after.sentence
    assert after.values["slide_mm"] < -1.0
    good = squaring(*[Looked(0.0, 0.0)] * 4, **arm)
    assert good.status == "done"
    assert good.values["probability_within_tolerance"] >= 0.9


@pytest.mark.parametrize("headshell", ["fixed-holes", "plug-in", "moulded-in"])
def test_an_arm_that_holds_the_cartridge_fast_is_told_what_it_really_has(headshell):
    arm = {"kind": "pivoted", "headshell": headshell, "pivot_to_spindle_mm": 222.0, **FIXED}
    report = squaring(**arm)
    assert report.status == "not-needed"
    assert "holds the cartridge fast" in report.sentence
    nulls = [report.values["aim_null_inner_mm"], report.values["aim_null_outer_mm"]]
    assert np.abs(yaw_deg(222.0, 240.0, 23.0, np.array(nulls))) == pytest.approx([0.0, 0.0], abs=1e-9)
    assert report.values["aim_overhang_mm"] == pytest.approx(18.0)
    assert job_sheet(fold(arm_log(**arm))) is None


def test_a_straight_underhung_arm_has_one_null_and_is_set_short_of_the_spindle():
    arm = {"kind": "straight-underhung", "headshell": "slotted", "pivot_to_spindle_mm": 222.0}
    first = squaring(**arm)
    assert first.status == "open"
    assert first.values["aim_overhang_mm"] < -5.0
    null = first.values["aim_null_outer_mm"]
    # where the arm's line is square to the radius: L^2 + r^2 = d^2 (Pythagoras)
    assert null == pytest.approx((222.0**2 - first.values["aim_effective_length_mm"] ** 2) ** 0.5)
    assert "outer" in first.sentence
    # too far forward makes L^2 + r^2 - d^2 positive there, which is yaw below zero: slide back
    assert squaring(Looked(-1.0, None), **arm).values["slide_mm"] < 0.0
    assert squaring(Looked(1.0, None), **arm).values["slide_mm"] > 0.0
    assert squaring(*[Looked(0.0, None)] * 4, **arm).status == "done"


def test_a_parallel_arm_is_right_everywhere_or_nowhere():
    arm = {"kind": "parallel", "headshell": "slotted"}
    assert "everywhere or nowhere" in squaring(**arm).sentence
    # a turn alone shows the same yaw at both radii, and the line of travel is right
    turned = squaring(*[Looked(2.0, 2.0)] * 4, **arm).values
    assert turned["turn_deg"] == pytest.approx(-2.0, abs=0.01)
    assert turned["line_offset_mm"] == pytest.approx(0.0, abs=0.05)
    # a line of travel that misses the spindle by 1 mm: asin(1 mm / r), more at the inner radius
    missed = [float(np.degrees(np.arcsin(1.0 / radius))) for radius in (146.05, 60.325)]
    values = squaring(*[Looked(*missed)] * 4, **arm).values
    assert abs(values["line_offset_mm"]) == pytest.approx(1.0, abs=0.01)
    assert values["turn_deg"] == pytest.approx(0.0, abs=0.02)
    assert squaring(*[Looked(0.0, 0.0)] * 4, **arm).status == "done"


def test_given_nulls_and_the_criterion_decide_the_aim():
    given = squaring(aim=Aim(null_inner_mm=60.0, null_outer_mm=117.0), pivot_to_spindle_mm=222.0)
    # L^2 = d^2 + n1 n2 (Vieta)
    assert given.values["aim_effective_length_mm"] == pytest.approx((222.0**2 + 60.0 * 117.0) ** 0.5)
    # Stevenson 1966: the inner null is the innermost groove
    stevenson = squaring(aim=Aim("stevenson"), pivot_to_spindle_mm=222.0)
    assert stevenson.values["aim_null_inner_mm"] == pytest.approx(60.325)


def test_the_cartridge_decides_how_far_the_stylus_swings_with_a_turn():
    slides = []
    for reach in (6.0, 12.0):
        cartridge = Described("cartridge_in", Cartridge(holes_to_stylus_mm=reach))
        state = fold((*arm_log(Looked(6.0, 6.0), pivot_to_spindle_mm=222.0), cartridge))
        slides.append(square(state).values["slide_mm"])
    # a turn of 6 deg about holes 6 mm farther away swings the stylus 0.6 mm more across the arm, of which
    # the sine of the offset angle of 23 deg lies along it: a quarter of a millimetre (plane trigonometry)
    assert abs(slides[0] - slides[1]) == pytest.approx(0.25, abs=0.12)


def test_slots_that_end_are_told():
    free = squaring(Looked(0.0, -3.0), pivot_to_spindle_mm=222.0)
    short = squaring(Looked(0.0, -3.0), pivot_to_spindle_mm=222.0, room_back_mm=1.0, room_forward_mm=5.0)
    assert free.values["slide_mm"] < -4.0
    assert short.values["slide_mm"] == pytest.approx(-1.0)
    assert "best reachable" in short.sentence
