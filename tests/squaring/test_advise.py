"""The next move: its direction, its limits, and when to stop."""

import math

import numpy as np
import pytest

from groovewright.geometry import align, alignment_for_nulls, yaw_deg
from groovewright.geometry.headshell import Headshell, length_and_offset
from groovewright.quantities import InputError
from groovewright.squaring import Goal, Hand, Look, Move, Room, Workpiece, YawReading, advise, parse_yaw
from groovewright.squaring.sentences import advice_sentence

AIM = align("lofgren-a", 222.0)
EXACT = Goal(0.25, 0.001, Hand(0.0, 0.0))


def look(outer, inner, sd=0.001):
    return Look(YawReading(outer, outer, sd), YawReading(inner, inner, sd))


@pytest.mark.parametrize(("word", "way"), [("out", "back"), ("in", "forward")])
def test_square_outside_and_out_or_in_inside_slides_as_the_trade_says(word, way):
    # common practice in the trade: square at the outer null; at the inner one out: slide back, in: forward
    advice = advise(Workpiece(AIM), (Look(parse_yaw("square", 0.3), parse_yaw(word, 0.3)),), Goal())
    assert advice.verdict == "adjust"
    assert math.copysign(1.0, advice.slide_mm) == (1.0 if way == "forward" else -1.0)
    assert f"mm {way}" in advice_sentence(advice, Goal())


def test_the_move_makes_both_nulls_square():
    headshell = Headshell(6.0, 8.0)
    advice = advise(Workpiece(AIM, headshell, 0.0), (look(1.4, -0.6),), EXACT)
    # the state before the look is not given: take it from the estimate of the yaws, then move and recompute
    from groovewright.squaring import estimate

    state = estimate(Workpiece(AIM, headshell, 0.0), (look(1.4, -0.6),)).state
    length, offset = length_and_offset(AIM, headshell, state[1] + advice.slide_mm, state[2] + advice.turn_deg)
    for null in (AIM.null_inner_mm, AIM.null_outer_mm):
        assert float(yaw_deg(222.0, length, offset, null)) == pytest.approx(0.0, abs=1e-6)
    assert advice.predicted_outer_deg == pytest.approx(0.0, abs=1e-6)


def test_square_at_both_says_stop_and_shows_how_sure():
    advice = advise(Workpiece(AIM), (look(0.01, -0.02, 0.05),), Goal(0.25, 0.05))
    assert (advice.verdict, advice.reason) == ("stop", "within-tolerance")
    assert advice.probability_within_tolerance > 0.99
    assert advice.within_at_90_percent_deg < 0.15


def test_plain_errors_within_tolerance_are_still_put_right():
    advice = advise(Workpiece(AIM), (look(0.2, -0.1),), EXACT)
    assert (advice.verdict, advice.reason) == ("adjust", "plain-to-see")


def test_after_a_move_nobody_has_looked_at_it_asks_for_a_look():
    steps = (look(0.5, -0.5, 0.1), Move(-1.0, -0.5))
    advice = advise(Workpiece(AIM), steps, Goal(5.0, 0.1))
    assert (advice.verdict, advice.reason) == ("look-again", "unseen-move")


def test_readings_too_coarse_for_the_tolerance_end_with_what_can_be_said():
    goal = Goal(0.02, 0.3)
    advice = advise(Workpiece(AIM), (look(0.05, -0.05, 0.3),), goal)
    assert (advice.verdict, advice.reason) == ("stop", "limit-of-reading")
    assert "90 % sure" in advice_sentence(advice, goal)


def test_a_slot_that_ends_gives_the_best_turn_and_the_nulls_it_really_has():
    work = Workpiece(AIM, room=Room(back_mm=1.0, forward_mm=5.0))
    advice = advise(work, (look(0.0, -2.0),), EXACT)
    free = advise(Workpiece(AIM), (look(0.0, -2.0),), EXACT)
    assert free.slide_mm < -2.0
    assert advice.slide_mm == pytest.approx(-1.0)
    assert not advice.reachable
    assert "slots end" in advice_sentence(advice, EXACT)
    # the nulls that are named are zeros of the yaw of the cartridge after the move
    from groovewright.squaring import estimate

    state = estimate(work, (look(0.0, -2.0),)).state
    length, offset = length_and_offset(
        AIM, Headshell(), state[1] + advice.slide_mm, state[2] + advice.turn_deg
    )
    for null in (advice.null_inner_mm, advice.null_outer_mm):
        assert float(yaw_deg(222.0 + state[0], length, offset, null)) == pytest.approx(0.0, abs=1e-6)


def test_room_is_counted_from_where_the_cartridge_stood_first():
    work = Workpiece(AIM, room=Room(back_mm=1.5, forward_mm=5.0))
    advice = advise(work, (look(0.0, -2.0), Move(-1.0, 0.5), look(0.1, -1.2)), EXACT)
    assert advice.slide_mm == pytest.approx(-0.5)


def test_at_the_end_of_the_slot_it_stops():
    work = Workpiece(AIM, room=Room(back_mm=1.0, forward_mm=5.0))
    first = advise(work, (look(0.0, -2.0),), EXACT)
    steps = (
        look(0.0, -2.0),
        Move(first.slide_mm, first.turn_deg, Hand(0.0, 0.0)),
        look(first.predicted_outer_deg, first.predicted_inner_deg),
    )
    advice = advise(work, steps, EXACT)
    assert (advice.verdict, advice.reason) == ("stop", "slot-end")


def test_words_are_not_looked_at_twice():
    steps = (Look(parse_yaw("in", 0.3), parse_yaw("in", 0.3)),)
    assert advise(Workpiece(AIM), steps, Goal()).verdict == "adjust"


@pytest.mark.parametrize("null_gap", [0.0, 10.0])
def test_nulls_too_close_together_are_refused(null_gap):
    with pytest.raises(InputError, match="apart"):
        Workpiece(alignment_for_nulls(222.0, 90.0, 90.0 + null_gap))


@pytest.mark.parametrize(
    ("said", "hint"), [("squar", "square"), ("outt", "out"), ("500", "allowed"), ("", "neither")]
)
def test_a_yaw_that_is_neither_degrees_nor_a_word_is_named(said, hint):
    with pytest.raises(InputError, match=hint):
        parse_yaw(said, 0.3, "round 1")


def test_far_ends_of_arms_and_readings_stay_finite():
    for distance in (150.0, 222.0, 305.0, 450.0):
        aim = align("lofgren-a", distance)
        for outer, inner in ((12.0, -12.0), (-12.0, 12.0), (12.0, 12.0), (0.0, 0.0)):
            advice = advise(Workpiece(aim), (look(outer, inner, 0.3),), Goal())
            assert np.isfinite([advice.slide_mm, advice.turn_deg, advice.slide_sd_mm]).all()


def test_readings_that_no_slot_allows_ask_for_another_look():
    advice = advise(Workpiece(AIM), (look(40.0, -40.0, 0.3),), Goal())
    assert (advice.verdict, advice.reason) == ("look-again", "not-believable")
    assert "which side" in advice_sentence(advice, Goal())
