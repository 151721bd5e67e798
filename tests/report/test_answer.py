"""The answer to readings from a distance: events, sentence, drawing; the job stays as it is."""

import tomllib

import pytest

from groovewright.job import Looked, Moved, fold, log_from_toml, plan
from groovewright.quantities import CannotBeDoneError, InputError
from groovewright.report.answer import answer, answer_html, step_lines

ARM = "[arm]\nname = 'Fernhill F9'\npivot_to_spindle_mm = 222.0\n"


def test_the_first_readings_become_a_look_and_the_answer_is_that_of_the_job(job):
    log = job(ARM).log
    answered = answer(log, "Outer point: square. Inner point: out 1.2 degrees.")
    assert answered.events == (Looked("square", -1.2),)
    square = next(r for r in plan(fold((*log, *answered.events))).stages if r.stage == "square")
    assert answered.sentence.startswith("Slide it")
    assert f"{abs(square.values['slide_mm']):.1f} mm back" in answered.sentence
    assert f"Slide {abs(square.values['slide_mm']):.1f} mm back" in answered.drawing.description
    assert not answered.finished


def test_front_out_at_the_inner_point_means_back_and_front_in_means_forward(job):
    """The sign check of the trade, squared at the outer null (common practice)."""
    log = job(ARM).log
    assert " back" in answer(log, "outer square, inner out 2").drawing.description
    assert " forward" in answer(log, "outer square, inner in 2").drawing.description


def test_moved_as_told_adds_the_move_that_was_told(demo_job):
    told = next(r for r in demo_job.planned.stages if r.stage == "square").values
    answered = answer(demo_job.log, "Sheet 121 and 66. Outer: 0. Inner: 0.1 in. Moved as told: yes.")
    assert answered.events == (
        Moved(round(told["slide_mm"], 1), round(told["turn_deg"], 1)),
        Looked(0.0, 0.1),
    )
    assert answered.finished
    assert answered.sentence.startswith("Stop: it is square")


def test_not_moved_adds_that_nothing_was_touched(demo_job):
    answered = answer(demo_job.log, "not moved, outer square, inner in 0.5")
    assert answered.events[0] == Moved(0.0, 0.0)


def test_the_lines_for_the_job_file_are_read_back_as_the_same_events(demo_job):
    events = answer(demo_job.log, "outer slightly in, inner out 0.4, moved as told").events
    text = ARM + step_lines(events)
    assert tomllib.loads(text)["step"]
    assert log_from_toml(text.encode(), "job.toml")[1:] == events


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("Sheet 119 and 63. Outer square. Inner square. Not moved.", "119 and 63 mm"),
        ("outer square, inner square", "whether it was moved"),
        ("outer square, not moved", "inner point is missing"),
        ("inner square, not moved", "outer point is missing"),
        ("good morning", "neither"),
    ],
)
def test_readings_that_do_not_fit_the_job_are_refused(text, part, demo_job):
    with pytest.raises(InputError, match=part):
        answer(demo_job.log, text)


def test_an_arm_with_one_null_needs_one_reading(job):
    log = job("[arm]\nkind = 'straight-underhung'\npivot_to_spindle_mm = 222.0\n").log
    answered = answer(log, "outer point: in 1.5 degrees")
    assert answered.sentence.startswith("Slide it")
    assert "Slide" in answered.drawing.description


def test_an_arm_that_travels_along_a_line_is_answered_too(job):
    answered = answer(job("[arm]\nkind = 'parallel'\n").log, "outer in 2, inner in 2")
    assert "turn the cartridge 2.0° out" in answered.sentence
    assert "Turn the front 2.0° out" in answered.drawing.description


@pytest.mark.parametrize(
    "text", ["[job]\ntitle = 'x'\n", "[arm]\nheadshell = 'plug-in'\npivot_to_spindle_mm = 222.0\n"]
)
def test_where_nothing_is_squared_the_answer_says_so(text, job):
    with pytest.raises(CannotBeDoneError, match="nothing to square"):
        answer(job(text).log, "outer square, inner square")


def test_a_reading_that_does_not_fit_the_others_comes_with_a_warning(demo_job):
    answered = answer(demo_job.log, "not moved. outer out 4, inner in 6")
    assert any("does not fit the others" in warning for warning in answered.warnings)


def test_the_answer_as_html_stands_alone(demo_job, references):
    answered = answer(demo_job.log, "outer square, inner in 2, not moved")
    text = answer_html(answered, demo_job.state)
    assert references(text) == []
    assert answered.sentence in text
    assert "<svg" in text


@pytest.mark.parametrize("outer", ["in 45", "out 45", "far out", "0"])
@pytest.mark.parametrize("inner", ["in 45", "out 45", "far in", "square"])
@pytest.mark.parametrize("room", ["", "room_back_mm = 0.0\nroom_forward_mm = 0.0\n"], ids=["free", "no-room"])
def test_however_far_off_it_is_read_there_is_an_answer(outer, inner, room, job):
    answered = answer(job(ARM + room).log, f"outer {outer}. inner {inner}.")
    assert answered.sentence
    assert answered.events == (answered.events[0],)
