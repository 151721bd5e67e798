"""Square: from the looks and moves so far to the next move over the sheet."""

from __future__ import annotations

import math

import numpy as np

from groovewright.geometry import Alignment, distortion_summary
from groovewright.geometry.headshell import Headshell, yaw_and_slopes
from groovewright.geometry.parallel import parallel_line_offset_mm
from groovewright.geometry.why import alignment_whys
from groovewright.job.aim import aim_words, aimed_alignment
from groovewright.job.events import Looked, Moved
from groovewright.job.records import Arm
from groovewright.job.stage import StageReport
from groovewright.job.state import JobState
from groovewright.mechanics.mounts import FIXED_HEADSHELLS, MOUNTS
from groovewright.quantities import Reading, mean_of, propagate
from groovewright.squaring import Goal, Hand, Look, Move, Room, Steps, Workpiece, advise, parse_yaw
from groovewright.squaring.policy import STOP_PROBABILITY
from groovewright.squaring.sentences import (
    advice_rows,
    advice_sentence,
    misfit_sentences,
    squaring_whys,
)

CAUTIONS = (
    "Stylus guard on while you handle the cartridge; off only when the stylus is to rest on the dot.",
    "Screws just loose enough that the cartridge can be moved; the platter held still.",
)


def square(state: JobState) -> StageReport:
    """Return the next move over the sheet, or what the arm allows where nothing can be squared."""
    arm = state.arm
    if arm is not None and arm.kind == "parallel":
        return _square_parallel(state)
    aimed = aimed_alignment(arm, state.aim) if arm is not None else None
    if arm is None or aimed is None:
        return StageReport("square", "waiting", "Waits for the arm's geometry (see intake).")
    if arm.headshell in FIXED_HEADSHELLS:
        return _fixed(state, arm, aimed)
    if arm.kind == "straight-underhung":
        return _square_underhung(state, arm, aimed)
    return _square_two_points(state, arm, aimed)


def _headshell(state: JobState, arm: Arm) -> Headshell:
    reach = state.cartridge_in.holes_to_stylus_mm if state.cartridge_in else Headshell.holes_to_stylus_mm
    return Headshell(arm.slot_angle_deg, reach)


def _square_two_points(state: JobState, arm: Arm, aimed: Alignment) -> StageReport:
    aim = state.aim
    hand = Hand(aim.slide_sd_mm, aim.turn_sd_deg)
    goal = Goal(aim.tolerance_deg, aim.reading_sd_deg, hand, aim.grooves)
    rows = _aim_rows(state, aimed)
    values = _aim_values(aimed)
    whys = tuple(alignment_whys(aimed, aim_words(aim), aim.grooves))
    if not state.squaring:
        sentence = (
            "Print the sheet, check its scale bars, and look at both points: square the cartridge at the outer "
            "point, read the inner one, and write both down."
        )
        return StageReport("square", "open", sentence, rows, CAUTIONS, whys=whys, values=values)
    room = Room(
        math.inf if arm.room_back_mm is None else arm.room_back_mm,
        math.inf if arm.room_forward_mm is None else arm.room_forward_mm,
    )
    work = Workpiece(aimed, _headshell(state, arm), arm.pivot_to_spindle_sd_mm, room)
    advice = advise(work, squaring_steps(state, hand), goal)
    return StageReport(
        "square",
        "done" if advice.verdict == "stop" else "open",
        advice_sentence(advice, goal),
        (*rows, *advice_rows(advice, goal)),
        () if advice.verdict == "stop" else CAUTIONS,
        tuple(misfit_sentences(advice)),
        (*whys, *squaring_whys(advice, goal)),
        {**values, **{key: value for key, value in vars(advice).items() if key != "misfits"}},
    )


def squaring_steps(state: JobState, hand: Hand) -> Steps:
    """Return the looks and moves of a job as the estimator takes them."""
    steps: list[Look | Move] = []
    for event in state.squaring:
        if isinstance(event, Moved):
            steps.append(Move(event.slide_mm, event.turn_deg, hand))
        else:
            steps.append(_look(event, state.aim.reading_sd_deg))
    return tuple(steps)


def _look(event: Looked, usual_sd_deg: float) -> Look:
    sd = usual_sd_deg if event.reading_sd_deg is None else event.reading_sd_deg
    outer, inner = (None if said is None else parse_yaw(said, sd) for said in (event.outer, event.inner))
    return Look(outer, inner)


def _aim_rows(state: JobState, aimed: Alignment) -> tuple[tuple[str, str], ...]:
    worst_deg, worst_percent, rms_percent = distortion_summary(aimed, state.aim.grooves)
    nulls = [null for null in (aimed.null_inner_mm, aimed.null_outer_mm) if math.isfinite(null)]
    return (
        ("aim", f"{aim_words(state.aim)}, grooves {state.aim.grooves.inner_mm:g} to "
         f"{state.aim.grooves.outer_mm:g} mm"),
        ("square at", " and ".join(f"{null:.2f}" for null in nulls) + " mm" if nulls else "no radius"),
        ("overhang", f"{aimed.overhang_mm:.2f} mm"),
        ("offset angle", f"{aimed.offset_angle_deg:.2f} deg"),
        ("tracking error", f"{worst_deg:.2f} deg at most"),
        ("distortion", f"{worst_percent:.2f} % at most, {rms_percent:.2f} % rms (10 cm/s peak)"),
    )  # fmt: skip


def _aim_values(aimed: Alignment) -> dict[str, float]:
    return {
        "aim_null_inner_mm": aimed.null_inner_mm,
        "aim_null_outer_mm": aimed.null_outer_mm,
        "aim_effective_length_mm": aimed.effective_length_mm,
        "aim_overhang_mm": aimed.overhang_mm,
        "aim_offset_angle_deg": aimed.offset_angle_deg,
    }


