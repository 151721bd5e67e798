"""Going back begins a job that aims at what was found."""

from __future__ import annotations

import math

import pytest

from groovewright.geometry import align
from groovewright.job import Described, fold, plan
from groovewright.job.back import alignment_as_found, as_found_words, log_for_going_back
from groovewright.job.kept import Kept
from groovewright.job.records import Aim, Arm, Cartridge, Found, Job
from groovewright.quantities import LP, CannotBeDoneError

ARM = Described("arm", Arm("Fernhill F9", pivot_to_spindle_mm=222.0))
OUT = Described("cartridge_out", Cartridge("Oakmoss P1", force_min_gf=1.5, force_max_gf=2.5))
IN = Described("cartridge_in", Cartridge("Brightwater 5", force_min_gf=1.6, force_max_gf=2.0))


def yaw_deg(radius, length, offset_deg, distance=222.0):
    """The yaw by the law of cosines in the triangle of pivot, spindle and stylus, written out by itself."""
    at_stylus = math.acos((length**2 + radius**2 - distance**2) / (2.0 * length * radius))
    return offset_deg - (90.0 - math.degrees(at_stylus))


@pytest.mark.parametrize(("length", "offset_deg"), [(238.0, 22.0), (240.5, 23.9), (235.0, 20.5)])
def test_the_yaws_as_found_give_back_the_alignment_that_made_them(length, offset_deg):
    aimed = align("lofgren-a", 222.0, LP)
    was = alignment_as_found(
        aimed,
        yaw_outer_deg=yaw_deg(aimed.null_outer_mm, length, offset_deg),
        yaw_inner_deg=yaw_deg(aimed.null_inner_mm, length, offset_deg),
    )
    assert was.effective_length_mm == pytest.approx(length, abs=1e-6)
    assert was.offset_angle_deg == pytest.approx(offset_deg, abs=1e-6)
    for null in (was.null_inner_mm, was.null_outer_mm):
        assert yaw_deg(null, length, offset_deg) == pytest.approx(0.0, abs=1e-6)


def test_what_was_square_nowhere_is_no_aim():
    aimed = align("lofgren-a", 222.0, LP)
    assert alignment_as_found(aimed, yaw_outer_deg=-9.0, yaw_inner_deg=-9.0) is None
    assert alignment_as_found(aimed, yaw_outer_deg=80.0, yaw_inner_deg=-80.0) is None


def test_the_new_job_aims_at_the_nulls_and_the_force_as_found():
    aimed = align("lofgren-a", 222.0, LP)
    found = Found(
        force_gf=2.1,
        yaw_outer_deg=yaw_deg(aimed.null_outer_mm, 238.0, 22.0),
        yaw_inner_deg=yaw_deg(aimed.null_inner_mm, 238.0, 22.0),
    )
    log = (Described("job", Job(owner="A. Sample")), ARM, OUT, IN, Described("found", found))
    state = fold(log_for_going_back(log))
    assert (state.cartridge_in.name, state.cartridge_out.name) == ("Oakmoss P1", "Brightwater 5")
    assert state.cartridge_in.force_target_gf == 2.1
    assert state.job.owner == "A. Sample"
    for null in (state.aim.null_inner_mm, state.aim.null_outer_mm):
        assert yaw_deg(null, 238.0, 22.0) == pytest.approx(0.0, abs=0.01)  # nulls are kept to 0.01 mm
    assert plan(state).next_stage


def test_a_force_that_the_maker_does_not_allow_is_noted_and_not_aimed_at():
    state = fold(log_for_going_back((ARM, OUT, IN, Described("found", Found(force_gf=3.0)))))
    assert state.cartridge_in.force_target_gf is None
    assert "tracking force 3 ± 0.03 gf" in state.job.notes


def test_without_readings_the_aim_stays_and_the_notes_say_so():
    aim = Described("aim", Aim(criterion="stevenson"))
    state = fold(log_for_going_back((ARM, OUT, IN, aim, Described("kept", Kept("drawer 3")))))
    assert state.aim == aim.record
    assert state.job.notes == "It lies here: drawer 3. No settings were noted before it came off."
    assert as_found_words(None, None) == ""


def test_going_back_needs_to_know_what_came_off():
    with pytest.raises(CannotBeDoneError, match="which cartridge came off"):
        log_for_going_back((ARM, IN))