def _fixed(state: JobState, arm: Arm, aimed: Alignment) -> StageReport:
    """Return what a mounting that holds the cartridge fast really gives."""
    sentence = MOUNTS[arm.headshell].reasons["square"]
    return StageReport("square", "not-needed", sentence, _aim_rows(state, aimed), values=_aim_values(aimed))


def _yaw_since_move(steps: Steps, point: str) -> Reading | None:
    """Return the mean yaw at one point since the last move that touched the cartridge; None where not read."""
    readings: list[Reading] = []
    for step in steps:
        if isinstance(step, Look):
            seen = step.outer if point == "outer" else step.inner
            if seen is not None:
                readings.append(seen.as_reading())
        elif step.touched:
            readings.clear()
    return mean_of(readings) if readings else None


def _square_underhung(state: JobState, arm: Arm, aimed: Alignment) -> StageReport:
    """Return the slide for a straight arm: its one null lies where the record moves along the arm."""
    rows, values = _aim_rows(state, aimed), _aim_values(aimed)
    null = aimed.null_outer_mm
    hand = Hand(state.aim.slide_sd_mm, state.aim.turn_sd_deg)
    seen = _yaw_since_move(squaring_steps(state, hand), "outer")
    if seen is None:
        sentence = (
            f"Set the cartridge straight along the arm, with the stylus {-aimed.overhang_mm:.1f} mm short of the "
            f"spindle; then read its yaw at {null:.1f} mm and write it down as 'outer'."
        )
        return StageReport("square", "open", sentence, rows, CAUTIONS, values=values)
    _, slopes = yaw_and_slopes(aimed, _headshell(state, arm), np.zeros(3), null)
    per_slide = float(slopes[1])
    slide = Reading(-seen.value / per_slide, seen.sd / abs(per_slide))
    within = seen.probability_between(-state.aim.tolerance_deg, state.aim.tolerance_deg)
    rows = (
        *rows,
        ("yaw now", f"{seen.value:+.2f} deg +- {seen.sd:.2f} at {null:.1f} mm"),
        ("within now", f"{state.aim.tolerance_deg:g} deg at {within:.0%}"),
        ("slide", f"{slide.value:+.2f} mm +- {slide.sd:.2f}  (+ is forward)"),
    )
    values = {
        **values,
        "slide_mm": slide.value,
        "slide_sd_mm": slide.sd,
        "probability_within_tolerance": within,
    }
    if within >= STOP_PROBABILITY or abs(slide.value) < slide.sd:
        sentence = f"Stop: it is square at {null:.1f} mm, {within:.0%} sure to be within tolerance."
        return StageReport("square", "done", sentence, rows, values=values)
    way = "forward" if slide.value > 0 else "back"
    sentence = f"Slide it {abs(slide.value):.1f} mm {way}, keep it straight along the arm, and look again."
    return StageReport("square", "open", sentence, rows, CAUTIONS, values=values)


def _square_parallel(state: JobState) -> StageReport:
    """Return the shift and turn for an arm that travels along a line: one condition everywhere."""
    aim = state.aim
    radii = (aim.null_outer_mm or aim.grooves.outer_mm, aim.null_inner_mm or aim.grooves.inner_mm)
    steps = squaring_steps(state, Hand(aim.slide_sd_mm, aim.turn_sd_deg))
    outer, inner = (_yaw_since_move(steps, point) for point in ("outer", "inner"))
    if outer is None or inner is None:
        sentence = (
            f"This arm travels along a line: it is right everywhere or nowhere. Read the yaw at {radii[0]:g} mm and "
            f"at {radii[1]:g} mm and write both down."
        )
        return StageReport("square", "open", sentence, (), CAUTIONS)
    offset = propagate(lambda o, i: float(parallel_line_offset_mm(i, radii[1], o, radii[0])), outer, inner)
    turn = propagate(
        lambda o, i: -o - math.degrees(float(parallel_line_offset_mm(i, radii[1], o, radii[0])) / radii[0]),
        outer,
        inner,
    )
    within = outer.probability_between(-aim.tolerance_deg, aim.tolerance_deg) * inner.probability_between(
        -aim.tolerance_deg, aim.tolerance_deg
    )
    rows = (
        (
            "yaw now",
            f"outer {outer.value:+.2f} deg +- {outer.sd:.2f}, inner {inner.value:+.2f} +- {inner.sd:.2f}",
        ),
        ("line of travel", f"{offset.value:+.2f} mm +- {offset.sd:.2f} in front of the spindle's middle"),
        ("turn", f"{turn.value:+.2f} deg +- {turn.sd:.2f}  (+ is front in, clockwise)"),
        ("within now", f"{aim.tolerance_deg:g} deg at {within:.0%}"),
    )
    values = {
        "line_offset_mm": offset.value,
        "line_offset_sd_mm": offset.sd,
        "turn_deg": turn.value,
        "turn_sd_deg": turn.sd,
        "probability_within_tolerance": within,
    }
    if within >= STOP_PROBABILITY:
        sentence = f"Stop: it is square along its whole travel, {within:.0%} sure to be within tolerance."
        return StageReport("square", "done", sentence, rows, values=values)
    way = "back" if offset.value > 0 else "forward"
    turned = f" and turn the cartridge {abs(turn.value):.1f} deg {'in' if turn.value > 0 else 'out'}"
    sentence = (
        f"Move the stylus's line of travel {abs(offset.value):.1f} mm {way}"
        f"{turned if abs(turn.value) >= 0.05 else ''}; look again at both radii."
    )
    return StageReport("square", "open", sentence, rows, CAUTIONS, values=values)
